package web

import (
	"net/http"
	"slices"
	"strings"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/bench"
	"padjig/results/accounts"
)

// CommandPrefix is what barcodes for actions begin with. The rest is one of the
// commands; letters that keyboards have in different places are in none.
const CommandPrefix = "PJC0"

// Commands are what a barcode sheet can make the station do, and the keys of
// what it says beside each.
var commands = []string{"STOP", "NEXT", "HERE", "SOUND", "TEST", "LEFT"}

// scanAction takes whatever a scanner read, on whichever page: a badge, a
// command, or the serial number of a unit.
var scanAction = action{path: "/scan", do: func(v *visit) (answer, error) {
	text := strings.TrimSpace(v.r.FormValue("text"))
	switch command, is := strings.CutPrefix(text, CommandPrefix); {
	case account.IsBadge(text):
		return v.byBadge(text)
	case v.Person == nil:
		return answer{}, refused(v.say("door.first"))
	case is:
		return v.command(command)
	}
	return v.serial(text)
}}

// serial does what a page has a serial number scanned for: a lane tests the
// unit, any other page looks it up. The page of all lanes cannot know which one
// the unit lies in, and who may look nothing up came to test.
func (v *visit) serial(text string) (answer, error) {
	if v.r.FormValue("lane") == "" {
		if !v.Person.may(unitPage.who) || here(v.r.FormValue("next")) == lanesPage.address() {
			return answer{}, wrong(v.say("scan.nolane", text))
		}
		return answer{Go: unitAddress(text)}, nil
	}
	n, lane, err := v.laneOfForm()
	if err != nil {
		return answer{}, err
	}
	if v.late() {
		return answer{}, &problem{http.StatusConflict, v.say("scan.late", text)}
	}
	if !v.site.controls[n-1].use(v.screen(), v.Person.Name) {
		return answer{}, v.held(n)
	}
	lane.Scan(bench.Scan{Serial: text, Operator: v.Person.Name})
	return answer{}, nil
}

func (v *visit) laneOfForm() (int, *bench.Lane, error) {
	if v.r.FormValue("lane") == "" {
		return 0, nil, wrong(v.say("lanes.choose"))
	}
	v.r.SetPathValue("lane", v.r.FormValue("lane"))
	return v.site.lane(v)
}

// held refuses a screen that only watches.
func (v *visit) held(n int) error {
	return &problem{http.StatusConflict, v.say("control.held", v.site.controls[n-1].elsewhere(v.screen()))}
}

func (v *visit) screen() string { return v.r.FormValue("screen") }

// command carries out what a barcode says. What only a browser can do goes back
// to it.
func (v *visit) command(word string) (answer, error) {
	switch word {
	case "LEFT":
		return answer{Go: "/door"}, v.leave()
	case "SOUND", "TEST":
		return answer{Do: strings.ToLower(word)}, nil
	case "STOP", "NEXT", "HERE":
		n, lane, err := v.laneOfForm()
		if err != nil {
			return answer{}, err
		}
		return v.atLane(word, n, lane)
	}
	return answer{}, wrong(v.say("scan.command", word))
}

func (v *visit) atLane(word string, n int, lane *bench.Lane) (answer, error) {
	control := v.site.controls[n-1]
	switch {
	case word == "STOP": // anybody who sees that something is wrong
		lane.Stop()
	case word == "HERE":
		control.take(v.screen(), v.Person.Name)
	case !control.use(v.screen(), v.Person.Name):
		return answer{}, v.held(n)
	default:
		lane.Clear()
	}
	return answer{}, nil
}

func laneAction(path, word string) action {
	return action{path: path, who: everyone, do: func(v *visit) (answer, error) {
		n, lane, err := v.site.lane(v)
		if err != nil {
			return answer{}, err
		}
		return v.atLane(word, n, lane)
	}}
}

var (
	stopAction    = laneAction("/lane/{lane}/stop", "STOP")
	clearAction   = laneAction("/lane/{lane}/next", "NEXT")
	controlAction = laneAction("/lane/{lane}/here", "HERE")
)

// overrideAction tests a unit that padjig refused, for a reason that is kept.
var overrideAction = action{path: "/lane/{lane}/override", who: deciding, do: func(v *visit) (answer, error) {
	n, lane, err := v.site.lane(v)
	if err != nil {
		return answer{}, err
	}
	reason, serial := strings.TrimSpace(v.r.FormValue("reason")), v.r.FormValue("serial")
	state := lane.State()
	switch {
	case v.late():
		return answer{}, &problem{http.StatusConflict, v.say("scan.late", serial)}
	case len([]rune(reason)) < shortestReason:
		return answer{}, wrong(v.say("override.reason", shortestReason))
	case !overridable(state) || state.Unit.Serial != serial:
		return answer{}, wrong(v.say("override.gone"))
	case !v.site.controls[n-1].use(v.screen(), v.Person.Name):
		return answer{}, v.held(n)
	}
	err = v.site.Store.Accounts.SaveOverride(v.r.Context(), accounts.Override{
		What: string(state.Refusal.Code), Serial: serial, Jig: state.Jig.Serial, By: v.Person.Name, Reason: reason,
	})
	if err == nil {
		lane.Scan(bench.Scan{Serial: serial, Operator: v.Person.Name, Overridden: true})
	}
	return answer{}, err
}}

const shortestReason = 8 // characters: "retest" says nothing

// overridable reports whether a person may decide otherwise than padjig did.
func overridable(s bench.State) bool {
	return s.Phase == bench.Refused && slices.Contains([]bench.Code{bench.PassedAlready, bench.AttemptsUsed, bench.AttemptsSpent}, s.Refusal.Code)
}
