package lane

import (
	"strings"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results/accounts"
)

// CommandPrefix is what barcodes for actions begin with. The rest is one of the
// commands; letters that keyboards have in different places are in none.
const CommandPrefix = "PJC0"

// Commands are what a barcode sheet can make the station do, and the keys of
// what it says beside each.
var commands = []string{"STOP", begin, "NEXT", "PRINT", "HERE", "SOUND", "TEST", Left}

// begin is the command that starts the unit that waits for that, at its lane.
const begin = "BEGIN"

// Left is the command of somebody who goes away, which is no lane's.
const Left = "LEFT"

// Scan tests the unit whose number was scanned at a lane.
func (p *Pages) Scan(v *page.Visit, serial string) error {
	n, lane, err := p.lanes.Asked(v)
	if err != nil {
		return err
	}
	if v.Late() {
		return page.Conflict(v.Say("scan.late", serial))
	}
	if err := p.lanes.Use(v, n, v.Screen()); err != nil {
		return err
	}
	lane.Scan(station.Scan{Serial: serial, Operator: v.Person.Name})
	return p.Which.elsewhere(v, n, serial)
}

// Command carries out what a barcode says. What only a browser can do goes back
// to it.
func (p *Pages) Command(v *page.Visit, word string) (page.Answer, error) {
	if word == "NEXT" {
		p.hands.empty(v)
		if p.Which.take(v, p.Which.waits(v)) && v.Value("lane") == "" {
			return page.Answer{}, nil
		}
	}
	if isDecision(word) {
		return p.decide(v, word)
	}
	switch word {
	case "SOUND", "TEST":
		return page.Answer{Do: strings.ToLower(word)}, nil
	case "STOP", begin, "NEXT", "HERE", "PRINT":
		n, lane, err := p.lanes.Asked(v)
		if err != nil {
			return page.Answer{}, err
		}
		if word == "PRINT" {
			return p.print(v, lane)
		}
		return page.Answer{}, p.at(v, word, n, lane)
	}
	return page.Answer{}, page.Wrong(v.Say("scan.command", word))
}

func (p *Pages) at(v *page.Visit, word string, n int, lane *station.Lane) error {
	switch word {
	case "STOP": // anybody who sees that something is wrong
		lane.Stop()
	case "HERE":
		p.lanes.Take(v, n)
	case begin: // something moves: not long after it was meant, nor from a screen that only looks on
		if v.Late() {
			return page.Conflict(v.Say("start.late"))
		}
		if err := p.lanes.Use(v, n, v.Screen()); err != nil {
			return err
		}
		lane.Start(v.Value("serial"))
	default:
		if err := p.lanes.Use(v, n, v.Screen()); err != nil {
			return err
		}
		lane.Clear()
	}
	return nil
}

// button is a command as a lane's page has it.
func (p *Pages) button(path, word string) page.Action {
	return page.Action{Path: path, Who: page.Everyone, Do: control.Named(p.lanes, func(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
		return page.Answer{}, p.at(v, word, n, lane)
	})}
}

// override tests a unit that padjig refused, for a reason that is kept.
func (p *Pages) override(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
	serial := v.Value("serial")
	if v.Late() {
		return page.Answer{}, page.Conflict(v.Say("scan.late", serial))
	}
	reason, err := v.Reason()
	if err != nil {
		return page.Answer{}, err
	}
	return p.overrideUnit(v, n, lane, serial, reason)
}

func (p *Pages) overrideUnit(v *page.Visit, n int, lane *station.Lane, serial, reason string) (page.Answer, error) {
	state := lane.State()
	if !overridable(state, v.Person) || state.Unit.Serial != serial {
		return page.Answer{}, page.Wrong(v.Say("override.gone"))
	}
	if err := p.lanes.Use(v, n, v.Screen()); err != nil {
		return page.Answer{}, err
	}
	if state.Refusal.Code == station.FailNotPlaced {
		return page.Answer{}, p.forgo(v, lane, reason)
	}
	err := p.store.Accounts.SaveOverride(v.Ctx(), accounts.Override{
		What: string(state.Refusal.Code), Serial: serial, Jig: state.Jig.Serial, By: v.Person.Name, Reason: reason,
	})
	if err == nil {
		lane.Scan(station.Scan{Serial: serial, Operator: v.Person.Name, Overridden: true})
	}
	return page.Answer{}, err
}

// overridable reports whether this person may decide otherwise than padjig did.
func overridable(s station.State, who *page.Person) bool {
	if s.Phase != station.Refused {
		return false
	}
	switch s.Refusal.Code {
	case station.PassedAlready, station.AttemptsUsed, station.AttemptsSpent, station.SamePadAgain, station.NotShown, station.FailNotPlaced,
		station.PassedElsewhere, station.AttemptsElsewhere, station.InHandElsewhere:
		return who.HasRole(page.Deciding)
	case station.RepairLoop:
		return who.HasRole(page.Engineers)
	}
	return false
}
