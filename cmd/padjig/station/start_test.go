package station

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/note"
	"padjig/cmd/padjig/station/start"
	"padjig/results/accounts"
	"padjig/sequence"
)

// scannedOpen has a number scanned with the lid open.
func (s *stand) scannedOpen(serial string) {
	s.Helper()
	s.jig.Lid(true)
	s.scan(serial)
	s.until("waits for the lid", func(st State) bool { return st.Phase == Lid })
	time.Sleep(time.Second)
}

// armed has a lane ask for the start of a unit: scanned with the lid open, which is closed now.
func (s *stand) armed(serial string) {
	s.Helper()
	s.scannedOpen(serial)
	s.jig.Lid(false)
	s.until("asks for the start", func(st State) bool { return st.Phase == Armed })
}

// nothingMoves holds that nothing of a unit moves, now or later, and none of it is stored.
func (s *stand) nothingMoves(serial string, do func()) {
	s.Helper()
	moves, stored := s.moves(), len(s.runs(serial))
	do()
	time.Sleep(5 * time.Minute)
	synctest.Wait()
	assert.Equal(s, moves, s.moves(), "something moved")
	assert.Len(s, s.runs(serial), stored)
}

// Closing the lid is no start: nothing moves until somebody says so, and with the lid closed
// as ever a scan is all it takes.
func TestClosingTheLidIsNoStart(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.nothingMoves(s.unit(1), func() { s.armed(s.unit(1)) })
		require.Equal(s, Refused, s.lane.State().Phase)
		assert.Equal(s, NotStarted, s.lane.State().Refusal.Code)
		s.armed(s.unit(1))
		s.press()
		assert.Equal(s, sequence.Pass, s.settled(s.unit(1)).Verdict.Outcome)
		s.tests(s.unit(2))
	})
}

// What a hurried person, or a scanner that fires twice, does in place of pressing start with
// the lid closed.
func TestNoWayRoundTheStart(t *testing.T) {
	for name, do := range map[string]func(*stand){
		"start pressed with the lid open, then it is closed": func(s *stand) {
			s.scannedOpen(s.unit(1))
			s.lane.Start("")
			assert.Equal(s, &Note{Code: note.Shut}, s.lane.State().Note)
			s.jig.Lid(false)
		},
		"start pressed before the scan": func(s *stand) {
			s.lane.Start("")
			assert.Equal(s, &Note{Code: note.NoStart}, s.lane.State().Note)
			s.armed(s.unit(1))
		},
		"the number is scanned twice": func(s *stand) {
			s.scannedOpen(s.unit(1))
			s.scan(s.unit(1))
			s.jig.Lid(false)
			s.until("asks for the start", func(st State) bool { return st.Phase == Armed })
			s.scan(s.unit(1))
			s.scan(s.unit(2))
		},
		"start of another unit, from a page of before": func(s *stand) {
			s.armed(s.unit(1))
			s.lane.Start(s.unit(2))
		},
		"the lid is lifted again, start pressed, and it falls shut": func(s *stand) {
			s.armed(s.unit(1))
			s.jig.Lid(true)
			s.lane.Start("") // before the lane has seen it
			time.Sleep(time.Second)
			s.jig.Lid(false)
		},
		"stopped while start is asked for, and the stop is released": func(s *stand) {
			s.armed(s.unit(1))
			s.jig.Emergency(true)
			s.until("is refused", func(st State) bool { return st.Phase == Refused })
			s.jig.Emergency(false)
			s.lane.Start("")
		},
		"start pressed while the emergency stop is, and it is released": func(s *stand) {
			s.armed(s.unit(1))
			s.jig.Emergency(true)
			s.lane.Start("")
			s.until("is refused", func(st State) bool { return st.Phase == Refused })
			s.jig.Emergency(false)
		},
		"scanned during an emergency stop": func(s *stand) {
			s.jig.Emergency(true)
			s.scan(s.unit(1))
			s.until("is refused", func(st State) bool { return st.Phase == Refused })
			s.jig.Emergency(false)
			s.lane.Start("")
		},
		"stopped on the page, then start": func(s *stand) {
			s.armed(s.unit(1))
			s.lane.Stop()
			s.lane.Start("")
		},
		"the station is started anew": func(s *stand) {
			s.armed(s.unit(1))
			s.end()
			s.start()
			s.lane.Start("")
		},
		"the jig is unplugged and comes back": func(s *stand) {
			s.armed(s.unit(1))
			s.ports.Unplug(firstPort)
			s.until("is gone", func(st State) bool { return !st.Jig.Present && !st.Phase.Busy() })
			s.plug()
			s.until("is back", func(st State) bool { return st.Jig.Present })
			s.lane.Start("")
		},
		"the jig boots": func(s *stand) {
			s.armed(s.unit(1))
			s.jig.Reboot()
			s.until("is not in hand", func(st State) bool { return !st.Phase.Busy() })
			s.until("is back", func(st State) bool { return st.Jig.Present })
			s.lane.Start("")
		},
		"start is turned off again while the unit waits": func(s *stand) {
			s.lidStarts(true)
			s.scannedOpen(s.unit(1))
			s.lidStarts(false)
			s.jig.Lid(false)
		},
		"the lid is a start, and an emergency stop is released with it closed": func(s *stand) {
			s.lidStarts(true)
			s.scannedOpen(s.unit(1))
			s.jig.Emergency(true)
			s.until("is refused", func(st State) bool { return st.Phase == Refused })
			s.jig.Lid(false)
			s.jig.Emergency(false)
		},
		"the lid is a start, and is closed long after the scan": func(s *stand) {
			s.lidStarts(true)
			s.scannedOpen(s.unit(1))
			time.Sleep(start.ByLidWithin)
			s.jig.Lid(false)
		},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.leaveIn()
				s.start()
				s.nothingMoves(s.unit(1), func() { do(s) })
			})
		})
	}
}

// The lid is closed while the records are asked: it was open when the unit was scanned.
func TestALidThatIsFasterThanTheRecords(t *testing.T) {
	at(t, "", func(s *stand) {
		s.leaveIn()
		s.setup.around = func(step string, do func() error) error {
			if step == "preflight" {
				time.Sleep(time.Second)
				s.jig.Lid(false)
			}
			return do()
		}
		s.start()
		s.jig.Lid(true)
		time.Sleep(time.Second)
		s.nothingMoves(s.unit(1), func() {
			s.scan(s.unit(1))
			s.until("asks for the start", func(st State) bool { return st.Phase == Armed })
		})
	})
}

// A press belongs to the unit that it was for, at its lane: the next one asks anew.
func TestAPressIsForOneUnit(t *testing.T) {
	at(t, "", func(s *stand) {
		s.leaveIn()
		s.start()
		s.armed(s.unit(1))
		for range 3 { // a hand that trembles
			s.lane.Start("")
		}
		require.Equal(s, sequence.Pass, s.settled(s.unit(1)).Verdict.Outcome)
		s.nothingMoves(s.unit(2), func() { s.armed(s.unit(2)) })
	})
}

// What ends a test while something moves, and then is as before: nothing goes on by itself,
// on a jig whose lid is a start as on any other.
func TestNothingGoesOnByItself(t *testing.T) {
	for name, c := range map[string]struct{ end, back func(*stand) }{
		"the lid":        {func(s *stand) { s.jig.Lid(true) }, func(s *stand) { s.jig.Lid(false) }},
		"emergency stop": {func(s *stand) { s.jig.Emergency(true) }, func(s *stand) { s.jig.Emergency(false) }},
		"a jig fault":    {func(s *stand) { s.jig.Reboot() }, func(*stand) {}},
		"unplugged": {func(s *stand) { s.ports.Unplug(firstPort) }, func(s *stand) {
			s.jig.Reboot() // its power came over the same cable
			s.plug()
		}},
	} {
		for _, byLid := range []bool{false, true} {
			t.Run(name, func(t *testing.T) {
				at(t, "", func(s *stand) {
					s.leaveIn()
					s.lidStarts(byLid)
					s.start()
					s.scan(s.unit(1))
					s.until("presses", func(st State) bool { return st.Phase == Running && st.Done > 3 })
					c.end(s)
					s.until("has ended", func(st State) bool { return !st.Phase.Busy() })
					time.Sleep(time.Second)
					s.nothingMoves(s.unit(1), func() { c.back(s); s.lane.Start(""); s.lane.Refresh() })
					assert.Len(s, s.runs(s.unit(1)), 1)
				})
			})
		}
	}
}

// lidStarts has somebody decide that closing the lid is a start on this jig, or is none.
func (s *stand) lidStarts(on bool) {
	s.Helper()
	require.NoError(s, s.store.Accounts.SaveLidStart(s.Context(), accounts.LidStart{Jig: "SIM-0001", Simulated: true, On: on,
		Confirmed: accounts.LidConditions, Assessment: "risk assessment of the greenhouse jigs", By: "Ines"}))
}

// Where it was decided for this very jig, closing the lid is the start.
func TestTheLidStartsWhereThatWasDecided(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.lidStarts(true)
		s.scannedOpen(s.unit(1))
		s.jig.Lid(false)
		assert.Equal(s, sequence.Pass, s.settled(s.unit(1)).Verdict.Outcome)
	})
	at(t, "", func(s *stand) {
		s.pretend(true) // the decision on a simulated jig is none of a real one of that name
		s.calibrated(time.Now(), true)
		s.start()
		s.lidStarts(true)
		s.nothingMoves(s.unit(1), func() { s.armed(s.unit(1)) })
	})
}
