// Package pad draws a product's keypad, for the pages that show one.
package pad

import (
	"fmt"
	"math"
	"slices"

	"padjig/results/report"
	"padjig/sequence"
	"padjig/sequence/product"
)

// View is a keypad as it looks, with a mark on each key. Places are in
// hundredths of a key's pitch.
type View struct {
	X, Y, W, H float64
	Say        string `json:"say"` // for those who do not see it
	Keys       []Key  `json:"keys"`
	Simulated  bool   `json:"simulated"`
}

// Key is a key of the drawing.
type Key struct {
	N          int     `json:"n"`
	Label      string  `json:"label"`
	Class      string  `json:"class"` // "wait", "good", "bad"
	Mark       string  `json:"mark"`  // beneath the label: what was read, or the number of the finding
	X, Y, W, H float64 `json:"-"`
	Size       float64 `json:"-"` // of the label
	Long       bool    `json:"-"` // the label must be squeezed into the key
}

const pitch = 100

// Draw draws a product's pad; mark gives class and mark of each key.
func Draw(p *product.Product, mark func(k int) (class, mark string)) View {
	v := View{X: math.Inf(1), Y: math.Inf(1)}
	right, bottom := math.Inf(-1), math.Inf(-1)
	for k, key := range p.Keys {
		class, text := mark(k)
		kv := Key{
			N: k, Label: key.Label, Class: class, Mark: text,
			X: key.X*pitch + 4, Y: key.Y*pitch + 4, W: key.W*pitch - 8, H: key.H*pitch - 8,
		}
		kv.Size, kv.Long = labelSize(key.Label, kv.W)
		v.Keys = append(v.Keys, kv)
		v.X, v.Y = min(v.X, key.X*pitch), min(v.Y, key.Y*pitch)
		right, bottom = max(right, (key.X+key.W)*pitch), max(bottom, (key.Y+key.H)*pitch)
	}
	const edge = 12
	v.X, v.Y, v.W, v.H = v.X-edge, v.Y-edge, right-v.X+2*edge, bottom-v.Y+2*edge
	return v
}

// labelSize fits a label into a key of some width.
func labelSize(label string, wide float64) (size float64, long bool) {
	letters := float64(len([]rune(label)))
	size = min(38, 1.28*(wide-10)/max(letters, 1))
	return max(size, 15), letters*15*0.72 > wide
}

// MidX, MidY, MarkY and Box are places the template needs.
func (k Key) MidX() float64    { return k.X + k.W/2 }
func (k Key) LabelY() float64  { return k.Y + k.H*0.46 }
func (k Key) MarkY() float64   { return k.Y + k.H*0.82 }
func (k Key) InnerW() float64  { return k.W - 10 }
func (k Key) CrossX1() float64 { return k.X + k.W - 26 }
func (k Key) CrossX2() float64 { return k.X + k.W - 8 }
func (k Key) CrossY1() float64 { return k.Y + 8 }
func (k Key) CrossY2() float64 { return k.Y + 26 }

// Box is the drawing's view box.
func (v View) Box() string { return fmt.Sprintf("%g %g %g %g", v.X-2, v.Y-2, v.W+4, v.H+4) }

// Flat reports whether the pad is much wider than it is high.
func (v View) Flat() bool { return v.W > 1.6*v.H }

// ClassOf is how a key looks for its verdict.
func ClassOf(verdict sequence.Verdict) string {
	switch verdict {
	case sequence.KeyPass:
		return "good"
	case sequence.KeyFail:
		return "bad"
	}
	return "wait"
}

// ShortOhms writes a resistance so that it fits on a key.
func ShortOhms(lang string, k sequence.KeyResult) string {
	switch {
	case k.Closed == nil:
		return ""
	case k.Closed.AtLeast || math.IsInf(float64(k.Closed.Value), 0):
		return "∞"
	}
	v := float64(k.Closed.Value)
	switch {
	case v >= 1e6:
		return report.Number(lang, 1, v/1e6) + " MΩ"
	case v >= 1e3:
		return report.Number(lang, 1, v/1e3) + " kΩ"
	}
	return report.Number(lang, 0, v) + " Ω"
}

// FindingOf is the number of the finding that a key failed for, from 1: its
// own, or one about a line of it; 0 for none.
func FindingOf(findings []sequence.Finding, key sequence.KeyResult) int {
	for i, f := range findings {
		if f.Key == key.Key {
			return i + 1
		}
	}
	for i, f := range findings {
		if f.Key == "" && (slices.Contains(f.Lines, key.Lines[0]) || slices.Contains(f.Lines, key.Lines[1])) {
			return i + 1
		}
	}
	return 0
}
