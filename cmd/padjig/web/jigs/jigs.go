// Package jigs is the care of jigs: which there are and how they stand, their
// calibrations, their worn parts, and what goes over the line to them.
package jigs

import (
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/care"
)

// pages are those of the jigs.
type pages struct {
	store *results.Store
	lanes *control.Lanes
}

// Set is what there is to see and to do.
func Set(store *results.Store, lanes *control.Lanes) page.Set {
	p := &pages{store, lanes}
	return page.Set{
		Pages: []page.Page{
			{Path: "/jigs", Name: "jigs", Menu: "menu.jigs", Who: page.Engineers, View: p.list},
			{Path: "/jigs/{lane}", Name: "jig", Who: page.Engineers, View: control.Named(p.lanes, p.jig)},
			{Path: "/jigs/{lane}/traffic", Name: "traffic", Who: page.Engineers, View: control.Named(p.lanes, p.traffic)},
		},
		Actions: []page.Action{
			{Path: "/jigs/{lane}/wear", Who: page.Engineers, Do: control.Named(p.lanes, p.wear)},
			{Path: "/jigs/{lane}/letgo", Who: page.Engineers, Do: control.Named(p.lanes, p.letGo)},
		},
		Streams: []page.Stream{{Path: "/jigs/{lane}/traffic/live", Who: page.Engineers, Run: p.live}},
	}
}

// list shows the jigs of the station and how they stand.
func (p *pages) list(v *page.Visit) (any, error) {
	out := List{Jigs: []Row{}}
	for i, lane := range p.lanes.All() {
		row, err := p.row(v, i+1, lane.State())
		if err != nil {
			return nil, err
		}
		out.Jigs = append(out.Jigs, row)
	}
	return out, nil
}

// List is all jigs.
type List struct {
	Jigs []Row `json:"jigs"`
}

// Row is a jig in one line.
type Row struct {
	Lane       int                 `json:"lane"`
	Serial     string              `json:"serial"`
	Model      string              `json:"model"`
	Firmware   string              `json:"firmware"`
	Port       string              `json:"port"`
	Product    string              `json:"product"`
	Simulated  bool                `json:"simulated"`
	Present    bool                `json:"present"`
	Zero       dueView             `json:"zero"`
	Verify     dueView             `json:"verify"`
	Conditions []control.Condition `json:"conditions"`
}

// dueView is how a jig stands with one kind of calibration.
type dueView struct {
	Status string    `json:"standing"`
	Say    string    `json:"say"`
	Due    time.Time `json:"due"` // zero for never
}

func (p *pages) row(v *page.Visit, n int, s station.State) (Row, error) {
	due, err := p.store.Care.DueState(v.Ctx(), s.Jig.Serial, s.Jig.Simulated, time.Now())
	return Row{
		Lane: n, Serial: s.Jig.Serial, Model: s.Jig.Model, Firmware: s.Jig.Firmware, Port: s.Jig.Port,
		Product: s.Product.Code + " " + s.Product.Revision, Simulated: s.Jig.Simulated, Present: s.Jig.Present,
		Zero: dueOf(v.Words, due.Zero), Verify: dueOf(v.Words, due.Verify), Conditions: control.Conditions(v.Words, s.Conditions),
	}, err
}

func dueOf(v page.Words, d care.Due) dueView {
	out := dueView{Status: string(d.Status), Say: v.Say("standing." + string(d.Status))}
	if d.Last != nil && d.Status != care.StatusBad {
		out.Due = d.Last.Due()
	}
	return out
}
