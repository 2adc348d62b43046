// Package pad shows a keypad on a page: the drawing, and its keys as a page's
// script changes them.
package pad

import (
	"html/template"
	"math"

	"padjig/results/report"
	"padjig/results/report/pad"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// View is a keypad as a page shows it.
type View struct {
	drawn     pad.Pad
	Say       string `json:"say"` // for those who do not see it
	Keys      []Key  `json:"keys"`
	Simulated bool   `json:"simulated"`
}

// Key is a key of the drawing.
type Key struct {
	N     int    `json:"n"`
	Label string `json:"label"`
	Class string `json:"class"` // "wait", "good", "bad"
	Mark  string `json:"mark"`  // beneath the label: what was read
	No    int    `json:"no"`    // number of the finding, 0 for none
}

// Show shows a pad whose description is say.
func Show(p pad.Pad, say string) View {
	p.Desc = say
	v := View{drawn: p, Say: say}
	for n, k := range p.Keys {
		v.Keys = append(v.Keys, Key{n, k.Label, k.State.Class(), k.Now, k.Defect})
	}
	return v
}

// Live is the drawing.
func (v View) Live() template.HTML { return v.drawn.Live() }

// OfRun is the pad with what a run found: beneath each key what was read, and the
// lines that something is wrong with.
func OfRun(lang wording.Words, p *product.Product, keys []sequence.KeyResult, findings []sequence.Finding) pad.Pad {
	drawn := pad.OfRun(p.Keys, keys, findings)
	drawn.Lined = true
	for i := range drawn.Keys {
		if k := &drawn.Keys[i]; k.State == pad.Passed || k.State == pad.Failed {
			k.Now = ShortOhms(lang, keys[i])
		}
	}
	return drawn
}

// ShortOhms writes a resistance so that it fits on a key.
func ShortOhms(lang wording.Words, k sequence.KeyResult) string {
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
