package jigs

import (
	"fmt"
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/care"
)

// windowView is a time in which the jig was not known to be good.
type windowView struct {
	Number  int        `json:"number"`
	Open    bool       `json:"open"`
	Since   *time.Time `json:"since"` // the last good verification before; none for the beginning
	Until   *time.Time `json:"until"` // the one that ended it
	Failed  []string   `json:"failed"`
	Tested  int        `json:"tested"`
	Shipped int        `json:"shipped"`
	Cleared int        `json:"cleared"`
	Lots    string     `json:"lots"`
	Left    []unitView `json:"left"` // shipped, the nearest to its limit first
	Here    []unitView `json:"here"` // all others
	More    int        `json:"more"` // that are not listed
}

type unitView struct {
	Serial  string `json:"serial"`
	Outcome string `json:"outcome"`
	Key     string `json:"key"`
	Margin  string `json:"margin"` // in percent of the limit, corrected
	Where   string `json:"where"`
	Lots    string `json:"lots"`
	Cleared bool   `json:"cleared"`
}

// mostUnits are listed of a window on the page; the command lists all.
const mostUnits = 40

// windows are those in which units may have been misjudged: every one that a failed
// verification made, and the open one.
func (p *pages) windows(v *page.Visit, jig station.JigState) ([]windowView, error) {
	all, err := p.store.Care.Suspects(v.Ctx(), jig.Serial, jig.Simulated)
	out := []windowView{}
	for _, w := range all {
		if len(w.Units) > 0 || len(w.Failed) > 0 {
			out = append(out, windowOf(v.Words, w))
		}
	}
	return out, err
}

func windowOf(words page.Words, w care.Window) windowView {
	at := func(c *care.StoredCalibration) *time.Time {
		if c == nil {
			return nil
		}
		return &c.Performed
	}
	out := windowView{Number: w.Number, Open: w.Open(), Since: at(w.Since), Until: at(w.Until), Failed: []string{},
		Tested: len(w.Units), Shipped: w.Shipped(), Cleared: w.Cleared(), Left: []unitView{}, Here: []unitView{}}
	for _, f := range w.Failed {
		out.Failed = append(out.Failed, f.Reason)
	}
	var lots []string
	for _, l := range w.Lots() {
		lots = append(lots, fmt.Sprintf("%s %s: %d", words.Say("ask.material."+l.Material), l.Lot, l.Units))
	}
	out.Lots = strings.Join(lots, ", ")
	for _, u := range w.Units {
		list := &out.Here
		if u.Left() {
			list = &out.Left
		}
		if len(*list) == mostUnits {
			out.More++
			continue
		}
		*list = append(*list, unitOf(words, u))
	}
	return out
}

func unitOf(words page.Words, u care.Suspect) unitView {
	out := unitView{Serial: u.Serial, Outcome: words.Say("outcome." + string(u.Outcome)), Key: u.Key, Margin: "–", Where: "–", Lots: u.Lots.String(),
		Cleared: u.Cleared != nil}
	if u.Key != "" {
		out.Margin = words.Num(1, 100*u.OfLimit())
	}
	if s := u.Shipment; s != nil {
		out.Where = strings.TrimSpace(words.Say("jig.suspects."+s.Where()) + " " + words.Date(s.At) + " " + s.Consignee)
	}
	return out
}
