// Package lane is where units are tested: the page of each lane and of all of them,
// what is scanned there, and what is printed for it.
package lane

import (
	"padjig/cmd/padjig/legible"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
)

// All is where all lanes are beside one another.
const All = "/"

// Pages are those of the lanes.
type Pages struct {
	store  *results.Store
	lanes  *control.Lanes
	screen legible.Screen
	hands  hands

	decisions decisions

	Which  *Choosing
	Change *Changing
}

// New makes the pages, for a screen.
func New(store *results.Store, lanes *control.Lanes, screen legible.Screen) *Pages {
	p := &Pages{store: store, lanes: lanes, screen: screen, Change: &Changing{lanes}}
	p.Which = &Choosing{lanes: lanes, view: p.view}
	return p
}

// Set is what there is to see and to do.
func (p *Pages) Set() page.Set {
	return page.Set{
		Pages: []page.Page{
			{Path: All + "{$}", Name: "lanes", Menu: "menu.lanes", Below: "/lane", Who: page.Everyone, Lane: true, View: p.lanesPage},
			{Path: "/lane/{lane}", Name: "lane", Who: page.Everyone, View: control.Named(p.lanes, p.lanePage)},
			{Path: "/tag/{run}", Name: "tag", Who: page.Everyone, Bare: true, View: p.tag},
			{Path: "/codes", Name: "codes", Who: page.Everyone, Lane: true, View: p.codes},
			{Path: FailsPath, Name: "fails", Menu: "menu.fails", Who: page.Everyone, View: p.failsPage},
		},
		Actions: []page.Action{
			p.button("/lane/{lane}/stop", "STOP"), p.button("/lane/{lane}/start", begin),
			p.button("/lane/{lane}/next", "NEXT"), p.button("/lane/{lane}/here", "HERE"),
			{Path: "/lane/{lane}/override", Who: page.Deciding, Do: control.Named(p.lanes, p.override)},
			{Path: "/lane/{lane}/choose", Who: page.Everyone, Do: control.Named(p.lanes, p.Which.choose)},
			{Path: "/lane/{lane}/product", Who: changing, Do: control.Named(p.lanes, p.Change.changeProduct)},
			{Path: "/lanes/forget", Who: page.Everyone, Do: p.Which.forget},
			{Path: "/lane/{lane}/lift", Who: page.Deciding, Do: control.Named(p.lanes, p.lift)},
		},
		Streams: []page.Stream{
			{Path: "/lane/{lane}/live", Who: page.Everyone, Run: p.live},
			{Path: "/lanes/live", Who: page.Everyone, Run: p.cards},
		},
	}
}

// lanePage is where units are tested, one jig.
func (p *Pages) lanePage(v *page.Visit, n int, lane *station.Lane) (any, error) {
	out := p.view(v, n, lane.State())
	out.Products = p.Change.others(v, lane)
	return out, nil
}

type lanesView struct {
	Lanes  []View     `json:"lanes"`
	Choice choiceView `json:"choice"` // what waits at this screen
}

// lanesPage shows all lanes beside one another: where a shift lead looks first.
// Where there is one lane only, it is that one, so that a scan is taken at once.
func (p *Pages) lanesPage(v *page.Visit) (any, error) {
	all := p.lanes.All()
	if len(all) == 1 && !v.WantsJSON() {
		return page.Elsewhere("/lane/1"), nil
	}
	out := lanesView{Choice: p.Which.choice(v)}
	for i, lane := range all {
		out.Lanes = append(out.Lanes, p.view(v, i+1, lane.State()))
	}
	return out, nil
}
