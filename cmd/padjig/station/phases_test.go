package station

import (
	"context"
	"database/sql"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/note"
	"padjig/fixture"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/runner"
)

// phases bring a lane into each of its phases, with the first unit, and give a
// function to let it go on where it is held there.
var phases = map[Phase]func(*stand) (goOn func()){
	Ready: func(s *stand) func() {
		s.start()
		return func() {}
	},
	Lid: func(s *stand) func() {
		s.start()
		s.put("jig opens interlock")
		s.scan(s.unit(1))
		s.until("waits for the lid", func(st State) bool { return st.Phase == Lid })
		return func() { s.put(""); s.press() }
	},
	Armed: func(s *stand) func() {
		s.start()
		s.armed(s.unit(1))
		return s.press
	},
	Running: func(s *stand) func() {
		s.start()
		s.scan(s.unit(1))
		s.until("has tested a key", func(st State) bool { return st.Phase == Running && st.Done > 0 })
		return func() {}
	},
	Storing: func(s *stand) func() {
		s.start()
		return s.storing(s.unit(1))
	},
	Ended: func(s *stand) func() {
		s.start()
		s.tests(s.unit(1))
		return func() {}
	},
	Refused: func(s *stand) func() {
		s.start()
		s.put("jig emergency")
		s.test(s.unit(1))
		s.put("")
		return func() {}
	},
	Exclusive: func(s *stand) func() {
		s.start()
		over, ended := make(chan struct{}), make(chan struct{})
		go func() {
			defer close(ended)
			_ = s.lane.RunExclusive(s.Context(), s.exclusive(s.unit(1), func(ctx context.Context) error {
				select {
				case <-over:
				case <-ctx.Done():
				}
				return ctx.Err()
			}))
		}()
		s.until("is exclusive", func(st State) bool { return st.Phase == Exclusive })
		return func() { close(over); <-ended }
	},
	Locked: func(s *stand) func() {
		s.setup.LockAfter = time.Minute
		s.start()
		s.tests(s.unit(1))
		s.until("is locked", func(st State) bool { return st.Phase == Locked })
		return func() {}
	},
}

// inEach does something in each phase, at a stand of its own.
func inEach(t *testing.T, do func(s *stand, phase Phase, goOn func())) {
	for phase, enter := range phases {
		t.Run(string(phase), func(t *testing.T) {
			t.Parallel()
			at(t, "", func(s *stand) {
				goOn := enter(s)
				require.Equal(s, phase, s.lane.State().Phase)
				do(s, phase, goOn)
			})
		})
	}
}

// storing has a unit tested, and somebody else hold the records while its run is
// to be stored, until the function is called.
func (s *stand) storing(serial string) (goOn func()) {
	return s.storingOf(Scan{Serial: serial, Operator: "Abel"})
}

// staging is storing of a stage of a returns case.
func (s *stand) staging(c returns.Case, purpose sequence.Purpose) (goOn func()) {
	return s.storingOf(Scan{Serial: c.Serial, Operator: "Rosa", Return: &Return{Case: c, Purpose: purpose}})
}

func (s *stand) storingOf(scan Scan) (goOn func()) {
	s.Helper()
	s.lane.Scan(scan)
	s.until("claims the unit", func(st State) bool { return st.Phase == Running && st.Step != "" })
	other, err := s.aside().Conn(s.Context())
	require.NoError(s, err)
	s.do(other, "BEGIN IMMEDIATE")
	s.until("stores", func(st State) bool { return st.Phase == Storing })
	return func() {
		s.do(other, "ROLLBACK")
		require.NoError(s, other.Close())
	}
}

func (s *stand) do(c *sql.Conn, statement string) {
	s.Helper()
	_, err := c.ExecContext(s.Context(), statement)
	require.NoError(s, err)
}

// exclusive is a task on a good unit that waits for as long as do does.
func (s *stand) exclusive(serial string, do func(context.Context) error) ExclusiveTask {
	return ExclusiveTask{
		Serial: serial, Operator: "Rosa", Product: s.product, Simulated: true,
		Do: func(ctx context.Context, _ *fixture.Jig, _ *runner.Plan) error { return do(ctx) },
	}
}

// The same number again and another one, in each phase: while a unit is in hand
// both do nothing but say so; else another unit is tested, and what stood is gone.
func TestAScanInEachPhase(t *testing.T) {
	inEach(t, func(s *stand, phase Phase, goOn func()) {
		first, second := s.unit(1), s.unit(2)
		if !phase.Busy() {
			s.tests(second)
			return
		}
		s.scan(first)
		assert.Equal(s, note.Of(note.Twice, first), s.lane.State().Note)
		s.scan(second)
		st := s.lane.State()
		assert.Equal(s, note.Of(note.Busy, second), st.Note)
		assert.Equal(s, phase, st.Phase)
		assert.Equal(s, first, st.Unit.Serial)
		goOn()
		if phase == Exclusive {
			s.until("has it back", func(st State) bool { return st.Phase == Ready })
			assert.Empty(s, s.runs(first), "an exclusive task is no test")
		} else {
			assert.Equal(s, sequence.Pass, s.settled(first).Verdict.Outcome)
			assert.Len(s, s.runs(first), 1)
		}
		assert.Empty(s, s.runs(second))
		s.tests(s.unit(3))
	})
}

// Stop in each phase: before anything moved nothing moves, a test that runs is
// stored as aborted and takes no attempt, what is being stored stands, and
// without a unit in hand nothing changes but that it is said.
func TestStopInEachPhase(t *testing.T) {
	inEach(t, func(s *stand, phase Phase, goOn func()) {
		first, before, moves := s.unit(1), s.lane.State(), s.moves()
		s.lane.Stop()
		if !phase.Busy() {
			after := s.lane.State()
			assert.Equal(s, &Note{Code: note.NotNow}, after.Note)
			assert.Equal(s, before.Phase, after.Phase)
			assert.Equal(s, before.Verdict, after.Verdict)
			assert.Equal(s, before.Refusal, after.Refusal)
			s.tests(s.unit(2))
			return
		}
		if phase == Storing { // elsewhere it may be over already
			assert.Equal(s, note.Stopping, s.lane.State().Note.Code)
			goOn()
		}
		switch st := s.until("is over", func(st State) bool { return !st.Phase.Busy() }); phase {
		case Lid, Armed:
			assert.Equal(s, Refused, st.Phase)
			assert.Equal(s, Stopped, st.Refusal.Code, st.Refusal.Error())
			assert.Equal(s, moves, s.moves(), "nothing moved")
			assert.Empty(s, s.runs(first))
			s.put("")
		case Running:
			assert.Equal(s, sequence.Aborted, st.Verdict.Outcome)
			assert.Equal(s, Stopped, Stilled(st.Verdict.Cause))
			assert.Equal(s, "interrupted by somebody at this computer", st.Verdict.Reason)
			assert.Len(s, s.runs(first), 1)
		case Storing:
			assert.Equal(s, sequence.Pass, st.Verdict.Outcome, "it was tested before")
			assert.Len(s, s.runs(first), 1)
		case Exclusive:
			assert.Equal(s, Ready, st.Phase)
			assert.Empty(s, s.runs(first))
		}
		h, err := s.store.Runs.History(s.Context(), first)
		require.NoError(s, err)
		assert.Equal(s, phase == Storing, h.Of(s.product.Code, true).Used() == 1, "what was stopped is no attempt")
		s.tests(s.unit(2))
	})
}

// The jig is unplugged in each phase: what is in hand ends, a verdict stands,
// and nothing that is scanned meanwhile is tested, also not when the jig is back.
func TestUnpluggedInEachPhase(t *testing.T) {
	inEach(t, func(s *stand, phase Phase, goOn func()) {
		first, verdict := s.unit(1), s.lane.State().Verdict
		s.ports.Unplug(firstPort)
		if phase == Storing {
			goOn()
		}
		st := s.until("is without its jig", func(st State) bool { return !st.Jig.Present && !st.Phase.Busy() })
		assert.Error(s, st.Jig.Why)
		switch phase {
		case Lid, Armed:
			assert.Equal(s, NoJig, st.Refusal.Code)
			assert.Empty(s, s.runs(first))
		case Running:
			assert.Equal(s, sequence.Aborted, st.Verdict.Outcome)
			assert.Len(s, s.runs(first), 1)
		case Storing:
			assert.Equal(s, sequence.Pass, st.Verdict.Outcome)
		case Ended, Locked:
			assert.Equal(s, verdict, st.Verdict)
			assert.Equal(s, phase, st.Phase)
		}
		s.refused(s.unit(2), NoJig, func() { s.scan(s.unit(2)) })
		s.put("")
		s.ports.Plug("sim/7", s.jig) // under another name
		s.until("has found it", func(st State) bool { return st.Jig.Present && st.Jig.Port == "sim/7" })
		synctest.Wait()
		assert.Empty(s, s.runs(s.unit(2)), "what was scanned meanwhile")
		s.tests(s.unit(3))
	})
}

// The jig is let go of in each phase: not before the unit is out of its hands,
// and then nothing is tested until it is taken back.
func TestLetGoInEachPhase(t *testing.T) {
	inEach(t, func(s *stand, phase Phase, goOn func()) {
		free := make(chan struct{})
		go func() { s.lane.LetGo(s.Context()); close(free) }()
		s.until("was asked", func(st State) bool { return !st.LetGo.IsZero() })
		goOn()
		answer(s, free)
		st := s.lane.State()
		assert.False(s, st.Phase.Busy())
		assert.ErrorIs(s, st.Jig.Why, ErrLetGo)
		if phase == Running || phase == Storing || phase == Lid || phase == Armed {
			assert.Equal(s, sequence.Pass, st.Verdict.Outcome, "it was let finish")
		}
		jig, err := s.ports.Open(s.Context(), firstPort, linkOptions) // as the terminal does
		require.NoError(s, err)
		require.NoError(s, jig.Close())
		s.refused(s.unit(2), NoJig, func() { s.scan(s.unit(2)) })
		require.NoError(s, s.lane.TakeBack(s.lane.State().LetGo))
		s.until("has it back", func(st State) bool { return st.Jig.Present })
		s.tests(s.unit(3))
	})
}

// Who waits for a jig to be let go of is not left waiting when they give up, or
// when it is taken back before.
func TestLetGoGivenUp(t *testing.T) {
	for name, giveUp := range map[string]func(*stand, context.CancelFunc){
		"by who asked": func(_ *stand, cancel context.CancelFunc) { cancel() },
		"taken back":   func(s *stand, _ context.CancelFunc) { assert.NoError(s, s.lane.TakeBack(s.lane.State().LetGo)) },
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				phases[Running](s)
				ctx, cancel := context.WithCancel(s.Context())
				defer cancel()
				returned := make(chan struct{})
				go func() { s.lane.LetGo(ctx); close(returned) }()
				s.until("was asked", func(st State) bool { return !st.LetGo.IsZero() })
				giveUp(s, cancel)
				answer(s, returned)
				assert.Equal(s, Running, s.lane.State().Phase)
				assert.Equal(s, sequence.Pass, s.settled(s.unit(1)).Verdict.Outcome)
			})
		})
	}
}

// Another revision is released in each phase: the unit in hand is judged by the
// one it was begun with, a verdict stands, and the next unit takes the new one.
func TestReleaseInEachPhase(t *testing.T) {
	inEach(t, func(s *stand, phase Phase, goOn func()) {
		first, verdict := s.unit(1), s.lane.State().Verdict
		next := s.revised("D")
		s.lane.Release(next)
		if phase.Busy() {
			assert.Equal(s, "C", s.lane.State().Product.Revision)
		}
		goOn()
		st := s.until("takes it", func(st State) bool { return st.Product.Revision == "D" })
		assert.Equal(s, note.Of(note.Released, "D"), st.Note)
		switch phase {
		case Lid, Armed, Running, Storing:
			require.NotNil(s, st.Verdict)
			assert.Equal(s, "C", st.Verdict.Revision)
			assert.Equal(s, sequence.Pass, st.Verdict.Outcome)
		case Ended, Locked:
			assert.Equal(s, verdict, st.Verdict)
			assert.Equal(s, phase, st.Phase)
		default:
			assert.Equal(s, Ready, st.Phase)
			assert.Empty(s, s.runs(first))
		}
		s.tests(s.unit(2))
		assert.Equal(s, "D", s.runs(s.unit(2))[0].Revision)
	})
}

// Clear takes away what stands, but neither a unit in hand nor what is hidden.
func TestClearInEachPhase(t *testing.T) {
	inEach(t, func(s *stand, phase Phase, goOn func()) {
		s.lane.Clear()
		st := s.lane.State()
		if phase.Busy() || phase == Locked {
			assert.Equal(s, phase, st.Phase)
			assert.Equal(s, s.unit(1), st.Unit.Serial)
		} else {
			assert.Equal(s, Ready, st.Phase)
			assert.Empty(s, st.Unit.Serial)
			assert.Nil(s, st.Verdict)
			assert.Nil(s, st.Refusal)
		}
		goOn()
		s.until("is done", func(st State) bool { return !st.Phase.Busy() })
	})
}

// The station ends in each phase: a unit under test is stored as aborted, what
// waits is not begun, and nothing is in hand any more.
func TestTheEndInEachPhase(t *testing.T) {
	inEach(t, func(s *stand, phase Phase, goOn func()) {
		if phase == Storing || phase == Exclusive {
			goOn() // the end of the loop is waited for
		}
		s.end()
		st := s.lane.State()
		assert.False(s, st.Phase.Busy(), st.Phase)
		assert.False(s, st.Jig.Present)
		runs := s.runs(s.unit(1))
		switch phase {
		case Running:
			require.Len(s, runs, 1)
			assert.Equal(s, sequence.Aborted, runs[0].Outcome)
		case Storing, Ended, Locked:
			require.Len(s, runs, 1)
			assert.Equal(s, sequence.Pass, runs[0].Outcome)
		default:
			assert.Empty(s, runs)
		}
		h, err := s.store.Runs.History(s.Context(), s.unit(1))
		require.NoError(s, err)
		assert.Nil(s, h.InHand)
	})
}

// A stop that comes before the loop has taken up what was scanned, or asked for, is not
// lost, and stops only that.
func TestStopBeforeItBegins(t *testing.T) {
	at(t, "", func(s *stand) {
		s.lane = NewLane(s.setup)
		s.lane.shown.change(func(st *State) { st.Jig.Present = true })
		s.scan(s.unit(1))
		require.Equal(s, Running, s.lane.State().Phase)
		s.lane.Stop()
		assert.Equal(s, note.Stopping, s.lane.State().Note.Code)
		s.refused(s.unit(1), Stopped, s.run)
		s.tests(s.unit(2))
	})
	at(t, "", func(s *stand) {
		s.lane = NewLane(s.setup)
		s.lane.shown.change(func(st *State) { st.Jig.Present, st.Jig.Simulated = true, true })
		ended := make(chan error, 1)
		go func() {
			ended <- s.lane.RunExclusive(s.Context(), s.exclusive(s.unit(1), func(context.Context) error {
				s.Error("it was done all the same")
				return nil
			}))
		}()
		s.until("is exclusive", func(st State) bool { return st.Phase == Exclusive })
		s.lane.Stop()
		s.run()
		assert.Equal(s, Stopped, RefusalOf(answer(s, ended)).Code)
		s.tests(s.unit(2))
	})
}
