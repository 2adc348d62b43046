// Package barcode draws texts as Code 128, for whatever is printed to be scanned.
package barcode

import (
	"fmt"
	"html/template"
	"image/color"
	"strings"

	"github.com/boombuler/barcode/code128"
)

// Code is a barcode as bars of a drawing one unit high; a module is one wide.
type Code struct {
	Text string
	wide int
	bars []bar
}

type bar struct{ x, w int }

// quiet is the white to either side that Code 128 asks for, in modules
// (ISO/IEC 15417, from memory).
const quiet = 10

// Of draws a text.
func Of(text string) (Code, error) {
	drawn, err := code128.Encode(text)
	if err != nil {
		return Code{}, fmt.Errorf("barcode of %q: %w", text, err)
	}
	wide := drawn.Bounds().Dx()
	out := Code{Text: text, wide: wide + 2*quiet}
	for x := 0; x < wide; x++ {
		from := x
		for x < wide && isBlack(drawn.At(x, 0)) {
			x++
		}
		if x > from {
			out.bars = append(out.bars, bar{from + quiet, x - from})
		}
	}
	return out, nil
}

func isBlack(c color.Color) bool {
	r, _, _, _ := c.RGBA()
	return r < 0x8000
}

// SVG is the drawing, as wide as there is room and at most so many millimetres a
// module; label is read aloud.
func (c Code) SVG(label string, module float64) template.HTML {
	var out strings.Builder
	fmt.Fprintf(&out, `<svg class="barcode" viewBox="0 0 %d 1" width="%.1fmm" preserveAspectRatio="none" role="img" aria-label="%s" shape-rendering="crispEdges">`,
		c.wide, module*float64(c.wide), template.HTMLEscapeString(label))
	for _, b := range c.bars {
		fmt.Fprintf(&out, `<rect x="%d" y="0" width="%d" height="1"/>`, b.x, b.w)
	}
	out.WriteString("</svg>")
	return template.HTML(out.String())
}

// Modules is how wide the code is, with the white beside it.
func (c Code) Modules() int { return c.wide }
