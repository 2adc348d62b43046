package jigs

import (
	"context"
	"fmt"
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/lid"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results/care"
	"padjig/sequence"
)

// referenceGuide is that of the reference units that the lane's product demands, one after
// the other.
type referenceGuide struct {
	p      *pages
	lane   *station.Lane
	chosen string
	units  []care.ReferenceState
	base   []sequence.KeyResult // of the unit of the verdict
}

func (r *referenceGuide) moves() bool { return true }

func (r *referenceGuide) load(ctx context.Context, s station.State) error {
	r.units, r.base = nil, nil
	for _, unit := range s.Product.References.All() {
		state, err := r.p.store.Care.Reference(ctx, s.Jig.Serial, unit, s.Jig.Simulated)
		if err != nil {
			return err
		}
		r.units = append(r.units, state)
	}
	if s.Verdict == nil || s.Verdict.Reference == nil || s.Verdict.Reference.Bad {
		return nil
	}
	base, err := r.p.store.Care.Baseline(ctx, s.Jig.Serial, s.Verdict.Serial, s.Jig.Simulated)
	r.base = base
	return err
}

func (r *referenceGuide) view(w page.Words, n int, s station.State) Guide {
	g := begun(w, n, s, "references")
	g.Moves = true
	refs := s.Product.References
	if refs == nil {
		g.Why, g.Moves = w.Say("guide.noreferences", s.Product.Code), false
		return g
	}
	unit := r.turn(s)
	for _, state := range r.units {
		g.List = append(g.List, unitLine(w, s, state, unit))
	}
	at := 0
	_, ours := s.Product.Reference(s.Unit.Serial)
	switch {
	case s.Phase.Busy() && !ours:
		g.Why = busy(w, s)
	case s.Phase == station.Lid && s.Refusal != nil:
		at, g.Busy, g.Wait = 1, true, lidSays(w, s)
	case s.Phase == station.Armed:
		at = 1
		g.armed(w, n, s)
	case s.Phase.Busy():
		at, g.Busy, g.Wait, g.Done, g.Total = 2, true, w.Say("guide.tests", s.Unit.Serial), s.Done, s.Total
	case s.Phase == station.Refused && ours:
		g.Why = control.Refusal(w, s.Refusal)
	case s.Phase == station.Ended && s.Verdict.Reference != nil:
		g.Result = r.checked(w, s)
	}
	if unit == "" {
		at, g.Go = 4, &goView{fmt.Sprintf("/jigs/%d", n), w.Say("guide.backtojig")}
	}
	g.step(w, at, "guide.put.references", "guide.shut.moves", "guide.await", "guide.seen")
	g.offer(w, s, unit, fmt.Sprintf("/jigs/%d/reference", n), w.Say("guide.start.references", unit))
	return g
}

// offer gives the button that moves the jig, with how its lid stands and not without.
func (g *Guide) offer(w page.Words, s station.State, unit, action, button string) {
	if g.Busy || s.Phase.Busy() || !s.Jig.Present || !s.LetGo.IsZero() {
		return
	}
	g.Lid = string(s.Jig.Lid)
	if unit == "" || s.Jig.Lid == lid.Unknown || s.Jig.Lid == lid.Stopped || s.Jig.Lid == lid.Up {
		return
	}
	g.Steps[0].Say = w.Say("guide.put.unit", unit)
	g.Start = &startForm{Action: action, Button: button, Fields: []page.Option{{Text: "unit", Value: unit}}}
}

// lidSays says what the lid has to be opened or closed for.
func lidSays(w page.Words, s station.State) string {
	if s.Refusal.Code != station.LidOpen {
		return stilled(w, s.Refusal.Code)
	}
	return w.Say("guide.lid.open")
}

// armed asks for the start of the unit that waits for it with the lid closed.
func (g *Guide) armed(w page.Words, n int, s station.State) {
	g.Busy, g.Wait = true, w.Say("line.armed", s.Unit.Serial)
	g.Start = &startForm{Action: fmt.Sprintf("/jigs/%d/start", n), Button: w.Say("lane.start"),
		Fields: []page.Option{{Text: "serial", Value: s.Unit.Serial}, {Text: "back", Value: g.Address}}}
}

// startUnit starts the unit that waits for that.
func (p *pages) startUnit(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
	if v.Late() {
		return page.Answer{}, page.Conflict(v.Say("start.late"))
	}
	if err := p.lanes.UseAtDesk(v, n); err != nil {
		return page.Answer{}, err
	}
	lane.Start(v.Value("serial"))
	return page.Answer{Go: back(v, fmt.Sprintf("/jigs/%d", n))}, nil
}

// turn is the unit whose turn it is: the one in hand, the one chosen, the first that is due; none
// when none is.
func (r *referenceGuide) turn(s station.State) string {
	if _, ours := s.Product.Reference(s.Unit.Serial); ours && s.Phase.Busy() {
		return s.Unit.Serial
	}
	if _, is := s.Product.Reference(r.chosen); is {
		return r.chosen
	}
	for _, state := range r.units {
		if state.Overdue(s.Product.References, time.Now()) != "" {
			return state.Unit
		}
	}
	return ""
}

// unitLine is how a reference unit stands.
func unitLine(w page.Words, s station.State, state care.ReferenceState, turn string) listed {
	refs := s.Product.References
	l := listed{Name: state.Unit, Serial: state.Unit, Mark: "done"}
	left := state.Left(refs.Every, refs.Units, time.Now())
	switch {
	case state.Last == nil:
		l.Mark, l.Say = "later", w.Say("guide.unit.never")
	case !state.Last.Good:
		l.Mark, l.Say, l.At = "bad", w.Say("guide.unit.bad"), state.Last.Started
	case left.Over():
		l.Mark, l.Say, l.At = "later", w.Say("guide.unit.due"), state.Last.Started
	default:
		l.Say, l.At = w.Say("guide.unit.good", leftOf(w, left)), state.Last.Started
	}
	if state.Unit == turn {
		l.Mark, l.Serial = "now", ""
	}
	return l
}

// leftOf says what is left of the interval of a reference unit.
func leftOf(w page.Words, left care.ReferenceLeft) string {
	var all []string
	if left.Timed {
		all = append(all, hours(w, left.Time))
	}
	if left.Counted {
		all = append(all, w.Say("jigs.unitsleft", left.Units))
	}
	return strings.Join(all, ", ")
}

// hours says a time that is left in what a person plans by.
func hours(w page.Words, left time.Duration) string {
	switch {
	case left > 0 && left < time.Hour:
		return w.Say("jigs.minutes", w.Num(0, left.Minutes()))
	case abs(left.Hours()) < 48:
		return w.Say("jigs.hours", w.Num(0, left.Hours()))
	}
	return w.Say("jigs.days", w.Num(0, left.Hours()/24))
}

// checked is what a reference unit showed, each key against what it read at its first check.
func (r *referenceGuide) checked(w page.Words, s station.State) *resultView {
	check, refs := s.Verdict.Reference, s.Product.References
	out := &resultView{Good: check.Good(), Head: w.Say("guide.unit.showsnot", check.Unit), Why: strings.Join(check.Sentences(), "\n")}
	if check.Good() {
		out.Head = w.Say("guide.unit.shows", check.Unit)
	}
	first := map[string]sequence.KeyResult{}
	for _, k := range r.base {
		first[k.Key] = k
	}
	for _, k := range s.Verdict.Keys {
		was, known := first[k.Key]
		if !known || was.Closed == nil || k.Closed == nil {
			continue
		}
		value, from := float64(k.Closed.Value), float64(was.Closed.Value)
		part := abs(value/from-1) / refs.Within
		out.Rows = append(out.Rows, readRow{w.Say("guide.key", k.Key), w.Near(value) + " Ω", w.Near(2*float64(k.Closed.U)) + " Ω",
			w.Near(from) + " Ω ± " + w.Num(0, 100*refs.Within) + " %", part, part <= 1})
	}
	return out
}

// reference has the lane test a reference unit, as a scan of its number would.
func (p *pages) reference(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
	unit, s := v.Value("unit"), lane.State()
	if _, is := s.Product.Reference(unit); !is {
		return page.Answer{}, page.Wrong(v.Say("guide.noreference", unit))
	}
	return p.press(v, n, lane, station.Scan{Serial: unit, Operator: v.Person.Name}, fmt.Sprintf("/jigs/%d/do/references", n))
}

// press has the lane test a unit, where it is free. Its form may have lain somewhere: what is
// expected by nobody any more is not begun.
func (p *pages) press(v *page.Visit, n int, lane *station.Lane, scan station.Scan, to string) (page.Answer, error) {
	s := lane.State()
	switch {
	case v.Late():
		return page.Answer{}, page.Conflict(v.Say("scan.late", scan.Serial))
	case s.Phase.Busy():
		return page.Answer{}, page.Conflict(busy(v.Words, s))
	case !s.Jig.Present:
		return page.Answer{}, page.Conflict(v.Say("jigs.absent"))
	}
	if err := p.lanes.UseAtDesk(v, n); err != nil {
		return page.Answer{}, err
	}
	lane.Scan(scan)
	return page.Answer{Go: to}, nil
}
