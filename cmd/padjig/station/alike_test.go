package station

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/jigsim/world"
	"padjig/results/pads"
	"padjig/results/stops"
	"padjig/sequence"
)

// layPad puts the pad of a number into the jig: each has contacts of its own, and the same
// ones when it comes again.
func (s *stand) layPad(pad uint64, faults string) {
	s.Helper()
	keypad := s.product.Circuit()
	parsed, err := world.ParseFaults(faults, keypad)
	require.NoError(s, err)
	require.NoError(s, s.jig.Load(world.Unit{Keypad: keypad, Contact: s.product.Nominal.Contact, Faults: parsed, Seed: pad}))
}

// lot has units tested, each with a pad of its own, which is that of its number.
func (s *stand) lot(n int) {
	s.Helper()
	for i := range n {
		s.layPad(uint64(i+1), "")
		s.tests(s.unit(i + 1))
	}
}

// last is the newest run of a unit.
func (s *stand) last(serial string) sequence.Run {
	s.Helper()
	all := s.runs(serial)
	require.NotEmpty(s, all)
	return all[len(all)-1].Run
}

// alike holds that a unit ended as the pad of another, used no attempt, and stopped the line.
func (s *stand) alike(serial, other string) {
	s.Helper()
	run := s.last(serial)
	assert.Equal(s, sequence.Incomplete, run.Outcome)
	if assert.Equal(s, sequence.SamePad, run.Why.Code) {
		assert.Equal(s, other, run.Why.Args[0])
		assert.Equal(s, s.runs(other)[0].ID.String(), run.Why.Args[1])
	}
	h, err := s.store.Runs.History(s.Context(), serial)
	require.NoError(s, err)
	assert.Zero(s, h.Of(s.product.Code, run.Simulated).Used(), "attempts")
	assert.Equal(s, stops.SamePad, s.stop().Rule)
}

func (s *stand) stop() stops.Stop {
	s.Helper()
	list, err := s.store.Stops.List(s.Context(), true)
	require.NoError(s, err)
	require.NotEmpty(s, list)
	return list[0]
}

// looked is quality that looked at the pad and lets the line go on.
func (s *stand) looked() {
	s.Helper()
	_, err := s.store.Stops.Lift(s.Context(), s.stop().Number, stops.Lifting{By: "Quirin", Reason: stops.Handling})
	require.NoError(s, err)
}

// What somebody does who has one pad and several labels.
func TestAPadUnderAnotherNumberIsNoPass(t *testing.T) {
	for name, cheat := range map[string]func(*stand){
		"left in the jig":      func(*stand) {},
		"taken out and put in": func(s *stand) { s.layPad(8, "") },
		"two units in between": func(s *stand) {
			s.layPad(9, "")
			s.tests(s.unit(9))
			s.layPad(10, "")
			s.tests(s.unit(10))
			s.layPad(8, "")
		},
		"put in turned first": func(s *stand) { s.layPad(8, "tail reversed"); s.test(s.unit(20)); s.place(s.unit(20)); s.layPad(8, "") },
		"after another start": func(s *stand) { s.end(); s.start(); s.layPad(8, "") },
		"after a fail of its own": func(s *stand) {
			s.layPad(8, "key 7 open")
			s.test(s.unit(21))
			s.place(s.unit(21))
			s.looked()
			s.layPad(8, "")
		},
		"one key repaired": func(s *stand) { s.layPad(8, "key 7 high 90 ohm") },
		"another jig of the line": func(s *stand) {
			s.end()
			s.ports.Unplug(firstPort)
			s.jig = s.simulated(named("SIM-0002"))
			s.plug()
			s.start()
			s.layPad(8, "")
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			at(t, "", func(s *stand) {
				s.start()
				s.lot(8)
				cheat(s)
				s.test(s.unit(11))
				s.alike(s.unit(11), s.unit(8))
				s.layPad(12, "")
				assert.Equal(s, LineStopped, s.test(s.unit(12)).Refusal.Code, "nobody goes on before somebody looked")
				s.looked()
				s.tests(s.unit(12))
				s.layPad(8, "") // and again, under a third label
				s.test(s.unit(13))
				s.alike(s.unit(13), s.unit(8))
				s.looked()
				s.layPad(13, "") // which had a pad of its own
				s.tests(s.unit(13))
			})
		})
	}
}

// A fail stays one, and says so too.
func TestAFailedPadUnderAnotherNumber(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.lot(8)
		s.layPad(9, "key 7 open")
		assert.Equal(s, sequence.Fail, s.test(s.unit(9)).Verdict.Outcome)
		s.place(s.unit(9)) // its tag, on another pad
		st := s.test(s.unit(10))
		assert.Equal(s, sequence.Fail, st.Verdict.Outcome)
		assert.Equal(s, sequence.SamePad, st.Verdict.Why.Code)
		assert.Equal(s, s.unit(9), st.Verdict.Why.Args[0])
		assert.Contains(s, st.Verdict.Reason, s.unit(9))
		s.place(s.unit(10))
		assert.Equal(s, LineStopped, s.test(s.unit(11)).Refusal.Code)
	})
}

// What comes again rightly, or cannot be told.
func TestWhatIsNotTakenForAnotherPad(t *testing.T) {
	references := "references: {good: GOOD-1, every: 100 h}\n"
	for name, c := range map[string]struct {
		more string
		come func(*stand)
	}{
		"the same unit again": {"", func(s *stand) {
			s.lot(8)
			s.layPad(9, "key 7 open")
			assert.Equal(s, sequence.Fail, s.test(s.unit(9)).Verdict.Outcome)
			s.layPad(9, "")
			s.tests(s.unit(9))
		}},
		"the reference unit": {references, func(s *stand) {
			for i := range 10 {
				s.layPad(77, "")
				s.tests("GOOD-1")
				s.layPad(uint64(i+1), "")
				s.tests(s.unit(i + 1))
			}
		}},
		"too few before": {"", func(s *stand) {
			for i := range 6 {
				s.layPad(1, "")
				s.tests(s.unit(i + 1))
			}
		}},
		"pads that are all alike": {"", func(s *stand) {
			for i := range 25 {
				s.layPad(1, "")
				s.tests(s.unit(i + 1))
			}
		}},
		"another pad each": {"", func(s *stand) { s.lot(25) }},
		"a gauge study": {"", func(s *stand) {
			s.lot(8)
			s.end()
			j, _ := s.job(s.unit(9))
			j.Study = true
			assert.Equal(s, sequence.Pass, s.done(j).Outcome)
		}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			at(t, c.more, func(s *stand) {
				s.start()
				if c.more != "" {
					s.layPad(77, "")
					s.tests("GOOD-1")
				}
				c.come(s)
			})
		})
	}
}

// The reference unit is no unit of the line, whatever label is scanned with it.
func TestTheReferenceUnitUnderANumberIsNoPass(t *testing.T) {
	at(t, "references: {good: GOOD-1, every: 100 h}\n", func(s *stand) {
		s.start()
		s.layPad(77, "")
		s.tests("GOOD-1")
		s.lot(8)
		s.layPad(77, "")
		s.test(s.unit(9))
		s.alike(s.unit(9), "GOOD-1")
	})
}

// What is read of simulated pads says nothing of real ones.
func TestSimulatedPadsAndRealOnesAreNotCompared(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.lot(8)
		stored := s.runs(s.unit(8))[0]
		stored.Serial, stored.Simulated, stored.Seq = s.unit(9), false, 0
		c, err := s.store.Pads.Before(s.Context(), stored)
		require.NoError(s, err)
		assert.Equal(s, pads.TooFew, c.Conclusion)
		stored.Simulated = true
		c, err = s.store.Pads.Before(s.Context(), stored)
		require.NoError(s, err)
		assert.Equal(s, pads.SamePad, c.Conclusion)
	})
}

// Another product's unit in between changes nothing.
func TestAnotherProductInBetween(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.lot(8)
		other := parsed(s, swap(gcc(s), "product: GCC-20", "product: GCC-21"))
		j, _ := s.job(s.unit(30))
		j.Product = other
		s.end()
		assert.Equal(s, sequence.Pass, s.done(j).Outcome)
		j, _ = s.job(s.unit(9))
		assert.Equal(s, sequence.Incomplete, s.done(j).Outcome)
		s.alike(s.unit(9), s.unit(8))
	})
}

// A unit that reads like another pad than before is said to, and goes on.
func TestAUnitThatReadsLikeAnotherPadThanBefore(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.lot(8)
		s.layPad(9, "key 7 open")
		s.test(s.unit(9))
		s.layPad(10, "")
		s.tests(s.unit(9))
		c, err := s.store.Pads.Before(s.Context(), s.runs(s.unit(9))[1])
		require.NoError(s, err)
		assert.True(s, c.OwnChanged, "%+v", c.Own)
		s.layPad(11, "key 7 open")
		s.test(s.unit(11))
		s.layPad(11, "")
		s.tests(s.unit(11))
		c, err = s.store.Pads.Before(s.Context(), s.runs(s.unit(11))[1])
		require.NoError(s, err)
		assert.False(s, c.OwnChanged, "%+v", c.Own)
	})
}

// Two pads that read alike: quality decides that they are two, which stays on record.
func TestTwoPadsThatReadAlike(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.lot(8)
		unit := s.unit(9)
		scan := func(overridden bool) State {
			s.layPad(8, "")
			s.lane.Scan(Scan{Serial: unit, Operator: "Quirin", Overridden: overridden})
			return s.settled(unit)
		}
		assert.Equal(s, sequence.Incomplete, scan(true).Verdict.Outcome, "an override for something else is none for this")
		s.looked()
		assert.Equal(s, sequence.Incomplete, scan(false).Verdict.Outcome)
		assert.Equal(s, LineStopped, scan(true).Refusal.Code, "who overrides a unit lifts no stop")
		s.looked()
		s.refused(unit, SamePadAgain, func() { scan(false) })
		st := scan(true)
		assert.Equal(s, sequence.Pass, st.Verdict.Outcome)
		assert.Equal(s, sequence.SamePad, st.Verdict.Why.Code, "it says so")
		assert.Empty(s, st.Verdict.Stops)
		s.layPad(10, "")
		s.tests(s.unit(10))
	})
}

// What cannot be compared is no pass; what was found stays found.
func TestWhatCannotBeComparedIsNoPass(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.lot(8)
		s.spoil("DROP TRIGGER run_no_update", `UPDATE run SET ended = '[1]' WHERE seq = 4`)
		s.layPad(9, "")
		s.test(s.unit(9))
		run := s.last(s.unit(9))
		assert.Equal(s, sequence.Incomplete, run.Outcome)
		assert.Equal(s, sequence.NotCompared, run.Why.Code)
		s.layPad(10, "key 7 open")
		s.test(s.unit(10))
		run = s.last(s.unit(10))
		assert.Equal(s, sequence.Fail, run.Outcome)
		assert.Empty(s, run.Why.Code)
	})
}
