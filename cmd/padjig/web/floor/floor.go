// Package floor is what people set down about the line: the lots in use on each line, and
// the plan of the shifts.
package floor

import (
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
)

// pages are those of the floor.
type pages struct {
	store *results.Store
	lanes *control.Lanes
}

// The pages by the names of their templates.
const (
	lotsPage = "inuse"
	planPage = "shiftplan"
)

// Where they are.
const (
	lotsPath = "/lots"
	planPath = "/shifts"
)

// Set is what there is to see and to do. Whoever changes material records it; the plan is
// set by who may at the terminal.
func Set(store *results.Store, lanes *control.Lanes) page.Set {
	p := &pages{store, lanes}
	return page.Set{
		Pages: []page.Page{
			{Path: lotsPath, Name: lotsPage, Menu: "menu.floor", Below: planPath, Who: page.Everyone, View: p.lots},
			{Path: planPath, Name: planPage, Who: page.Deciding, View: p.plan},
		},
		Actions: []page.Action{
			{Path: lotsPath, Who: page.Everyone, Do: p.changeLots},
			{Path: planPath, Who: page.Deciding, Do: p.setPlan},
		},
	}
}
