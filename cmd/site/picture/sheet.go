// Package picture draws the pictures of the docs from what they show: a product, the stages of a case, the tables of the
// records. Each is SVG that goes with light and dark pages, with a title and a description for who does not see it.
package picture

import (
	"bytes"
	"fmt"
	"html"
)

// sheet is a drawing that is being made.
type sheet struct {
	wide, high   float64
	title, about string
	body         bytes.Buffer
}

// The classes: frames (b), what stands out (m), lines (w), thin lines (z), text (t), names (h), notes (n), on what stands out (o).
const style = `
.b{fill:#fbfaf5;stroke:#7d8780;stroke-width:1.2}.m{fill:#0d5142;stroke:#0d5142}.w{stroke:#14201d;stroke-width:1.6;fill:none}
.z{stroke:#7d8780;stroke-width:1.2;fill:none}.d{fill:#14201d}
text{font-family:"Noto Sans","DejaVu Sans",system-ui,sans-serif;font-size:13px;fill:#14201d}
.h{font-weight:600}.n{font-size:11.5px;fill:#47534f}.o{fill:#fff;font-weight:600}
@media (prefers-color-scheme:dark){.b{fill:#192226;stroke:#8c9c97}.m{fill:#86d5bd;stroke:#86d5bd}.w{stroke:#e9efec}.z{stroke:#8c9c97}
.d{fill:#e9efec}text{fill:#e9efec}.n{fill:#aebbb6}.o{fill:#06231b}}
`

func (s *sheet) svg() []byte {
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" width="%g" height="%g" role="img" aria-labelledby="t d">`+"\n",
		s.wide, s.high, s.wide, s.high)
	fmt.Fprintf(&out, "<title id=\"t\">%s</title>\n<desc id=\"d\">%s</desc>\n<style>%s</style>\n", html.EscapeString(s.title),
		html.EscapeString(s.about), style)
	out.Write(s.body.Bytes())
	out.WriteString("</svg>\n")
	return out.Bytes()
}

func (s *sheet) put(format string, args ...any) { fmt.Fprintf(&s.body, format+"\n", args...) }

const (
	left   = "start"
	middle = "middle"
	right  = "end"
)

func (s *sheet) text(class, anchor string, x, y float64, text string) {
	s.put(`<text class="%s" text-anchor="%s" x="%g" y="%g">%s</text>`, class, anchor, x, y, html.EscapeString(text))
}

// box has a name and lines of notes in its middle.
func (s *sheet) box(class string, x, y, wide, high float64, name string, notes ...string) {
	s.put(`<rect class="%s" x="%g" y="%g" width="%g" height="%g" rx="5"/>`, class, x, y, wide, high)
	of := map[string][2]string{"b": {"h", "n"}, "m": {"o", "o"}}[class]
	top := y + high/2 - float64(len(notes))*8 + 4.5
	s.text(of[0], middle, x+wide/2, top, name)
	for i, n := range notes {
		s.text(of[1], middle, x+wide/2, top+float64(i+1)*16, n)
	}
}

func (s *sheet) line(class string, points ...float64) {
	s.put(`<polyline class="%s" points="%s"/>`, class, trim(fmt.Sprint(points)))
}

func trim(list string) string { return list[1 : len(list)-1] }

// arrow is a level or upright line with a head at its end.
func (s *sheet) arrow(x1, y1, x2, y2 float64) {
	s.line("w", x1, y1, x2, y2)
	dx, dy := sign(x2-x1), sign(y2-y1)
	s.put(`<polygon class="d" points="%g,%g %g,%g %g,%g"/>`, x2, y2, x2-8*dx-4*dy, y2-8*dy-4*dx, x2-8*dx+4*dy, y2-8*dy+4*dx)
}

func sign(v float64) float64 {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}
