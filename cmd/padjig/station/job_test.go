package station

import (
	"context"
	"errors"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/wire"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/runner"
)

// diary is a watcher that keeps what it is told.
type diary struct {
	stand    *stand
	warnings []Code
	begun    []sequence.Unit
	limit    int          // the last attempt that the unit may have
	known    []runs.Start // starts of the unit in the records when it begins
	pressed  int          // at the same time
	steps    int
	ended    []sequence.Run
	stored   int // runs of the unit in the records when the steps are over
}

func (d *diary) Warn(w Warning) { d.warnings = append(d.warnings, w.Code) }

func (d *diary) Begin(_ *runner.Plan, unit sequence.Unit, limit int) {
	d.limit = limit
	d.begun = append(d.begun, unit)
	starts, err := d.stand.store.Runs.Starts(d.stand.Context(), unit.Serial)
	require.NoError(d.stand, err)
	d.known, d.pressed = starts, d.stand.moves()
}

func (d *diary) Step(sequence.Progress) { d.steps++ }

func (d *diary) End(run sequence.Run) {
	d.ended = append(d.ended, run)
	d.stored = len(d.stand.store1(run.Serial))
}

// candidate is a unit at a stand that is tested without a lane, as at the terminal.
type candidate struct {
	Job
	records Records
	watcher Watcher
	lay     func(*candidate) // what somebody does at the jig before
}

// TestOn takes the unit through everything, and gives what is shown of it.
func (c *candidate) TestOn(ctx context.Context, open Opener) (done Done, err error) {
	laid := func(ctx context.Context) (*fixture.Jig, func() error, error) {
		jig, closeAll, err := open(ctx)
		c.lay(c)
		return jig, closeAll, err
	}
	err = c.records.Test(ctx, c.Job, Hooks{Open: laid, Watcher: c.watcher, Show: func(d Done) error { done = d; return nil }})
	return done, err
}

func (s *stand) job(serial string) (*candidate, *diary) {
	d := &diary{stand: s}
	lay := func(c *candidate) {
		if c.Study {
			s.jig.Reseat() // a reading of a study is taken of a part that was seated for it
		}
		s.lay(c.Serial)
	}
	return &candidate{Job{Product: s.product, Serial: serial, Operator: "Abel"}, Records{Store: s.store, At: " --store FILE"}, d, lay}, d
}

// opener opens the jig for one job.
func (s *stand) opener(ctx context.Context) (*fixture.Jig, func() error, error) {
	jig, err := s.ports.Open(ctx, firstPort, link.Options{})
	if err != nil {
		return nil, nil, err
	}
	return jig, jig.Close, nil
}

// done takes a unit through everything.
func (s *stand) done(j *candidate) Done {
	s.Helper()
	done, err := j.TestOn(s.Context(), s.opener)
	require.NoError(s, err)
	return done
}

// turnedAway holds that a job is refused for a reason, with nothing moved and
// nothing stored.
func (s *stand) turnedAway(j *candidate, code Code) *Refusal {
	s.Helper()
	moves, stored := s.moves(), len(s.store1(j.Serial))
	done, err := j.TestOn(s.Context(), s.opener)
	require.Error(s, err)
	r := RefusalOf(err)
	assert.Equal(s, code, r.Code, err.Error())
	assert.Zero(s, done)
	assert.Equal(s, moves, s.moves(), "something moved")
	assert.Len(s, s.store1(j.Serial), stored, "something was stored")
	assert.NotEmpty(s, r.Remedy, "what can be done")
	return r
}

// The unit is claimed before anything moves, the run is stored before anybody
// has the verdict, and what is given back is what is stored.
func TestTheOrderOfATest(t *testing.T) {
	at(t, "", func(s *stand) {
		j, d := s.job(s.unit(1))
		done := s.done(j)
		require.Len(s, d.begun, 1)
		require.Len(s, d.known, 1, "the claim")
		assert.True(s, d.known[0].InHand)
		assert.Zero(s, d.pressed, "something moved before the claim")
		assert.Positive(s, d.steps)
		require.Len(s, d.ended, 1)
		assert.Zero(s, d.stored, "stored before the end of the steps")
		stored := s.store1(s.unit(1))
		require.Len(s, stored, 1)
		assert.Equal(s, stored[0].ID, done.ID)
		assert.Equal(s, stored[0].Keys, done.Keys)
		assert.Equal(s, sequence.Pass, done.Outcome)
		assert.Nil(s, done.Reference)
		assert.Empty(s, d.warnings)
	})
}

// A unit that must not be tested is turned away before the jig hears of it, or
// once it is known which jig it is: for each reason.
func TestTurnedAway(t *testing.T) {
	pass := func(s *stand) { j, _ := s.job(s.unit(1)); s.done(j) }
	fail := func(s *stand) {
		s.put("key 7 open")
		j, _ := s.job(s.unit(1))
		require.Equal(s, sequence.Fail, s.done(j).Outcome)
		s.put("")
	}
	unfinished := func(s *stand) { // its holder ended without a run
		begun := s.claim(s.unit(1), true)
		_, err := begun.Save(s.Context(), sequence.Run{Serial: "another"})
		require.Error(s, err)
	}
	for name, c := range map[string]struct {
		code   Code
		before func(*stand)
		change func(*stand, *candidate)
	}{
		"passed":             {PassedAlready, pass, nil},
		"failed too often":   {AttemptsUsed, func(s *stand) { fail(s); fail(s) }, nil},
		"failed, unfinished": {AttemptsSpent, func(s *stand) { fail(s); unfinished(s) }, nil},
		"in hand elsewhere":  {InHand, func(s *stand) { s.claim(s.unit(1), false) }, nil},
		"came back":          {Returned, func(s *stand) { s.came(s.unit(1)) }, nil},
		"is another product": {OtherProduct, func(s *stand) {
			old := s.product
			s.product = parsed(s, swap(gcc(s), "product: GCC-20", "product: GCC-21"))
			pass(s)
			s.product = old
		}, nil},
		"in hand, overridden": {InHand, func(s *stand) { s.claim(s.unit(1), false) }, func(_ *stand, j *candidate) { j.Overridden = true }},
		"another, overridden": {OtherProduct, func(s *stand) {
			old := s.product
			s.product = parsed(s, swap(gcc(s), "product: GCC-20", "product: GCC-21"))
			pass(s)
			s.product = old
		}, func(_ *stand, j *candidate) { j.Overridden = true }},
		"not released": {NotReleased, func(s *stand) { s.release("D", "150 ohm") }, nil},
		"label taken": {LabelTaken, func(s *stand) {
			pass(s)
			s.product = parsed(s, swap(gcc(s), "at most 200 ohm", "at most 150 ohm"))
		}, func(s *stand, j *candidate) { j.Product, j.Serial = s.product, s.unit(2) }},
		"no plan": {NotPlanned, func(s *stand) { s.replace(func(id *wire.Identity) { id.VrefMicroVolt = 12_000_000 }) }, nil},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				if c.before != nil {
					c.before(s)
				}
				j, _ := s.job(s.unit(1))
				if c.change != nil {
					c.change(s, j)
				}
				s.turnedAway(j, c.code)
				_, refused := eligibility{j.records, j.Job}.eligible(s.Context())
				if slices.Contains([]Code{InHand, Returned, NotReleased, LabelTaken}, c.code) {
					assert.Equal(s, c.code, RefusalOf(refused).Code, "whatever the jig")
				} else {
					assert.NoError(s, refused, "it depends on the jig, which is a simulated one")
				}
			})
		})
	}
}

// Whoever may, and says why, has a unit tested once more; a reading of a gauge
// study is taken of any unit and is no attempt.
func TestTestedAllTheSame(t *testing.T) {
	at(t, "", func(s *stand) {
		j, _ := s.job(s.unit(1))
		s.done(j)
		again, _ := s.job(s.unit(1))
		again.Overridden = true
		assert.Equal(s, 2, s.done(again).Attempt)
		study, _ := s.job(s.unit(1))
		study.Study = true
		assert.Equal(s, sequence.GaugeStudy, s.done(study).Purpose)
		h, err := s.store.Runs.History(s.Context(), s.unit(1))
		require.NoError(s, err)
		assert.Equal(s, 2, h.Of(s.product.Code, true).Used())
	})
}

// The zeros of a jig's calibration are taken off what is read on it.
func TestZerosAreTakenOff(t *testing.T) {
	at(t, "", func(s *stand) {
		first := s.done(s.jobOf(1)).Keys[0].Closed.Value
		s.zero = 3
		s.calibration(sequence.KindZero, time.Now(), true)
		assert.InDelta(s, float64(first)-2*3, float64(s.done(s.jobOf(2)).Keys[0].Closed.Value), 0.5)
	})
}

// An electrical press touches no key: it passes no unit, takes no attempt, and
// the unit is tested as if nothing had been.
func TestAnElectricalPressPassesNothing(t *testing.T) {
	at(t, "", func(s *stand) {
		j, _ := s.job(s.unit(1))
		j.How = sequence.Electrical
		assert.Equal(s, sequence.HarnessGood, s.done(j).Outcome)
		assert.Zero(s, slices.Max(s.jig.Counts().Presses))
		h, err := s.store.Runs.History(s.Context(), s.unit(1))
		require.NoError(s, err)
		assert.Zero(s, h.Of(s.product.Code, true).Used())
		pressed, _ := s.job(s.unit(1))
		assert.Equal(s, sequence.Pass, s.done(pressed).Outcome)
	})
}

// A jig that cannot be opened: the unit was eligible, and nothing is stored of it.
func TestNoJigToOpen(t *testing.T) {
	at(t, "", func(s *stand) {
		j, d := s.job(s.unit(1))
		_, err := j.TestOn(s.Context(), func(context.Context) (*fixture.Jig, func() error, error) { return nil, nil, errNoJig })
		assert.ErrorIs(s, err, errNoJig)
		assert.Equal(s, NotMeasured, RefusalOf(err).Kind)
		assert.Empty(s, d.begun)
		h, err := s.store.Runs.History(s.Context(), s.unit(1))
		require.NoError(s, err)
		assert.Nil(s, h.InHand, "it was claimed")
	})
}

var errNoJig = errors.New("no jig here")

// What was eligible and is tested elsewhere while the jig is opened is found out
// when it is claimed, before anything moves.
func TestTestedElsewhereMeanwhile(t *testing.T) {
	for name, c := range map[string]struct {
		code      Code
		meanwhile func(*stand)
	}{
		"in hand": {InHand, func(s *stand) { s.claim(s.unit(1), true) }},
		"its label means something else": {LabelTaken, func(s *stand) {
			other, _ := s.job(s.unit(2))
			other.Product = parsed(s, swap(gcc(s), "at most 200 ohm", "at most 150 ohm"))
			s.done(other)
		}},
		"passed on a real jig": {PassedAlready, func(s *stand) {
			s.pretend(true)
			s.calibrated(time.Now(), true)
			other, _ := s.job(s.unit(1))
			s.done(other)
		}},
		"passed": {PassedAlready, func(s *stand) {
			other, _ := s.job(s.unit(1))
			s.done(other)
		}},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				j, d := s.job(s.unit(1))
				moves := 0
				_, err := j.TestOn(s.Context(), func(ctx context.Context) (*fixture.Jig, func() error, error) {
					c.meanwhile(s)
					moves = s.moves()
					return s.opener(ctx)
				})
				assert.Equal(s, c.code, RefusalOf(err).Code, "%v", err)
				assert.Equal(s, moves, s.moves())
				assert.Empty(s, d.begun)
			})
		})
	}
}

// What a simulated jig found keeps no unit from a real one, and a real pass
// keeps a unit from both.
func TestSimulatedPassesAreNoPasses(t *testing.T) {
	at(t, "", func(s *stand) {
		j, _ := s.job(s.unit(1))
		s.done(j)
		s.pretend(true)
		s.calibrated(time.Now(), true)
		j, _ = s.job(s.unit(1))
		done := s.done(j)
		assert.False(s, done.Simulated)
		assert.Equal(s, 1, done.Attempt)
		j, _ = s.job(s.unit(1))
		s.turnedAway(j, PassedAlready)
		s.pretend(false)
		j, _ = s.job(s.unit(1))
		s.turnedAway(j, PassedAlready)
	})
}

// Records that cannot take a run keep a unit from being tested: they are asked
// before anything moves.
func TestRecordsThatTakeNothing(t *testing.T) {
	for name, c := range map[string]struct {
		code   Code
		before func(*stand)
	}{
		"no room": {NoRoom, func(s *stand) { // what is to be set aside cannot be
			require.NoError(s, os.Remove(s.store.Path()+"-ballast"))
			require.NoError(s, os.Symlink("/no/such/folder/file", s.store.Path()+"-ballast"))
		}},
		"moved": {RecordsMoved, func(s *stand) { require.NoError(s, os.Rename(s.store.Path(), s.store.Path()+".away")) }},
		"no starts": {NoRecords, func(s *stand) {
			s.spoil(`CREATE TRIGGER spoilt BEFORE INSERT ON run_start BEGIN SELECT RAISE(ABORT, 'the disk is read-only'); END`)
		}},
		"no releases":     {NoRecords, func(s *stand) { s.spoil(`DROP TABLE release`) }},
		"no calibrations": {NoRecords, func(s *stand) { s.spoil(`DROP TABLE calibration`) }},
		"no wear":         {NoRecords, func(s *stand) { s.spoil(`DROP TABLE wear_event`) }},
		"no cases":        {NoRecords, func(s *stand) { s.spoil(`DROP TABLE return_case`) }},
		"no starts read":  {NoRecords, func(s *stand) { s.spoil(`DROP TABLE run_start`) }},
		"a release that was altered": {ReleaseAltered, func(s *stand) {
			s.release("C", "200 ohm")
			s.spoil(`DROP TRIGGER release_no_update`, `UPDATE release SET source = replace(source, '200 ohm', '900 ohm')`)
		}},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				c.before(s)
				j, _ := s.job(s.unit(1))
				r := s.turnedAway(j, c.code)
				assert.Equal(s, NotRecorded, r.Kind)
			})
		})
	}
}
