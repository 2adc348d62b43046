package station

import (
	"context"
	"time"

	"padjig/cmd/padjig/station/tally"
	"padjig/fixture"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// laneHooks have one unit tested at a lane, and shows it there.
type laneHooks struct {
	setup   Setup
	shown   *shown
	scan    Scan
	product *product.Product // at the time of the scan
	begun   bool             // the unit was claimed
	note    *Note            // what is known of the unit, said from now on
}

func (d *laneHooks) job() Job {
	return Job{
		Product: d.product, Serial: d.scan.Serial, Operator: d.scan.Operator, How: d.setup.Press,
		Overridden: d.scan.Overridden, Return: d.scan.Return, Study: d.scan.Reading != nil,
	}
}

// lidPatience is how long a scanned unit may wait for the lid to be closed.
const (
	lidPatience = 2 * time.Minute
	lidGlance   = 150 * time.Millisecond
)

// await waits for the lid, and shows why.
func (d *laneHooks) await(ctx context.Context, jig *fixture.Jig, exchanged func(context.Context) error) error {
	if d.setup.Load != nil {
		d.setup.Load(d.scan.Serial)
	}
	return AwaitLid(ctx, jig, exchanged, func(why error) {
		d.shown.changeIf(func(s *State) bool {
			r := RefusalOf(why)
			if s.Phase == Lid && s.Refusal != nil && s.Refusal.Code == r.Code {
				return false // it is said
			}
			s.Phase, s.Refusal, s.Note = Lid, r, d.note
			s.Epoch++
			return true
		})
	})
}

// AwaitLid waits until the jig would move and nothing is the matter that the lid puts right, such
// as the unit before that is still in it: closing the lid is the start. Releasing an emergency
// stop starts nothing: its reset only permits a restart (ISO 13850, from memory), which is
// another scan. No more does a jig without an interlock start by itself: hands are where its
// loops close. It tells each time it looked why it waits.
func AwaitLid(ctx context.Context, jig *fixture.Jig, matter func(context.Context) error, waits func(why error)) error {
	for began := time.Now(); ; wait(ctx, lidGlance) {
		why := movable(ctx, jig, jig.Capabilities().Serial)
		if why == nil && matter != nil {
			why = matter(ctx)
		}
		if why == nil || !byTheLid(why) || ctx.Err() != nil || time.Since(began) > lidPatience {
			return why
		}
		waits(why)
	}
}

// byTheLid reports whether a refusal is one that opening or closing the lid puts right.
func byTheLid(why error) bool {
	code := RefusalOf(why).Code
	return code == LidOpen || code == NotOpened || code == NotReseated
}

// Warn notes what is known of the unit; conditions of the jig are looked up beforehand, see look.
func (d *laneHooks) Warn(w Warning) {
	if w.Code == Repaired {
		d.note = &Note{NoteRepaired, w.Args}
		d.shown.change(func(s *State) { s.say(NoteRepaired, w.Args...) })
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
func (d *laneHooks) End(sequence.Run) {
	d.shown.advance(func(s *State) { s.Phase = Storing })
}

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
	owed, err := d.setup.Store.Fails.On(context.Background(), done.Jig.Serial, done.Simulated)
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
