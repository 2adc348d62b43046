package web

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results/report/pad"
	"padjig/sequence"
	"padjig/sequence/product"
)

// padView is a keypad as a page shows it.
type padView struct {
	drawn     pad.Pad
	Say       string    `json:"say"` // for those who do not see it
	Keys      []keyView `json:"keys"`
	Simulated bool      `json:"simulated"`
}

// keyView is a key of the drawing.
type keyView struct {
	N     int    `json:"n"`
	Label string `json:"label"`
	Class string `json:"class"` // "wait", "good", "bad"
	Mark  string `json:"mark"`  // beneath the label: what was read, or the number of the finding
}

// showPad shows a pad whose description is say.
func showPad(p pad.Pad, say string) padView {
	p.Desc = say
	v := padView{drawn: p, Say: say}
	for n, k := range p.Keys {
		v.Keys = append(v.Keys, keyView{n, k.Label, k.State.Class(), k.Now})
	}
	return v
}

// Live is the drawing.
func (v padView) Live() template.HTML { return v.drawn.Live() }

// padOf is the pad with what a run found: beneath each key what was read, or
// the number of its finding where there are several.
func (v *visit) padOf(p *product.Product, keys []sequence.KeyResult, findings []sequence.Finding) pad.Pad {
	drawn := pad.OfRun(p.Keys, keys, findings)
	for i := range drawn.Keys {
		switch k := &drawn.Keys[i]; {
		case k.State != pad.Passed && k.State != pad.Failed: // nothing is said of it yet
		case k.Defect > 0 && len(findings) > 1:
			k.Now = fmt.Sprint(k.Defect)
		default:
			k.Now = shortOhms(v.Lang, keys[i])
		}
	}
	return drawn
}

// sayPad counts what the pad shows.
func (v *visit) sayPad(p *product.Product, drawn pad.Pad) string {
	return v.say("pad.say", p.Code, drawn.Count(pad.Passed), drawn.Count(pad.Failed), len(p.Keys))
}

// shortOhms writes a resistance so that it fits on a key.
func shortOhms(lang string, k sequence.KeyResult) string {
	switch {
	case k.Closed == nil:
		return ""
	case k.Closed.AtLeast || math.IsInf(float64(k.Closed.Value), 0):
		return "∞"
	}
	v := float64(k.Closed.Value)
	switch {
	case v >= 1e6:
		return number(lang, 1, v/1e6) + " MΩ"
	case v >= 1e3:
		return number(lang, 1, v/1e3) + " kΩ"
	}
	return number(lang, 0, v) + " Ω"
}
