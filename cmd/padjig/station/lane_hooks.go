package station

import (
	"context"
	"errors"
	"time"

	"padjig/cmd/padjig/station/note"
	"padjig/cmd/padjig/station/start"
	"padjig/cmd/padjig/station/tally"
	"padjig/fixture"
	"padjig/results/plant/asked"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// laneHooks have one unit tested at a lane, and shows it there.
type laneHooks struct {
	setup             Setup
	shown             *shown
	scan              Scan
	asked             *asked.Question
	product           *product.Product // at the time of the scan
	opened, lidStarts bool             // the lid was open then; closing it is a start
	press             <-chan struct{}  // start was pressed for the unit
	begun             bool             // the unit was claimed
	note              *Note            // what is known of the unit, said from now on
}

func (d *laneHooks) job() Job {
	return Job{
		Product: d.product, Serial: d.scan.Serial, Operator: d.scan.Operator, How: d.setup.Press,
		Overridden: d.scan.Overridden, Return: d.scan.Return, Study: d.scan.Reading != nil, Asked: d.asked,
	}
}

// await waits for the lid and, where that was open, for the start, and shows why.
func (d *laneHooks) await(ctx context.Context, jig *fixture.Jig, exchanged func(context.Context) error) error {
	if d.setup.Load != nil {
		d.setup.Load(d.scan.Serial)
	}
	caps := jig.Capabilities()
	byLid := func(ctx context.Context) (bool, error) {
		decided, err := d.setup.Store.Accounts.LidStart(ctx, caps.Serial, caps.Simulated)
		return decided.On, Records{Store: d.setup.Store, At: d.setup.At}.unreadOr(err)
	}
	d.lidStarts, _ = byLid(ctx) // it is asked again when it is closed
	err := start.Wait{
		Look: func(ctx context.Context) error {
			if why := movable(ctx, jig, caps.Serial); why != nil {
				return why
			}
			return exchanged(ctx)
		},
		Lid: byTheLid, Opened: d.opened, Press: d.press, Shows: d.waits, ByLid: byLid}.Until(ctx)
	if errors.Is(err, start.ErrNotPressed) {
		return refuse(NotMeasured, nil, sequence.Said{}, NotStarted)
	}
	return err
}

// waits shows why the unit waits: for the lid, or for the start.
func (d *laneHooks) waits(why error) {
	d.shown.pulse.Beat()
	d.shown.changeIf(func(s *State) bool {
		phase, r := Armed, (*Refusal)(nil)
		if why != nil {
			phase, r = Lid, RefusalOf(why)
		}
		if s.Phase == phase && (phase == Armed || s.Refusal != nil && s.Refusal.Code == r.Code) {
			return false // it is said
		}
		s.Phase, s.Refusal, s.Note, s.LidStarts = phase, r, d.note, d.lidStarts
		s.Epoch++
		return true
	})
}

// AwaitLid waits for the lid where nothing will move, and tells at each look why it waits.
func AwaitLid(ctx context.Context, jig *fixture.Jig, waits func(why error)) error {
	look := func(ctx context.Context) error { return movable(ctx, jig, jig.Capabilities().Serial) }
	return start.Wait{Look: look, Lid: byTheLid, Still: true, Shows: waits}.Until(ctx)
}

// byTheLid reports whether a refusal is one that opening or closing the lid puts right.
func byTheLid(why error) bool {
	code := RefusalOf(why).Code
	return code == LidOpen || code == NotOpened || code == NotReseated
}

// Warn notes what is known of the unit; conditions of the jig are looked up beforehand, see look.
func (d *laneHooks) Warn(w Warning) {
	if w.Code == Repaired {
		d.note = note.Of(note.Repaired, w.Args...)
		d.shown.change(func(s *State) { s.say(note.Repaired, w.Args...) })
	}
	if w.Code == Alone { // shown from the begin on
		d.note = d.note.And(note.Of(note.Alone, w.Args...))
	}
}

// Begin shows what is about to be done.
func (d *laneHooks) Begin(plan *runner.Plan, unit sequence.Unit, limit int) {
	d.begun = true
	d.shown.advance(func(s *State) {
		s.Phase, s.Unit, s.Limit, s.How, s.Refusal, s.Note = Running, unit, limit, plan.Actuation, nil, d.note
		s.Keys = make([]sequence.KeyResult, len(plan.Product.Keys))
		for k, key := range plan.Product.Keys {
			s.Keys[k] = sequence.KeyResult{Key: key.Label, Verdict: sequence.KeyUntested}
		}
	})
}

// Step shows how far it is.
func (d *laneHooks) Step(p sequence.Progress) {
	d.shown.pulse.Beat()
	d.shown.change(func(s *State) {
		before := s.Step
		s.Step, s.Done, s.Total, s.Left = p.Step.Name, p.Done, p.Total, p.Left
		if p.Ask.Code != "" || p.Step.Name != before {
			s.Ask = p.Ask // what was asked holds until the next thing is, or the step is over
		}
		if p.Key != nil {
			if k := s.Product.Key(p.Key.Key); k >= 0 {
				s.Keys[k] = *p.Key
			}
		}
	})
}

// End shows that the jig is done and the result not yet stored.
func (d *laneHooks) End(sequence.Run) { d.shown.advance(func(s *State) { s.Phase = Storing }) }

func (d *laneHooks) keep(ctx context.Context, run runs.Stored) error {
	if r := d.scan.Reading; r != nil {
		return d.setup.Store.Studies.KeepReading(ctx, r.Study, r.Place, run)
	}
	if d.scan.Return == nil || d.setup.Staged == nil {
		return nil
	}
	return d.setup.Staged(ctx, d.product, d.scan.Return.Case, run)
}

// show has the verdict come up, and counts the unit.
func (d *laneHooks) show(done Done) error {
	ended := time.Now()
	owed, err := d.setup.Store.Fails.On(store.Reserved(context.Background()), done.Jig.Serial, done.Simulated)
	if err != nil {
		owed = nil // the next unit will say so
	}
	d.shown.advance(func(s *State) {
		s.Phase, s.Verdict, s.Keys, s.ended, s.Note = Ended, &done, done.Keys, ended, d.note
		s.Owed = owed
		s.Tally.StartShift(tally.ShiftStart(ended, d.setup.Shifts))
		r := done.Run
		s.count(runs.Summary{
			Serial: r.Serial, Product: r.Product, Jig: r.Jig.Serial, Simulated: r.Simulated, Purpose: r.Purpose,
			Actuation: r.Actuation, Attempt: r.Attempt, Turn: done.Turn, Outcome: r.Outcome, Started: r.Started,
			Duration: time.Duration(r.Duration),
		})
	})
	d.shown.linger(d.setup.LockAfter)
	return nil
}
