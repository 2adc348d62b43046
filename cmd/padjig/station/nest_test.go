package station

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// leaveIn has whoever works at the stand scan one number after another and never open
// the lid.
func (s *stand) leaveIn() { s.setup.Load = nil }

// openLid opens the lid for so long.
func (s *stand) openLid(d time.Duration) {
	s.jig.Lid(true)
	time.Sleep(d)
	s.jig.Lid(false)
}

// stillIn holds that a lane asks for a unit to be taken out, with nothing moved.
func (s *stand) stillIn(in, scanned string) {
	s.Helper()
	before := s.moves()
	s.scan(scanned)
	st := s.until("asks for the unit", func(st State) bool {
		return st.Unit.Serial == scanned && (st.Phase == Lid || !st.Phase.Busy())
	})
	require.Equal(s, Lid, st.Phase, "%v", st.Refusal)
	require.Equal(s, NotOpened, st.Refusal.Code)
	assert.Equal(s, []string{in, scanned, st.Jig.Serial}, st.Refusal.Args)
	assert.Equal(s, before, s.moves(), "something moved")
}

// job without anybody who changes the unit.
func (s *stand) leftIn(serial string) *candidate {
	j, _ := s.job(serial)
	j.lay = func(*candidate) {}
	return j
}

// One pad is left in the jig and the lid never moves: the first number has its verdict,
// no other gets one. When the pad is changed, start is pressed.
func TestAPadIsNotTwoPads(t *testing.T) {
	at(t, "", func(s *stand) {
		s.leaveIn()
		s.start()
		s.tests(s.unit(1))
		for n := 2; n <= 4; n++ {
			s.stillIn(s.unit(1), s.unit(n))
			s.lane.Stop()
			s.settled(s.unit(n))
			assert.Empty(s, s.runs(s.unit(n)))
		}
		s.refused(s.unit(1), PassedAlready, func() { s.scan(s.unit(1)) }) // another number first, then back
		s.refused(s.unit(2), NotOpened, func() { s.scan(s.unit(2)) })     // nobody comes

		s.stillIn(s.unit(1), s.unit(2))
		s.openLid(99 * time.Millisecond)
		time.Sleep(time.Second)
		assert.Equal(s, NotOpened, s.lane.State().Refusal.Code, "a knock against the lid")
		s.jig.Lid(true)
		s.until("the lid is open", func(st State) bool { return st.Phase == Lid && st.Refusal.Code == LidOpen })
		time.Sleep(time.Second)
		s.jig.Lid(false)
		s.press()
		st := s.settled(s.unit(2))
		require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
		assert.Equal(s, sequence.Pass, st.Verdict.Outcome)
		s.stillIn(s.unit(2), s.unit(3))
	})
}

// The lid may be opened and closed before the number is scanned, and one number may be
// tested again as it lies.
func TestUnitsAreChanged(t *testing.T) {
	at(t, "", func(s *stand) {
		s.leaveIn()
		s.start()
		s.tests(s.unit(1))
		s.openLid(time.Second)
		s.tests(s.unit(2))
		s.put("key 7 open")
		for range 2 {
			st := s.test(s.unit(3))
			require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
			assert.Equal(s, sequence.Fail, st.Verdict.Outcome)
		}
		s.place(s.unit(3)) // its tag; the pad lies in the jig
		s.stillIn(s.unit(3), s.unit(4))
	})
}

// What happens between two numbers with one pad gets nobody round it.
func TestNoWayRoundTheNest(t *testing.T) {
	for name, between := range map[string]func(*stand){
		"the station is started anew": func(s *stand) {
			s.end()
			s.start()
		},
		"the jig boots": func(s *stand) {
			s.jig.Reboot()
			s.until("the jig is gone", func(st State) bool { return !st.Jig.Present })
			s.until("it is back", func(st State) bool { return st.Jig.Present })
		},
		"the jig boots with the station off": func(s *stand) {
			s.end()
			s.jig.Reboot()
			s.start()
		},
		"the jig is unplugged": func(s *stand) {
			s.ports.Unplug(firstPort)
			s.until("the jig is gone", func(st State) bool { return !st.Jig.Present })
			s.plug()
			s.until("it is back", func(st State) bool { return st.Jig.Present })
		},
		"the emergency stop is pressed": func(s *stand) {
			s.jig.Emergency(true)
			time.Sleep(time.Second)
			s.jig.Emergency(false)
		},
		"somebody has another number refused at the terminal": func(s *stand) {
			s.lane.LetGo(s.Context())
			r := s.turnedAway(s.leftIn(s.unit(3)), NotOpened)
			assert.Contains(s, wording.Words{}.Try(r.Remedy), "take "+s.unit(1)+" out")
			require.NoError(s, s.lane.TakeBack(s.lane.State().LetGo))
			s.until("it is back", func(st State) bool { return st.Jig.Present })
		},
		"the page is cleared": func(s *stand) { s.lane.Clear() },
		"a day":               func(s *stand) { time.Sleep(24 * time.Hour) },
		"a day with the station off": func(s *stand) {
			s.end()
			time.Sleep(24 * time.Hour)
			s.start()
		},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.leaveIn()
				s.start()
				s.tests(s.unit(1))
				between(s)
				s.stillIn(s.unit(1), s.unit(2))
				s.openLid(time.Second)
				s.press()
				st := s.settled(s.unit(2))
				require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
			})
		})
	}
}

// The lid is moved while a unit is tested: that ends its test. A knock changed no unit;
// an opening that lasts longer than the test was an opportunity to.
func TestTheLidDuringATest(t *testing.T) {
	for open, changed := range map[time.Duration]bool{50 * time.Millisecond: false, time.Second: true} {
		t.Run(open.String(), func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.leaveIn()
				s.start()
				s.scan(s.unit(1))
				s.until("tests", func(st State) bool { return st.Phase == Running && st.Done > 0 })
				s.openLid(open)
				st := s.settled(s.unit(1))
				require.Equal(s, Ended, st.Phase)
				require.Equal(s, sequence.Aborted, st.Verdict.Outcome)
				if changed {
					s.tests(s.unit(2))
				} else {
					s.stillIn(s.unit(1), s.unit(2))
				}
			})
		})
	}
}

// A program that ends at any moment leaves behind what the next one has to know: as
// soon as a unit was claimed, it is the one in the jig.
func TestTheNestAfterACrash(t *testing.T) {
	claimed := false
	for _, line := range theOrder {
		step, rest, _ := strings.Cut(line, ": ")
		stands := rest != "" // in the records
		for _, late := range []bool{false, true} {
			in := claimed || late && stands
			t.Run(fmt.Sprintf("%s/%v", step, late), func(t *testing.T) {
				at(t, "", func(s *stand) {
					l := &ledger{s: s, serial: s.unit(1), fails: step, late: late}
					require.ErrorIs(s, users["terminal"](s, l), errStep)
					j := s.leftIn(s.unit(2))
					if in {
						s.turnedAway(j, NotOpened)
						s.openLid(time.Second)
					}
					assert.Equal(s, sequence.Pass, s.done(j).Outcome)
				})
			})
		}
		claimed = claimed || stands
	}
}

// What was tested for another purpose lies in the jig no less: reference units, stages
// of a returns case, readings of a study.
func TestAnyRunIsTheLastOne(t *testing.T) {
	for name, before := range map[string]func(*stand) (in string){
		"returns desk": func(s *stand) string {
			l := &ledger{s: s, serial: s.unit(9)}
			require.NoError(s, users["returns desk"](s, l))
			return l.serial
		},
		"gauge study": func(s *stand) string {
			l := &ledger{s: s, serial: s.unit(9)}
			require.NoError(s, users["gauge study"](s, l))
			return l.serial
		},
		"reference unit": func(s *stand) string {
			s.done(s.leftIn("REF-G"))
			return "REF-G"
		},
		"electrical press": func(s *stand) string {
			j := s.leftIn(s.unit(9))
			j.How = sequence.Electrical
			s.done(j)
			return j.Serial
		},
	} {
		t.Run(name, func(t *testing.T) {
			more, next := "", "GCC-000002-1"
			if name == "reference unit" {
				more, next = demanding, "REF-B"
			}
			at(t, more, func(s *stand) {
				in := before(s)
				assert.Equal(s, []string{in, next, "SIM-0001"}, s.turnedAway(s.leftIn(next), NotOpened).Args)
			})
		})
	}
}

// A reading of a study is of a part that was put in for it: without that it says
// nothing of seating.
func TestAStudySeatsAnew(t *testing.T) {
	at(t, "", func(s *stand) {
		study := func() *candidate {
			j := s.leftIn(s.unit(1))
			j.Study = true
			return j
		}
		s.done(study())
		r := s.turnedAway(study(), NotReseated)
		assert.Equal(s, []string{s.unit(1)}, r.Args)
		s.openLid(time.Second)
		s.done(study())
	})
}

// Simulated jigs are other ones than real ones, by the same name too, and a jig is
// known by its serial number, not by its port.
func TestWhichNest(t *testing.T) {
	at(t, "", func(s *stand) {
		first, second := s.jig, s.simulated(named("SIM-0002"))
		s.done(s.leftIn(s.unit(1)))
		s.jig = second // the two change places
		s.plug()
		s.done(s.leftIn(s.unit(2)))
		s.jig = first
		s.plug()
		assert.Equal(s, s.unit(1), s.turnedAway(s.leftIn(s.unit(3)), NotOpened).Args[0])
		s.pretend(true)
		s.calibrated(time.Now(), true)
		s.done(s.leftIn(s.unit(3)))
		s.pretend(false)
		assert.Equal(s, s.unit(1), s.turnedAway(s.leftIn(s.unit(4)), NotOpened).Args[0])
		s.pretend(true)
		assert.Equal(s, s.unit(3), s.turnedAway(s.leftIn(s.unit(4)), NotOpened).Args[0])
	})
}

// A jig without an interlock shows by its loops that a unit was taken out. It starts
// nothing by itself: hands are where they close.
func TestTheNestSeenEmpty(t *testing.T) {
	blind := func(id *wire.Identity) { id.Features &^= wire.FeatureInterlock }
	at(t, "", func(s *stand) {
		s.replace(blind)
		s.leaveIn()
		s.start()
		s.tests(s.unit(1))
		s.refused(s.unit(2), NotEmptied, func() { s.scan(s.unit(2)) })
		s.put("channel 4 dirty open")
		time.Sleep(time.Second)
		s.refused(s.unit(2), NotEmptied, func() { s.scan(s.unit(2)) }) // one dirty probe is no empty nest
		require.NoError(s, s.jig.Empty())
		time.Sleep(time.Second)
		s.put("")
		time.Sleep(time.Hour)
		assert.Equal(s, Refused, s.lane.State().Phase, "nothing starts by itself")
		s.tests(s.unit(2))
		s.refused(s.unit(3), NotEmptied, func() { s.scan(s.unit(3)) })
		require.NoError(s, s.jig.Empty()) // while the lane waits
		time.Sleep(time.Second)
		s.put("")
		s.end() // what it saw is in the records
		s.start()
		s.tests(s.unit(3))
	})
	at(t, "", func(s *stand) { // without a lane
		s.replace(blind)
		s.done(s.leftIn(s.unit(1)))
		s.turnedAway(s.leftIn(s.unit(2)), NotEmptied)
		require.NoError(s, s.jig.Empty())
		s.turnedAway(s.leftIn(s.unit(2)), NestEmpty)
		s.put("")
		s.done(s.leftIn(s.unit(2)))
	})
}

// A jig with neither shows nothing: a second unit takes somebody who may decide that.
func TestANestThatShowsNothing(t *testing.T) {
	at(t, "", func(s *stand) {
		s.replace(func(id *wire.Identity) { id.Features &^= wire.FeatureInterlock | wire.FeatureLoop })
		s.done(s.leftIn(s.unit(1)))
		j := s.leftIn(s.unit(2))
		r := s.turnedAway(j, NotShown)
		assert.Equal(s, Wrong, r.Kind)
		j.Overridden = true
		s.done(j)
		s.leaveIn()
		s.start()
		if list := s.lane.State().Conditions; assert.Len(s, list, 1, "the page says so beforehand") {
			assert.Equal(s, NestUnseen, list[0].Code)
			assert.False(s, list[0].Blocks)
		}
		s.refused(s.unit(3), NotShown, func() { s.scan(s.unit(3)) })
		s.lane.Scan(Scan{Serial: s.unit(3), Operator: "Qiu", Overridden: true})
		assert.Equal(s, Ended, s.settled(s.unit(3)).Phase)
	})
}

// A verdict that was left alone comes back only if the jig counted no opening since.
func TestNoVerdictComesBackOnAnotherPad(t *testing.T) {
	for name, c := range map[string]struct {
		meanwhile func(*stand)
		code      Code
	}{
		"opened":    {func(s *stand) { s.openLid(time.Second) }, PassedAlready},
		"open":      {func(s *stand) { s.jig.Lid(true) }, PassedAlready},
		"booted":    {func(s *stand) { s.jig.Reboot(); time.Sleep(time.Minute) }, PassedAlready},
		"unplugged": {func(s *stand) { s.ports.Unplug(firstPort); time.Sleep(time.Minute) }, NoJig},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.setup.LockAfter = time.Minute
				s.start()
				s.tests(s.unit(1))
				s.until("is locked", func(st State) bool { return st.Phase == Locked })
				c.meanwhile(s)
				s.refused2(s.unit(1), c.code)
			})
		})
	}
}

// refused2 is refused of a unit that has a run already.
func (s *stand) refused2(serial string, code Code) {
	s.Helper()
	s.scan(serial)
	st := s.settled(serial)
	require.Equal(s, Refused, st.Phase, "the old verdict came back: %v", st.Note)
	assert.Equal(s, code, st.Refusal.Code)
	assert.Nil(s, st.Verdict)
	assert.Len(s, s.runs(serial), 1)
}

// A jig whose count falls, as one that repeats what it said once, shows no opening; and
// what it said in another conversation is no answer, however many openings it tells of.
func TestOldCounts(t *testing.T) {
	states := func(change func(*wire.Frame, wire.State)) func(*wire.Frame) {
		return func(f *wire.Frame) {
			if st, err := wire.ParseState(f.Payload); f.Type == wire.TypeState && err == nil {
				change(f, st)
			}
		}
	}
	var kept *wire.Frame // of the first conversation
	for _, c := range []struct {
		name   string
		change func(*wire.Frame, wire.State)
		code   Code
	}{
		{"falls", func(f *wire.Frame, st wire.State) {
			st.Openings = 3
			f.Payload = wire.AppendState(nil, st)
		}, NotOpened},
		{"of another conversation", func(f *wire.Frame, st wire.State) {
			tag := f.Tag
			*f = *kept
			f.Tag = tag
			st.Openings = 99
			f.Payload = wire.AppendState(nil, st)
		}, NoJig},
	} {
		t.Run(c.name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				for range 5 {
					s.jig.Reseat()
				}
				s.ports.PlugChanged(firstPort, s.jig, states(func(f *wire.Frame, _ wire.State) {
					old := *f
					kept = &old
				}))
				s.done(s.leftIn(s.unit(1)))
				s.ports.PlugChanged(firstPort, s.jig, states(c.change))
				before := s.moves()
				_, err := s.leftIn(s.unit(2)).TestOn(s.Context(), s.opener)
				assert.Equal(s, c.code, RefusalOf(err).Code, "%v", err)
				assert.Equal(s, before, s.moves(), "something moved")
				assert.Empty(s, s.runs(s.unit(2)))
			})
		})
	}
}
