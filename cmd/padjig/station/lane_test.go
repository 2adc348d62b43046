package station

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/note"
	"padjig/cmd/padjig/station/start"
	"padjig/fixture"
	"padjig/results/returns"
	"padjig/sequence"
)

// A unit goes through: its verdict is what is stored, by whom and on which jig.
func TestAGoodUnitPasses(t *testing.T) {
	at(t, "", func(s *stand) {
		var loaded []string
		s.setup.Load = func(serial string) { loaded = append(loaded, serial) }
		s.start()
		st := s.test(s.unit(1))
		require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
		assert.Equal(s, sequence.Pass, st.Verdict.Outcome)
		runs := s.runs(s.unit(1))
		require.Len(s, runs, 1)
		assert.Equal(s, runs[0].ID, st.Verdict.ID)
		assert.Equal(s, "Abel", runs[0].Operator)
		assert.Equal(s, "SIM-0001", runs[0].Jig.Serial)
		assert.Equal(s, 1, st.Tally.First)
		assert.Len(s, st.Keys, len(s.product.Keys))
		assert.Equal(s, []string{s.unit(1)}, loaded)
	})
}

// The keys of a verdict are those that are stored, also where a wider cause took
// back what had been shown of them.
func TestTheVerdictsKeys(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		for n, fault := range []string{"line R3 open", "tail reversed", "lines C1 C2 shorted 1 ohm"} {
			s.put(fault)
			st := s.test(s.unit(n + 1))
			require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
			assert.Equal(s, s.runs(s.unit(n + 1))[0].Keys, st.Keys, fault)
			s.place(s.unit(n + 1))
		}
	})
}

// How a unit goes on is shown key by key, and each change is told.
func TestTheLaneShowsHowFarItIs(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		changes, stop := s.lane.Subscribe()
		s.scan(s.unit(1))
		good, version := 0, uint64(0)
		for st := s.lane.State(); st.Phase == Running; st = s.lane.State() {
			<-changes
			now := 0
			for _, k := range st.Keys {
				if k.Verdict == sequence.KeyPass {
					now++
				}
			}
			assert.GreaterOrEqual(s, now, good)
			assert.GreaterOrEqual(s, st.Version, version)
			assert.LessOrEqual(s, st.Done, st.Total)
			good, version = now, st.Version
			if len(st.Keys) > 0 { // what is handed out is nobody else's
				st.Keys[0].Key = "mine"
			}
		}
		assert.Positive(s, good)
		s.settled(s.unit(1))
		assert.Equal(s, s.product.Keys[0].Label, s.lane.State().Keys[0].Key)
		stop()
		s.lane.Clear()
		select {
		case <-changes: // of before
		default:
		}
		s.lane.Clear()
		assert.Empty(s, changes, "nobody listens any more")
	})
}

// A number that cannot be one of this product is refused at once.
func TestAMisreadScan(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.refused(s.unit(1)[:7], SerialWrong, func() { s.scan(s.unit(1)[:7]) })
		s.refused("", SerialWrong, func() { s.scan("") })
		s.tests(s.unit(1))
	})
}

// Two scans at once: one of them is tested, the other does nothing.
func TestTwoScansAtOnce(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		go s.scan(s.unit(1))
		go s.scan(s.unit(2))
		synctest.Wait()
		st := s.until("is done", func(st State) bool { return st.Phase == Ended })
		assert.Len(s, append(s.runs(s.unit(1)), s.runs(s.unit(2))...), 1)
		assert.Len(s, s.runs(st.Unit.Serial), 1)
	})
}

// A scanner that fires twice scans a unit once, within the time that a slip takes;
// later it is a wish, and refused for a unit that has passed. Whoever decides
// otherwise is not slowed down.
func TestTheSameNumberAgain(t *testing.T) {
	at(t, "", func(s *stand) {
		s.setup.Twice = 0 // the usual time
		s.start()
		s.tests(s.unit(1))
		time.Sleep(doubleScan - 2*time.Millisecond)
		s.scan(s.unit(1))
		st := s.lane.State()
		assert.Equal(s, note.Of(note.Twice, s.unit(1)), st.Note)
		assert.Equal(s, Ended, st.Phase)
		s.lane.Scan(Scan{Serial: s.unit(1), Operator: "Qiu", Overridden: true})
		assert.Equal(s, 2, s.settled(s.unit(1)).Verdict.Attempt)
		time.Sleep(doubleScan)
		s.refused(s.unit(1), PassedAlready, func() { s.scan(s.unit(1)) })
	})
}

// A unit fails as often as the product allows, and not once more.
func TestAttemptsAreUsedUp(t *testing.T) {
	at(t, "", func(s *stand) {
		s.put("key 7 open")
		s.start()
		for n := range s.product.Attempts {
			st := s.test(s.unit(1))
			assert.Equal(s, sequence.Fail, st.Verdict.Outcome)
			assert.Equal(s, n+1, st.Verdict.Attempt)
		}
		s.refused(s.unit(1), AttemptsUsed, func() { s.scan(s.unit(1)) })
	})
}

// An open lid is waited for no longer than a person takes, and so is the start when it
// is closed; then it takes another scan.
func TestTheLid(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.put("jig opens interlock")
		moves := s.moves()
		s.scan(s.unit(1))
		st := s.until("waits", func(st State) bool { return st.Phase == Lid })
		assert.Equal(s, LidOpen, st.Refusal.Code)
		time.Sleep(start.Patience - time.Second)
		assert.Equal(s, st.Epoch, s.lane.State().Epoch, "it says so once")
		assert.Equal(s, moves, s.moves())
		s.put("")
		s.press()
		assert.Equal(s, sequence.Pass, s.settled(s.unit(1)).Verdict.Outcome)

		s.put("jig opens interlock")
		s.refused(s.unit(2), LidOpen, func() { s.scan(s.unit(2)); time.Sleep(start.Patience + time.Second) })
		s.put("")
		time.Sleep(time.Minute)
		assert.Empty(s, s.runs(s.unit(2)), "closing the lid later starts nothing")
		s.tests(s.unit(2))
	})
}

// An emergency stop that is pressed refuses the unit; its release starts nothing.
func TestTheEmergencyStop(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.put("jig emergency")
		s.refused(s.unit(1), EmergencyStop, func() { s.scan(s.unit(1)) })
		s.put("jig opens interlock; jig emergency after 1 s")
		s.refused(s.unit(2), EmergencyStop, func() { s.scan(s.unit(2)); time.Sleep(2 * time.Second) })
		s.put("")
		time.Sleep(time.Minute)
		assert.Empty(s, s.runs(s.unit(1)))
		assert.Empty(s, s.runs(s.unit(2)))
		s.tests(s.unit(1))
	})
}

// What happens to the jig in the middle of a test ends it: the run is stored as
// aborted, says why, and takes no attempt.
func TestTroubleDuringATest(t *testing.T) {
	for fault, wants := range map[string]struct {
		code  Code
		cause error
	}{
		"jig opens interlock for 200 ms at key 5": {LidOpen, fixture.ErrInterlock},
		"jig emergency for 200 ms at key 5":       {EmergencyStop, fixture.ErrEmergency},
		"jig reboots at key 5":                    {"", nil},
		"jig silent for 10 s at key 5":            {"", nil},
	} {
		t.Run(fault, func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.start()
				s.put(fault)
				st := s.test(s.unit(1))
				require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
				assert.Equal(s, sequence.Aborted, st.Verdict.Outcome)
				assert.Equal(s, wants.code, Stilled(st.Verdict.Cause))
				require.Error(s, st.Verdict.Cause)
				if wants.cause != nil {
					assert.ErrorIs(s, st.Verdict.Cause, wants.cause)
				}
				assert.Len(s, s.store1(s.unit(1)), 1)
				s.put("")
				time.Sleep(10 * time.Second)
				s.until("has its jig", func(st State) bool { return st.Jig.Present })
				s.tests(s.unit(1))
				assert.Equal(s, 1, s.runs(s.unit(1))[1].Attempt)
			})
		})
	}
}

// A verdict that was left alone is hidden: nobody knows any more what lies in
// the jig. Scanning its unit brings it back for as long again, without a test;
// and neither another matter nor a unit in hand is hidden.
func TestTheIdleLock(t *testing.T) {
	at(t, "", func(s *stand) {
		s.setup.LockAfter = time.Minute
		s.start()
		time.Sleep(2 * time.Minute)
		assert.Equal(s, Ready, s.lane.State().Phase)
		s.tests(s.unit(1))
		time.Sleep(59 * time.Second)
		assert.Equal(s, Ended, s.lane.State().Phase)
		time.Sleep(2 * time.Second)
		assert.Equal(s, Locked, s.lane.State().Phase)
		for range 2 {
			st := s.test(s.unit(1))
			assert.Equal(s, Ended, st.Phase)
			assert.Equal(s, note.Of(note.Recalled, s.unit(1)), st.Note)
			time.Sleep(59 * time.Second)
			assert.Equal(s, Ended, s.lane.State().Phase)
			time.Sleep(2 * time.Second)
			assert.Equal(s, Locked, s.lane.State().Phase)
		}
		assert.Len(s, s.runs(s.unit(1)), 1)
		s.tests(s.unit(2)) // another unit is in the jig now
		s.put("jig emergency")
		s.test(s.unit(3))
		time.Sleep(2 * time.Minute)
		assert.Equal(s, Refused, s.lane.State().Phase)
	})
}

// A verdict is hidden also while the jig is away or let go of: that is when
// something else is put into it.
func TestTheIdleLockWithoutAJig(t *testing.T) {
	for name, away := range map[string]func(*stand){
		"unplugged": func(s *stand) { s.ports.Unplug(firstPort) },
		"let go of": func(s *stand) { s.lane.LetGo(s.Context()) },
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.setup.LockAfter = time.Minute
				s.start()
				s.tests(s.unit(1))
				away(s)
				time.Sleep(2 * time.Minute)
				assert.Equal(s, Locked, s.lane.State().Phase)
			})
		})
	}
}

// A stage of a returns case is made on a lane in its order and shows as what it
// is; a stage of a unit that has a verdict is not taken for a slip or a recall.
func TestStagesOnALane(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.tests(s.unit(1))
		c := s.came(s.unit(1))
		stage := func(p sequence.Purpose) State {
			s.lane.Scan(Scan{Serial: s.unit(1), Operator: "Rosa", Return: &Return{Case: c, Purpose: p, Exercising: sequence.Exercising{Presses: 2}}})
			return s.settled(s.unit(1))
		}
		s.refused(s.unit(1), Returned, func() { s.scan(s.unit(1)) })
		s.refused(s.unit(1), StageRefused, func() { stage(sequence.ReturnTest) })
		for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise} {
			st := stage(p)
			require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
			assert.Equal(s, p, st.Verdict.Purpose)
			assert.Equal(s, c.ID.String(), st.Verdict.Case)
			if p == sequence.FirstPress {
				s.refused(s.unit(1), StageRefused, func() { stage(p) })
			}
		}
		assert.Equal(s, 1, s.lane.State().Tally.Units, "stages are no production")
		now, err := s.store.Returns.Case(s.Context(), c.Number)
		require.NoError(s, err)
		require.NoError(s, s.store.Returns.Dispose(s.Context(), now, returns.Disposition{Code: returns.NotReproduced, Disposal: returns.SentAsItIs, Reason: "nothing found", By: "Rosa"}))
		s.refused(s.unit(1), StageRefused, func() { stage(sequence.Exercise) })
	})
}
