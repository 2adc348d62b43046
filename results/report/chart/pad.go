package chart

import (
	"html/template"
	"math"
)

// Pad is the keypad as it looks, each key with its value and shaded by it.
type Pad struct {
	Frame
	Keys []PadKey
	// Most is the value of the darkest shade; 0: the largest of the keys.
	Most float64
	// Scale says what the shades mean, least and most.
	Scale [2]string
}

// PadKey is a key at its place on the drawing, in key pitches.
type PadKey struct {
	Label      string
	X, Y, W, H float64
	Value      float64 // NaN: nothing known, drawn hatched
	Text       string  // beneath the label
	Tip        string
	Chosen     bool
}

// shades is how many steps the shading has; more cannot be told apart.
const shades = 6

// SVG draws the pad as large as its width allows; the height follows.
func (c Pad) SVG() template.HTML {
	left0, top0, wide, high := c.extent()
	s := &sheet{Frame: c.Frame}
	head := 8.0
	if !c.Quiet && c.Title != "" {
		s.text("heading", 2, 14, left, c.Title)
		head = edgeTop
	}
	pitch := min((c.Width-4)/wide, 78)
	tall := min(pitch, 54.0)
	s.Height = head + tall*high + 34
	s.hatch("unknown")
	most := c.most()
	x0 := (c.Width - pitch*wide) / 2
	for _, k := range c.Keys {
		x, y := x0+(k.X-left0)*pitch, head+(k.Y-top0)*tall
		s.key(k, most, x+1.5, y+1.5, k.W*pitch-3, k.H*tall-3)
	}
	c.legend(s, head+tall*high+10)
	return s.finish("pad")
}

func (c Pad) extent() (left, top, wide, high float64) {
	left, top = math.Inf(1), math.Inf(1)
	right, bottom := math.Inf(-1), math.Inf(-1)
	for _, k := range c.Keys {
		left, top = min(left, k.X), min(top, k.Y)
		right, bottom = max(right, k.X+k.W), max(bottom, k.Y+k.H)
	}
	if len(c.Keys) == 0 {
		return 0, 0, 1, 0
	}
	return left, top, right - left, bottom - top
}

func (c Pad) most() float64 {
	most := c.Most
	if most == 0 {
		for _, k := range c.Keys {
			if k.Value > most {
				most = k.Value
			}
		}
	}
	return most
}

// shade is 0 for nothing at all, then 1 to shades.
func shade(v, most float64) int {
	if !(v > 0) || !(most > 0) {
		return 0
	}
	return min(shades, 1+int(float64(shades)*v/most*(1-1e-9)))
}

func (s *sheet) key(k PadKey, most, x, y, w, h float64) {
	step := shade(k.Value, most)
	name := "h" + string(rune('0'+step))
	class := "cap " + name
	if k.Chosen {
		class += " chosen"
	}
	if math.IsNaN(k.Value) {
		s.hatched("unknown", x, y, w, h, k.Tip)
		class, name = "cap none", "none"
	}
	s.box(class, x, y, w, h, k.Tip)
	mid := y + h/2 + 4
	if k.Text == "" {
		s.text("key "+name, x+w/2, mid, middle, fit(k.Label, w-2))
		return
	}
	if h < 30 {
		s.text("key "+name, x+w/2, mid, middle, fit(k.Text, w-1))
		return
	}
	s.text("key "+name, x+w/2, mid-7, middle, fit(k.Label, w-2))
	s.text("count "+name, x+w/2, mid+8, middle, fit(k.Text, w+4))
}

// legend shows the shades from none to most.
func (c Pad) legend(s *sheet, y float64) {
	const step = 22.0
	x := (c.Width-step*(shades+1))/2 + 0.5
	s.text("value", x-6, y+11, right, c.Scale[0])
	for i := 0; i <= shades; i++ {
		s.box("cap h"+string(rune('0'+i)), x+step*float64(i), y, step-1, 14, "")
	}
	s.text("value", x+step*(shades+1)+6, y+11, left, c.Scale[1])
}
