package lane

import (
	"fmt"
	"image/color"

	"github.com/boombuler/barcode/code128"

	"padjig/cmd/padjig/web/page"
)

// codes is a sheet of barcodes to be printed: every action at a lane
// without a hand on the screen.
func codes(v *page.Visit) (any, error) {
	var out codesView
	for _, command := range commands {
		code, err := barcode(CommandPrefix + command)
		if err != nil {
			return nil, err
		}
		code.Say = v.Say("command." + command)
		out.Codes = append(out.Codes, code)
	}
	return out, nil
}

type codesView struct {
	Codes []codeView `json:"codes"`
}

// codeView is a barcode as bars of a drawing one unit high; a module is one
// wide.
type codeView struct {
	Text string `json:"text"`
	Say  string `json:"say"`
	Wide int    `json:"-"`
	Bars []bar  `json:"-"`
}

type bar struct{ X, W int }

// quiet is the white to either side that Code 128 asks for, in modules
// (ISO/IEC 15417, from memory).
const quiet = 10

// barcode draws a text as Code 128.
func barcode(text string) (codeView, error) {
	drawn, err := code128.Encode(text)
	if err != nil {
		return codeView{}, fmt.Errorf("barcode of %q: %w", text, err)
	}
	wide := drawn.Bounds().Dx()
	out := codeView{Text: text, Wide: wide + 2*quiet}
	for x := 0; x < wide; x++ {
		from := x
		for x < wide && isBlack(drawn.At(x, 0)) {
			x++
		}
		if x > from {
			out.Bars = append(out.Bars, bar{from + quiet, x - from})
		}
	}
	return out, nil
}

func isBlack(c color.Color) bool {
	r, _, _, _ := c.RGBA()
	return r < 0x8000
}
