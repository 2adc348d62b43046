package web

import (
	"time"

	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/page"
	"padjig/results/units"
)

// findPath is where units are found by a part of their number, from the head of every page.
const findPath = "/find"

const mostFound = 20

// findView is the units whose number holds a text. Whoever may not open the page of a unit
// sees its last verdict and where to take it, and its tag.
type findView struct {
	Asked string      `json:"asked"`
	Units []foundUnit `json:"units"`
	More  bool        `json:"more"` // there are others
}

type foundUnit struct {
	Serial    string    `json:"serial"`
	Product   string    `json:"product"`
	Verdict   string    `json:"verdict"`
	At        time.Time `json:"at,omitzero"`
	Case      int64     `json:"case"` // the returns case that is open, 0 for none
	Simulated bool      `json:"simulated"`
	Page      string    `json:"-"` // of the unit, else its tag; empty where there is neither
}

func (s *Site) find(found *units.Records) func(v *page.Visit) (any, error) {
	return func(v *page.Visit) (any, error) {
		view := findView{Asked: v.Text("part"), Units: []foundUnit{}}
		list, more, err := found.Find(v.Ctx(), view.Asked, mostFound)
		if err != nil {
			return nil, err
		}
		life := v.Person.HasRole(desk.People)
		if view.More = more; life && len(list) == 1 && !more {
			return page.Elsewhere(desk.UnitAddress(list[0].Serial)), nil
		}
		for _, u := range list {
			view.Units = append(view.Units, foundOf(v.Words, u, life))
		}
		return view, nil
	}
}

func foundOf(w page.Words, u units.Unit, life bool) foundUnit {
	out := foundUnit{Serial: u.Serial, Product: u.Product + " " + u.Revision, Verdict: w.Say("find.untested"), At: u.At, Case: u.Case, Simulated: u.Simulated}
	if u.Outcome != "" {
		out.Verdict, out.Page = w.Say("outcome."+string(u.Outcome)), "/tag/"+u.Run.String()
	}
	if life {
		out.Page = desk.UnitAddress(u.Serial)
	}
	return out
}
