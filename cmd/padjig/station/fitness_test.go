package station

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/wire"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/wording"
)

const day = 24 * time.Hour

// A jig is used for production as long as its calibration holds: from when a
// unit is refused and with what, for a real jig and a simulated one.
func TestCalibrationHolds(t *testing.T) {
	calibrated := func(ago time.Duration, good bool) func(*stand) {
		return func(s *stand) { s.calibrated(time.Now().Add(-ago), good) }
	}
	for name, c := range map[string]struct {
		simulated bool
		before    func(*stand)
		refused   Code // empty: tested
		warned    []Code
	}{
		"real, never":       {false, func(*stand) {}, NotCalibrated, nil},
		"real, zeroed only": {false, func(s *stand) { s.calibration(sequence.KindZero, time.Now(), true) }, NotCalibrated, nil},
		"real, good":        {false, calibrated(day, true), "", nil},
		"real, soon":        {false, calibrated(29*day, true), "", []Code{CalibrationSoon, CalibrationSoon}},
		"real, due":         {false, calibrated(31*day, true), CalibrationDue, nil},
		"real, bad":         {false, calibrated(day, false), CalibrationBad, nil},
		"real, good, then bad": {false, func(s *stand) {
			calibrated(2*day, true)(s)
			s.calibration(sequence.KindVerify, time.Now(), false)
		}, CalibrationBad, nil},
		"real, bad, mended": {false, func(s *stand) { calibrated(2*day, false)(s); calibrated(day, true)(s) }, "", nil},
		"simulated, never":  {true, func(*stand) {}, "", nil},
		"simulated, due":    {true, calibrated(31*day, true), CalibrationDue, nil},
		"simulated, bad":    {true, calibrated(day, false), CalibrationBad, nil},
		"the other sort's":  {false, func(s *stand) { s.pretend(false); calibrated(day, true)(s); s.pretend(true) }, NotCalibrated, nil},
		"simulated, soon":   {true, calibrated(29*day, true), "", []Code{CalibrationSoon, CalibrationSoon}},
		"real, only zero is due": {false, func(s *stand) {
			s.calibration(sequence.KindZero, time.Now().Add(-31*day), true)
			s.calibration(sequence.KindVerify, time.Now(), true)
		}, CalibrationDue, nil},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.pretend(!c.simulated)
				c.before(s)
				j, d := s.job(s.unit(1))
				if c.refused != "" {
					assert.Contains(s, wording.Words{}.Try(s.turnedAway(j, c.refused).Remedy), "padjig jig ")
					return
				}
				assert.Equal(s, sequence.Pass, s.done(j).Outcome)
				assert.Equal(s, c.warned, d.warnings)
			})
		})
	}
}

// A part that is worn keeps units from being tested, reference units too, until
// it is replaced; one that wears is said.
func TestWornParts(t *testing.T) {
	at(t, "", func(s *stand) {
		wear := func(e care.WearEvent) {
			e.Jig, e.By, e.Simulated = "SIM-0001", "Ines", true
			require.NoError(s, s.store.Care.SaveWear(s.Context(), e))
		}
		wear(care.WearEvent{Part: care.Nest, Warn: 1, Block: 2})
		j, d := s.job(s.unit(1))
		s.done(j)
		assert.Empty(s, d.warnings)
		j, d = s.job(s.unit(2))
		s.done(j)
		assert.Equal(s, []Code{PartWearing}, d.warnings)
		j, _ = s.job(s.unit(3))
		r := s.turnedAway(j, PartWorn)
		assert.Equal(s, []string{care.Nest, "2", "2"}, r.Args)
		assert.Contains(s, wording.Words{}.Try(r.Remedy), `padjig jig parts SIM-0001 --replaced "nest" --lot LOT --operator NAME --simulated`)
		j.Study = true
		s.turnedAway(j, PartWorn)
		wear(care.WearEvent{Part: care.Nest, Lot: "N-2", Note: "new pins"})
		j, d = s.job(s.unit(3))
		s.done(j)
		assert.Empty(s, d.warnings)
	})
}

// demanding is a product file that wants reference units.
const demanding = `
references:
  every: 8 h or 20 units
  within: 20 %
  good: REF-G
  bad:
    REF-B: key open at 7
`

// reference tests a reference unit with something planted.
func (s *stand) reference(serial, fault string) Done {
	s.Helper()
	s.put(fault)
	defer s.put("")
	j, _ := s.job(serial)
	return s.done(j)
}

// No unit is tested before every reference unit has shown what it must on this
// very jig: what they show decides, and a stopped or an electrical run shows nothing.
func TestReferenceUnits(t *testing.T) {
	at(t, demanding, func(s *stand) {
		unit := func() *candidate { j, _ := s.job(s.unit(1)); return j }
		r := s.turnedAway(unit(), ReferenceDue)
		assert.Equal(s, []string{"REF-G"}, r.Args)
		assert.Contains(s, wording.Words{}.Try(r.Remedy), "--serial REF-G")

		assert.True(s, s.reference("REF-G", "").Reference.Good())
		assert.Equal(s, []string{"REF-B"}, s.turnedAway(unit(), ReferenceDue).Args)

		shown := s.reference("REF-B", "") // its fault is not found: the jig is blind
		assert.False(s, shown.Reference.Good())
		assert.True(s, shown.Reference.Bad)
		assert.Equal(s, []string{"REF-B"}, s.turnedAway(unit(), ReferenceBad).Args)
		assert.True(s, s.reference("REF-B", "key 7 open").Reference.Good())
		s.done(unit())

		assert.False(s, s.reference("REF-G", "key 3 open").Reference.Good())
		assert.Equal(s, []string{"REF-G"}, s.turnedAway(s.jobOf(2), ReferenceBad).Args)
		stopped := s.reference("REF-G", "jig opens interlock for 200 ms at key 5")
		assert.Equal(s, sequence.Aborted, stopped.Outcome)
		assert.Nil(s, stopped.Reference)
		electrical, _ := s.job("REF-G")
		electrical.How = sequence.Electrical
		assert.Nil(s, s.done(electrical).Reference)
		study, _ := s.job("REF-G")
		study.Study = true
		assert.Nil(s, s.done(study).Reference)
		s.turnedAway(s.jobOf(2), ReferenceBad)
		assert.True(s, s.reference("REF-G", "").Reference.Good())
		s.done(s.jobOf(2))
	})
}

func (s *stand) jobOf(n int) *candidate {
	j, _ := s.job(s.unit(n))
	return j
}

// A good check holds for the time, or the number of units, that the product says, on the
// jig on which it was made; before it ends that is said.
func TestReferenceUnitsComeDue(t *testing.T) {
	at(t, demanding, func(s *stand) {
		check := func() { s.reference("REF-G", ""); s.reference("REF-B", "key 7 open") }
		check()
		time.Sleep(8*time.Hour - 30*time.Minute)
		j, d := s.job(s.unit(1))
		s.done(j)
		assert.Equal(s, []Code{ReferenceSoon, ReferenceSoon}, d.warnings)
		time.Sleep(31 * time.Minute)
		s.turnedAway(s.jobOf(2), ReferenceDue)
		check()
		s.done(s.jobOf(2))
		s.replace(func(id *wire.Identity) { id.Serial = "SIM-0002" })
		s.turnedAway(s.jobOf(3), ReferenceDue)
	})
}

// The same by the number of units, without a run for each.
func TestOverdue(t *testing.T) {
	now := time.Now()
	refs := parsed(t, gcc(t)+demanding).References
	checked := func(ago time.Duration, since int) care.ReferenceState {
		return care.ReferenceState{Last: &care.PastCheck{Started: now.Add(-ago), Good: true}, Since: since}
	}
	for name, c := range map[string]struct {
		state care.ReferenceState
		due   string // what it contains; empty: not due
		soon  string
	}{
		"never":             {care.ReferenceState{}, "was never tested", ""},
		"just now":          {checked(0, 0), "", ""},
		"the last but one":  {checked(0, 19), "", "1"},
		"the last":          {checked(0, 20), "20 since", ""},
		"in time":           {checked(8*time.Hour, 0), "", "0s"},
		"a minute too late": {checked(8*time.Hour+time.Minute, 0), "last 8h1m0s ago", ""},
		"bad": {care.ReferenceState{Last: &care.PastCheck{Started: now, Why: "key 7: 70 ohm\nkey 8: 71 ohm"}},
			"did not show what it must (key 7: 70 ohm)", ""},
	} {
		t.Run(name, func(t *testing.T) {
			due := c.state.Overdue(refs, now)
			if c.due == "" {
				assert.Empty(t, due)
				assert.Equal(t, c.soon, nearlyDue(refs, c.state, now))
			} else {
				assert.Contains(t, due, c.due)
			}
		})
	}
	assert.Equal(t, []string{"REF-G", "REF-B"}, refs.All())
}

// All that stands against a jig is known before a unit is scanned, and shows on the lane.
func TestConditionsOfALane(t *testing.T) {
	at(t, swap(demanding, "8 h", "10 min"), func(s *stand) {
		s.calibration(sequence.KindZero, time.Now().Add(-29*day), true)
		require.NoError(s, s.store.Care.SaveWear(s.Context(), care.WearEvent{
			Jig: "SIM-0001", Simulated: true, Part: care.Nest, Warn: 1, Block: 1000, By: "Ines",
		}))
		s.start()
		codes := func() (list []Code) {
			for _, c := range s.lane.State().Conditions {
				list = append(list, c.Code)
			}
			return list
		}
		assert.Equal(s, []Code{CalibrationSoon, ReferenceDue, ReferenceDue}, codes())
		assert.Equal(s, []string{"REF-G"}, s.lane.State().Blocked().Args)
		s.refused(s.unit(1), ReferenceDue, func() { s.scan(s.unit(1)) })
		s.test("REF-G")
		s.put("key 7 open")
		s.test("REF-B")
		s.put("")
		assert.Equal(s, []Code{CalibrationSoon, PartWearing}, codes())
		assert.Nil(s, s.lane.State().Blocked())
		s.tests(s.unit(1))
		assert.Equal(s, 1, s.lane.State().Tally.Units, "reference units are no production")

		s.calibration(sequence.KindZero, time.Now(), true)
		s.lane.Refresh()
		s.until("has looked", func(State) bool { return len(codes()) == 1 })
		time.Sleep(11 * time.Minute) // nobody scans anything: it is looked at all the same
		assert.Equal(s, []Code{ReferenceDue, ReferenceDue, PartWearing}, codes())

		s.release("D", "150 ohm")
		s.lane.Refresh()
		s.until("has looked", func(State) bool { return codes()[len(codes())-1] == NotReleased })
		s.spoil(`DROP TABLE wear_event`)
		s.lane.Refresh()
		s.until("has looked", func(State) bool { return codes()[0] == NoRecords })
		assert.NotNil(s, s.lane.State().Blocked())
	})
}

// A number that is not of the product's form is refused at once; those of its
// reference units need not be of it.
func TestAdmitSerial(t *testing.T) {
	p := parsed(t, gcc(t)+demanding)
	for serial, wants := range map[string]Code{
		p.Serial.Complete(1): "", "REF-G": "", "REF-B": "",
		"": SerialWrong, "GCC-00001": SerialWrong, "REF-X": SerialWrong, p.Serial.Complete(1) + " ": SerialWrong,
	} {
		err := CheckSerial(p, serial)
		if wants == "" {
			assert.NoError(t, err, serial)
			continue
		}
		r := RefusalOf(err)
		assert.Equal(t, wants, r.Code, serial)
		assert.Equal(t, Wrong, r.Kind)
		assert.Equal(t, serial, r.Args[0])
	}
}

// What is no refusal of ours could not be measured.
func TestRefusalOfAnything(t *testing.T) {
	r := RefusalOf(fixture.ErrInterlock)
	assert.Equal(t, NotMeasured, r.Kind)
	assert.Empty(t, r.Code)
	assert.ErrorIs(t, r, fixture.ErrInterlock)
}
