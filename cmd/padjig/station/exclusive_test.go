package station

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// A lane gives its jig to a task on the unit that can be in it, and only when it has no
// other work.
func TestExclusiveAllowed(t *testing.T) {
	mine, other := &product.Product{Code: "GCC-20"}, &product.Product{Code: "VENT-6"}
	free := State{Phase: Ready, Product: mine, Jig: JigState{Present: true, Serial: "J-0042"}}
	for name, c := range map[string]struct {
		change func(*State)
		wants  Code // empty: given
	}{
		"ready":                       {func(*State) {}, ""},
		"after a refusal":             {func(s *State) { s.Phase = Refused }, ""},
		"its own verdict stands":      {func(s *State) { s.Phase = Ended; s.Unit = sequence.Unit{Serial: "A"} }, ""},
		"its own verdict is hidden":   {func(s *State) { s.Phase = Locked; s.Unit = sequence.Unit{Serial: "A"} }, ""},
		"another's verdict stands":    {func(s *State) { s.Phase = Ended; s.Unit = sequence.Unit{Serial: "B"} }, OtherUnit},
		"another's verdict is hidden": {func(s *State) { s.Phase = Locked; s.Unit = sequence.Unit{Serial: "B"} }, OtherUnit},
		"waits for the lid":           {func(s *State) { s.Phase = Lid }, LaneBusy},
		"tests":                       {func(s *State) { s.Phase = Running }, LaneBusy},
		"stores":                      {func(s *State) { s.Phase = Storing }, LaneBusy},
		"given already":               {func(s *State) { s.Phase = Exclusive }, LaneBusy},
		"no jig":                      {func(s *State) { s.Jig.Present = false }, NoJig},
		"another product":             {func(s *State) { s.Product = other }, OtherProduct},
		"a simulated jig":             {func(s *State) { s.Jig.Simulated = true }, OtherSort},
	} {
		t.Run(name, func(t *testing.T) {
			s := free
			c.change(&s)
			err := exclusiveAllowed(&s, ExclusiveTask{Serial: "A", Product: mine})
			if c.wants == "" {
				assert.NoError(t, err)
				return
			}
			assert.Equal(t, c.wants, RefusalOf(err).Code)
		})
	}
}

// An exclusive task is done on the lane's jig with the plan of its unit, leaves nothing
// behind, and the lane stands afterwards as it stood before.
func TestExclusiveTaskAndBack(t *testing.T) {
	for _, phase := range []Phase{Ready, Refused, Ended, Locked} {
		t.Run(string(phase), func(t *testing.T) {
			at(t, "", func(s *stand) {
				var loaded []string
				s.setup.Load = func(serial string) { loaded = append(loaded, serial); s.lay(serial) }
				phases[phase](s)
				loaded = nil
				before, runs := s.lane.State(), len(s.runs(s.unit(1)))
				e := s.exclusive(s.unit(1), nil)
				e.Do = func(ctx context.Context, jig *fixture.Jig, plan *runner.Plan) error {
					assert.Equal(s, Exclusive, s.lane.State().Phase)
					assert.Equal(s, s.unit(1), s.lane.State().Unit.Serial)
					return plan.Follow(ctx, jig, 6, 250*time.Millisecond, time.Second, func(sequence.Live) {})
				}
				require.NoError(s, s.lane.RunExclusive(s.Context(), e))
				st := s.lane.State()
				assert.Equal(s, before.Verdict, st.Verdict)
				if phase == Refused {
					phase = Ready
				}
				assert.Equal(s, phase, st.Phase)
				assert.Equal(s, []string{s.unit(1)}, loaded)
				assert.Len(s, s.runs(s.unit(1)), runs, "an exclusive task is no test")
				s.tests(s.unit(2))
			})
		})
	}
}

// What an exclusive task reads is corrected by the calibration that holds now, as in a test.
func TestAnExclusiveTasksReadingsAreCorrected(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		read := func() (ohm float64) {
			e := s.exclusive(s.unit(1), nil)
			e.Do = func(ctx context.Context, jig *fixture.Jig, plan *runner.Plan) error {
				return plan.Follow(ctx, jig, 6, 250*time.Millisecond, time.Second, func(r sequence.Live) { ohm = float64(r.Ohm.Value) })
			}
			require.NoError(s, s.lane.RunExclusive(s.Context(), e))
			return ohm
		}
		first := read()
		s.zero = 3
		s.calibration(sequence.KindZero, time.Now(), true)
		assert.InDelta(s, first-2*3, read(), 0.5)
	})
}

// What an exclusive task comes back with is told to whoever asked, and refused where the
// unit or the jig must not be touched: then it is never begun.
func TestExclusiveTaskRefused(t *testing.T) {
	broken := errors.New("it broke")
	for name, c := range map[string]struct {
		before func(*stand)
		wants  Code
		is     error
		began  bool
	}{
		"what it says itself": {before: func(*stand) {}, is: broken, began: true},
		"in hand elsewhere":   {before: func(s *stand) { s.claim(s.unit(1), true) }, wants: InHand},
		"lid open":            {before: func(s *stand) { s.put("jig opens interlock") }, wants: LidOpen},
		"emergency stop":      {before: func(s *stand) { s.put("jig emergency") }, wants: EmergencyStop},
		"calibration due":     {before: func(s *stand) { s.calibrated(time.Now().Add(-31*day), true) }, wants: CalibrationDue},
		"records not read":    {before: func(s *stand) { s.spoil(`DROP TABLE run_start`) }, wants: NoRecords},
		"another jig, with too much voltage": {before: func(s *stand) {
			s.ports.Unplug(firstPort)
			s.until("is away", func(st State) bool { return !st.Jig.Present })
			id := named("SIM-0001")
			id.VrefMicroVolt = 12_000_000
			s.jig = s.simulated(id)
			s.ports.Plug(firstPort, s.jig)
			s.until("is back", func(st State) bool { return st.Jig.Present })
		}, wants: NotPlanned},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.start()
				c.before(s)
				began := false
				err := s.lane.RunExclusive(s.Context(), s.exclusive(s.unit(1), func(context.Context) error { began = true; return broken }))
				require.Error(s, err)
				assert.Equal(s, c.began, began)
				assert.Equal(s, c.wants, RefusalOf(err).Code, err.Error())
				if c.is != nil {
					assert.ErrorIs(s, err, c.is)
				}
				assert.Zero(s, s.moves())
				assert.Equal(s, Ready, s.lane.State().Phase)
			})
		})
	}
}

// An exclusive task ends with whoever asked for it, and a lane with another unit's
// verdict takes none at all.
func TestExclusiveTaskEndsWithWhoAsked(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		ctx, cancel := context.WithCancel(s.Context())
		began, ended := make(chan bool, 1), make(chan error, 1)
		e := s.exclusive(s.unit(1), func(ctx context.Context) error {
			began <- true
			<-ctx.Done()
			ended <- ctx.Err()
			return ctx.Err()
		})
		returned := make(chan error, 1)
		go func() { returned <- s.lane.RunExclusive(ctx, e) }()
		answer(s, began)
		assert.Equal(s, LaneBusy, RefusalOf(s.lane.RunExclusive(s.Context(), e)).Code)
		cancel()
		assert.ErrorIs(s, answer(s, returned), context.Canceled)
		assert.ErrorIs(s, answer(s, ended), context.Canceled)
		s.until("has it back", func(st State) bool { return st.Phase == Ready })
		s.tests(s.unit(2))
		assert.Equal(s, OtherUnit, RefusalOf(s.lane.RunExclusive(s.Context(), e)).Code)
	})
}

// An exclusive task that was taken on just before the jig went is given back undone.
func TestExclusiveTaskWhileTheJigGoes(t *testing.T) {
	at(t, "", func(s *stand) {
		s.lane = NewLane(s.setup)
		s.lane.shown.change(func(st *State) { st.Jig.Present, st.Jig.Simulated = true, true })
		ended := make(chan error, 1)
		go func() { ended <- s.lane.RunExclusive(s.Context(), s.exclusive(s.unit(1), nil)) }()
		s.until("is exclusive", func(st State) bool { return st.Phase == Exclusive })
		s.ports.Unplug(firstPort)
		s.run()
		assert.Equal(s, NoJig, RefusalOf(answer(s, ended)).Code)
		assert.Equal(s, Ready, s.lane.State().Phase)
	})
}
