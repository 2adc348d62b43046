package web

import (
	"time"

	"padjig/cmd/padjig/bench"
	"padjig/results/care"
	"padjig/sequence"
)

// jigsPage lists the jigs of the station and how they stand.
var jigsPage = page{path: "/jigs", name: "jigs", menu: "menu.jigs", who: fixtures, view: func(v *visit) (any, error) {
	out := jigsView{Jigs: []jigRow{}}
	for i, lane := range v.site.Lanes {
		row, err := v.jigRow(i+1, lane.State())
		if err != nil {
			return nil, err
		}
		out.Jigs = append(out.Jigs, row)
	}
	return out, nil
}}

type jigsView struct {
	Jigs []jigRow `json:"jigs"`
}

// jigRow is a jig in one line.
type jigRow struct {
	Lane       int             `json:"lane"`
	Serial     string          `json:"serial"`
	Model      string          `json:"model"`
	Firmware   string          `json:"firmware"`
	Port       string          `json:"port"`
	Product    string          `json:"product"`
	Simulated  bool            `json:"simulated"`
	Present    bool            `json:"present"`
	Zero       dueView         `json:"zero"`
	Verify     dueView         `json:"verify"`
	Conditions []conditionView `json:"conditions"`
}

// dueView is how a jig stands with one kind of calibration.
type dueView struct {
	Standing string    `json:"standing"`
	Say      string    `json:"say"`
	Due      time.Time `json:"due"` // zero for never
}

func (v *visit) jigRow(n int, s bench.State) (jigRow, error) {
	due, err := v.site.Store.Care.DueState(v.r.Context(), s.Jig.Serial, s.Jig.Simulated, time.Now())
	return jigRow{
		Lane: n, Serial: s.Jig.Serial, Model: s.Jig.Model, Firmware: s.Jig.Firmware, Port: s.Jig.Port,
		Product: s.Product.Code + " " + s.Product.Revision, Simulated: s.Jig.Simulated, Present: s.Jig.Present,
		Zero: v.due(due.Zero), Verify: v.due(due.Verify), Conditions: v.conditions(s.Conditions),
	}, err
}

func (v *visit) due(d care.Due) dueView {
	out := dueView{Standing: string(d.Status), Say: v.say("standing." + string(d.Status))}
	if d.Last != nil && d.Status != care.StatusBad {
		out.Due = d.Last.Due()
	}
	return out
}

// kindOf says a kind of calibration.
func (v *visit) kindOf(k sequence.CalibrationKind) string { return v.say("kind." + string(k)) }
