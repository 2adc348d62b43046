package floor

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/fails"
	"padjig/results/floor"
)

// InUse is which lots run on the lines.
type InUse struct {
	Lines []Line `json:"lines"`
	Plans bool   `json:"-"` // whoever looks may see the plan of the shifts
}

// Line is a line with its lots, and how they came.
type Line struct {
	N         int        `json:"n"`
	Jig       string     `json:"jig"` // empty: none was ever there
	Product   string     `json:"product"`
	Simulated bool       `json:"simulated"`
	Seq       int64      `json:"seq"` // of the newest change, 0: none
	Materials []Material `json:"materials"`
	History   []Change   `json:"history"`
}

// Material is a kind of lot and the one in use, empty where none is known.
type Material struct {
	Name string `json:"name"`
	Say  string `json:"say"`
	Lot  string `json:"lot"`
}

// Change is one changeover.
type Change struct {
	At   time.Time `json:"at,omitzero"`
	By   string    `json:"by"`
	Lots []string  `json:"lots"` // those that were new
	Run  int64     `json:"run"`  // the first that may have them
}

// shownChanges is how many changeovers a line shows.
const shownChanges = 20

func (p *pages) lots(v *page.Visit) (any, error) {
	out := InUse{Lines: []Line{}, Plans: v.Person.HasRole(page.Deciding)}
	for i, lane := range p.lanes.All() {
		line, err := p.line(v, i+1, lane.State())
		if err != nil {
			return nil, err
		}
		out.Lines = append(out.Lines, line)
	}
	return out, nil
}

func (p *pages) line(v *page.Visit, n int, state station.State) (Line, error) {
	line := Line{N: n, Jig: state.Jig.Serial, Product: state.Product.Code, Simulated: state.Jig.Simulated, History: []Change{}}
	if line.Jig == "" {
		return line, nil
	}
	list, err := p.store.Floor.LotHistory(v.Ctx(), line.Jig, line.Product, line.Simulated, shownChanges+1)
	now := floor.Lots{}
	if len(list) > 0 {
		now, line.Seq = list[0].Lots, list[0].Seq
	}
	for _, material := range floor.Materials {
		line.Materials = append(line.Materials, Material{material, v.Say("ask.material." + material), now[material]})
	}
	for i, c := range list[:min(len(list), shownChanges)] {
		before := floor.Lots{}
		if i+1 < len(list) {
			before = list[i+1].Lots
		}
		one := Change{At: c.At, By: c.By, Run: c.AfterRun + 1}
		for _, material := range floor.Materials {
			if c.Lots[material] != before[material] {
				one.Lots = append(one.Lots, v.Say("ask.material."+material)+" "+c.Lots[material])
			}
		}
		line.History = append(line.History, one)
	}
	return line, err
}

// changeLots records a changeover of a line: what stands in a field other than before.
func (p *pages) changeLots(v *page.Visit) (page.Answer, error) {
	_, lane, err := p.lanes.Asked(v)
	if err != nil {
		return page.Answer{}, err
	}
	state := lane.State()
	switch {
	case state.Jig.Serial == "":
		return page.Answer{}, page.Conflict(v.Say("inuse.nojig"))
	case state.Phase.Busy(): // the unit in hand was made of the lots of before
		return page.Answer{}, page.Conflict(v.Say("inuse.busy"))
	}
	line, err := p.line(v, 0, state)
	if err != nil {
		return page.Answer{}, err
	}
	changed := floor.Lots{}
	for _, m := range line.Materials {
		lot := strings.Join(strings.Fields(v.Value(m.Name)), " ")
		if lot == "" || lot == m.Lot {
			continue
		}
		if why := noLot(lot, state); why != "" {
			return page.Answer{}, page.WrongField(m.Name, v.Say(why, m.Say, lot))
		}
		changed[m.Name] = lot
	}
	if len(changed) == 0 {
		return page.Answer{}, page.Wrong(v.Say("inuse.same"))
	}
	var seen int64
	if _, err := fmt.Sscan(v.Value("seq"), &seen); err != nil {
		seen = -1
	}
	err = p.store.Floor.SaveLots(v.Ctx(), floor.LotChange{Jig: line.Jig, Product: line.Product, Simulated: line.Simulated,
		Lots: changed, By: v.Person.Name, Onto: &seen})
	if errors.Is(err, floor.ErrLotsChanged) {
		err = page.Conflict(v.Say("inuse.changed"))
	}
	return page.Answer{Go: lotsPath}, err
}

// longestLot is in characters.
const longestLot = 64

// noLot says why a text is no lot: another code was scanned where one was asked for.
func noLot(lot string, state station.State) string {
	serial := state.Product.Serial
	switch {
	case account.IsBadge(lot), fails.IsCode(lot), strings.HasPrefix(lot, "PJ"):
		return "inuse.code"
	case serial.Format != "" && serial.Check(lot) == nil:
		return "inuse.serial"
	case len([]rune(lot)) > longestLot || strings.ContainsFunc(lot, unicode.IsControl):
		return "inuse.long"
	}
	return ""
}
