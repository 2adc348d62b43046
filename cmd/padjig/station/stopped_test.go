package station

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/stops"
	"padjig/sequence"
)

// failing has the units of these numbers fail in a row with key 7 open, at the lane, each of which is
// put where it goes then. It gives how the lane stood with the verdict of the last one.
func (s *stand) failing(from, to int) (st State) {
	s.Helper()
	s.put("key 7 open")
	for n := from; n <= to; n++ {
		st = s.test(s.unit(n))
		require.Equal(s, Ended, st.Phase, "unit %d: %v", n, st.Refusal)
		require.Equal(s, sequence.Fail, st.Verdict.Outcome)
		st = s.lane.State() // with what it found due behind the verdict
		s.place(s.unit(n))
	}
	return st
}

// lift lifts the stop that holds at the lane.
func (s *stand) lift() stops.Stop {
	s.Helper()
	lifted, err := s.store.Stops.Lift(s.Context(), s.stopped(), stops.Lifting{By: "Quinn", Reason: stops.Material})
	require.NoError(s, err)
	return lifted
}

// stopped is the number of the stop that holds at the lane, 0 for none.
func (s *stand) stopped() int64 { return stopIn(s.lane.State()) }

// stopIn is the number of the stop that holds at a lane that stands so, 0 for none.
func stopIn(st State) int64 {
	for _, c := range st.Conditions {
		if c.Code == LineStopped && c.Blocks {
			return c.Stop
		}
	}
	return 0
}

// Three units in a row fail alike: the verdict of the third stands, the lane says in the
// same moment that the line is stopped, and nothing is tested any more but a reference unit.
func TestALineStopsItself(t *testing.T) {
	at(t, reference, func(s *stand) {
		s.start()
		s.tests("REF-1")
		s.failing(1, 2)
		assert.Zero(s, s.stopped())
		st := s.failing(3, 3)
		require.Len(s, st.Verdict.Stops, 1)
		held := st.Verdict.Stops[0]
		assert.Equal(s, stops.Met{
			Rule: stops.SameFinding, Fault: stops.Fault{Finding: "key open", Key: "7", Lines: "R3 C1"}, Pins: []int{}, Count: 3, Run: 4,
		}, held.Met)
		assert.Equal(s, held.Number, stopIn(st))
		assert.NotNil(s, st.Blocked())
		assert.Equal(s, held.Number, s.stopped(), "with the unit where it goes")

		s.put("")
		r := s.refused(s.unit(4), LineStopped, func() { s.scan(s.unit(4)) })
		assert.Equal(s, "the line is stopped (stop 1): key open at key 7 at 3 units in a row", r.Error())
		s.refused(s.unit(3), LineStopped, func() { s.scan(s.unit(3)) })
		s.refused(s.unit(4), LineStopped, func() {
			s.lane.Scan(Scan{Serial: s.unit(4), Operator: "Quinn", Overridden: true})
		})
		s.lane.Clear()
		s.tests("REF-1")
		s.refused(s.unit(4), LineStopped, func() { s.scan(s.unit(4)) }) // a good jig does not make good units

		lifted := s.lift()
		assert.Equal(s, "Quinn", lifted.Lifted.By)
		s.lane.Refresh()
		synctest.Wait()
		assert.Zero(s, s.stopped())
		s.tests(s.unit(4))
		s.failing(5, 6) // anew: two
		s.put("")
		s.tests(s.unit(7))
	})
}

// reference is a product's demand for a reference unit.
const reference = "\nreferences: {every: 8 h, good: REF-1}\n"

// Whatever somebody does, or what happens: the line that is stopped stays so.
func TestNobodyGetsRoundAStop(t *testing.T) {
	for name, try := range map[string]func(s *stand){
		"the terminal beside the lane": func(s *stand) {
			j, _ := s.job(s.unit(9))
			s.end()
			r := s.turnedAway(j, LineStopped)
			assert.Equal(s, []string{"1", " --store FILE"}, r.Remedy.Args)
		},
		"overridden": func(s *stand) {
			s.refused(s.unit(9), LineStopped, func() {
				s.lane.Scan(Scan{Serial: s.unit(9), Operator: "Quinn", Overridden: true})
			})
		},
		"the station started again": func(s *stand) {
			s.end()
			s.start()
			assert.EqualValues(s, 1, s.stopped())
			s.refused(s.unit(9), LineStopped, func() { s.scan(s.unit(9)) })
		},
		"a second station": func(s *stand) {
			s.end()
			s.setup.Store = s.again()
			s.start()
			s.refused(s.unit(9), LineStopped, func() { s.scan(s.unit(9)) })
		},
		"hours go by": func(s *stand) {
			time.Sleep(2 * time.Hour)
			s.refused(s.unit(9), LineStopped, func() { s.scan(s.unit(9)) })
		},
		"another product and back": func(s *stand) {
			mine := s.product
			s.product = parsed(s, swap(gcc(s), "product: GCC-20", "product: GCC-21"))
			other, _ := s.job(s.unit(9))
			s.end()
			assert.Equal(s, sequence.Pass, s.done(other).Outcome)
			s.product = mine
			j, _ := s.job(s.unit(10))
			s.turnedAway(j, LineStopped)
		},
		"another revision of the product": func(s *stand) {
			s.product = parsed(s, swap(gcc(s), "revision: C", "revision: D")+"\nstops: {same finding: none}\n")
			j, _ := s.job(s.unit(9))
			s.end()
			s.turnedAway(j, LineStopped)
		},
		"a stage of a returns case": func(s *stand) {
			j, _ := s.job(s.unit(9))
			s.end()
			j.Return = &Return{Case: s.came(s.unit(9)), Purpose: sequence.FirstPress}
			s.turnedAway(j, LineStopped)
		},
		"lifting it twice": func(s *stand) {
			s.lift()
			_, err := s.store.Stops.Lift(s.Context(), 1, stops.Lifting{By: "Eve", Reason: stops.Cleaned})
			var lifted *stops.LiftedError
			require.ErrorAs(s, err, &lifted)
			assert.Equal(s, "Quinn", lifted.Lifted.By)
		},
		"lifting an old one": func(s *stand) {
			s.lift()
			s.failing(4, 6)
			assert.EqualValues(s, 2, s.stopped())
			_, err := s.store.Stops.Lift(s.Context(), 1, stops.Lifting{By: "Eve", Reason: stops.Cleaned})
			assert.Error(s, err)
			s.refused(s.unit(9), LineStopped, func() { s.scan(s.unit(9)) })
		},
		"lifting it for no reason there is": func(s *stand) {
			for _, l := range []stops.Lifting{{By: "Eve"}, {By: "Eve", Reason: "why not"}, {Reason: stops.Cleaned}} {
				_, err := s.store.Stops.Lift(s.Context(), 1, l)
				assert.ErrorIs(s, err, stops.ErrNotLifted)
			}
			_, err := s.store.Stops.Lift(s.Context(), 7, stops.Lifting{By: "Eve", Reason: stops.Cleaned})
			assert.ErrorIs(s, err, stops.ErrNoStop)
			s.refused(s.unit(9), LineStopped, func() { s.scan(s.unit(9)) })
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			at(t, "", func(s *stand) {
				s.start()
				s.failing(1, 3)
				s.put("")
				require.EqualValues(s, 1, s.stopped())
				try(s)
			})
		})
	}
}

// again is the same file of records as another program has it.
func (s *stand) again() *results.Store {
	s.Helper()
	other, err := results.Open(s.Context(), s.store.Path())
	require.NoError(s, err)
	s.Cleanup(func() { assert.NoError(s, other.Close()) })
	return other
}

// What is killed between a run and its stop leaves the run: the stop follows from it.
func TestAStopNeedsNobodyToWriteItDown(t *testing.T) {
	at(t, "", func(s *stand) {
		s.put("key 7 open")
		for n := 1; n <= 3; n++ {
			j, d := s.job(s.unit(n))
			j.lay(j)
			err := j.records.Test(s.Context(), j.Job, Hooks{
				Open: s.opener, Watcher: d, Show: func(Done) error { return nil },
				around: func(step string, do func() error) error {
					if step == "stop the line" {
						return errStep
					}
					return do()
				},
			})
			require.ErrorIs(s, err, errStep)
			s.place(s.unit(n))
		}
		list, err := s.store.Stops.List(s.Context(), true)
		require.NoError(s, err)
		require.Empty(s, list)
		s.put("")
		j, _ := s.job(s.unit(4))
		s.turnedAway(j, LineStopped)
		list, err = s.store.Stops.List(s.Context(), true)
		require.NoError(s, err)
		require.Len(s, list, 1, "written down by whoever sees it first")
		s.start()
		assert.EqualValues(s, 1, s.stopped())
		s.lane.Refresh()
		synctest.Wait()
		list, err = s.store.Stops.List(s.Context(), true)
		require.NoError(s, err)
		assert.Len(s, list, 1, "once")
	})
}

// What is not production neither stops a line nor stands between what does.
func TestWhatDoesNotCountForAStop(t *testing.T) {
	at(t, "\nreferences: {every: 8 h, good: REF-1, bad: {REF-2: key open at 7}}\n", func(s *stand) {
		s.start()
		s.tests("REF-1")
		s.put("key 7 open")
		require.Equal(s, Ended, s.test("REF-2").Phase)
		s.failing(1, 2)
		s.test("REF-2")
		s.test("REF-2")
		assert.Zero(s, s.stopped(), "reference units")
		s.end()
		study, _ := s.job(s.unit(8))
		study.Study = true
		for range 3 {
			s.done(study)
		}
		s.start()
		assert.Zero(s, s.stopped(), "a gauge study")
		s.failing(3, 3)
		assert.NotZero(s, s.stopped(), "the third unit")
		s.end()
		assert.Equal(s, sequence.Fail, s.done(study).Outcome, "a gauge study goes on")
	})
	at(t, "", func(s *stand) {
		s.product = parsed(s, swap(gcc(s), "attempts: 2", "attempts: 9"))
		s.setup.Product = s.product
		s.start()
		s.put("key 7 open")
		for range 4 {
			require.Equal(s, Ended, s.test(s.unit(1)).Phase)
		}
		assert.Zero(s, s.stopped(), "one unit is one unit")
		s.place(s.unit(1))
		s.failing(2, 3)
		assert.NotZero(s, s.stopped())
	})
	at(t, "", func(s *stand) { // simulated jigs stop no real line
		s.start()
		s.failing(1, 3)
		s.put("")
		s.end()
		s.pretend(true)
		s.calibrated(time.Now(), true)
		j, _ := s.job(s.unit(9))
		assert.Equal(s, sequence.Pass, s.done(j).Outcome)
		s.pretend(false)
		j, _ = s.job(s.unit(10))
		s.turnedAway(j, LineStopped)
	})
}

// A unit is reseated twice and no third time, at the lane and at the terminal; other units
// are tested. Where the same pin is doubtful at three of them, the probe stops the line.
func TestReseatsHaveAnEnd(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		reseat := func(n int) Done {
			s.put("channel 3 dirty open")
			st := s.test(s.unit(n))
			require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
			require.Equal(s, sequence.Reseat, st.Verdict.Outcome)
			return *st.Verdict
		}
		reseat(1)
		done := reseat(1)
		require.Len(s, done.Stops, 1)
		assert.Equal(s, stops.Met{Rule: stops.Reseats, Unit: s.unit(1), Pins: []int{3}, Count: 2, Run: 2}, done.Stops[0].Met)
		assert.Zero(s, s.stopped(), "the line goes on")
		r := s.refused(s.unit(1), LineStopped, func() { s.scan(s.unit(1)) })
		assert.Equal(s, "unit "+s.unit(1)+" had to be reseated twice in a row (stop 1); doubtful: pin 3 (jig channel 3)", r.Error())
		s.refused(s.unit(1), LineStopped, func() {
			s.lane.Scan(Scan{Serial: s.unit(1), Operator: "Quinn", Overridden: true})
		})
		s.put("")
		s.tests(s.unit(2))

		for n := 3; n <= 5; n++ {
			reseat(n)
		}
		assert.EqualValues(s, 2, s.stopped())
		c := s.lane.State().Blocked()
		assert.Equal(s, "the line is stopped (stop 2): no sure contact at pin 3 (jig channel 3) at 3 units in a row", c.Text)
		s.put("")
		s.refused(s.unit(6), LineStopped, func() { s.scan(s.unit(6)) })
		s.lift()
		s.lane.Refresh()
		synctest.Wait()
		s.tests(s.unit(1)) // the line was mended, and with it what held for the unit
	})
}
