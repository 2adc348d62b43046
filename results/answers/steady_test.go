package answers

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/care"
	"padjig/sequence"
)

// shiftOf is a store of 40 units of one jig, with a check of a reference unit after every fourth:
// what the unit reads then is given, and what else happens after a unit.
func shiftOf(t *testing.T, reference func(check int) float64, after func(s *results.Store, unit int)) *results.Store {
	s, source := answerstest.Store(t), rand.New(rand.NewPCG(83, 0))
	save := func(unit, minute int, serial string, ohms ...float64) (id [16]byte) {
		run := answerstest.Run(answerstest.Vents, serial, started(unit).Add(time.Duration(minute)*time.Minute), ohms...)
		stored, err := s.Runs.Save(t.Context(), answerstest.Vents, run)
		require.NoError(t, err)
		return stored
	}
	for unit := range 40 {
		save(unit, 0, answerstest.Serial(unit), 60+source.NormFloat64(), 70+source.NormFloat64(), 0, 0)
		if reference != nil && unit%4 == 3 {
			v := reference(unit / 4)
			check := care.ReferenceCheck{Run: save(unit, 1, "REF-1", v, 70+0.01*source.NormFloat64(), 0, 0), Unit: "REF-1"}
			if math.Abs(v-60) > 5 {
				check.Why = []sequence.Said{{Code: sequence.AtKey, Args: []string{"1", "R1", "C1"}}}
			}
			require.NoError(t, s.Care.SaveReferenceCheck(t.Context(), check))
		}
		after(s, unit)
	}
	return s
}

// verified stores a verification of the jig, good or not.
func verified(t *testing.T, s *results.Store, good bool) {
	measured := 1000.0
	if !good {
		measured = 1002
	}
	reading := answerstest.Reading("A", 1000, measured)
	reading.Good = good
	c := sequence.Calibration{Kind: sequence.KindVerify, Jig: answerstest.Run(answerstest.Vents, "", answerstest.Begin).Jig, Simulated: true,
		Operator: "Ines", Performed: answerstest.Begin, Interval: time.Hour, Box: "RB-1", BoxSerial: "1", Certificate: "17",
		CertificateDue: answerstest.Begin.AddDate(1, 0, 0), Good: good, Readings: []sequence.CalibrationReading{reading}}
	if !good {
		c.Reason = "out of tolerance"
	}
	_, err := s.Care.SaveCalibration(t.Context(), c)
	require.NoError(t, err)
}

// misread ends a run because the jig read its own check resistor wrong.
func misread(t *testing.T, s *results.Store, unit int) {
	run := answerstest.Ended(answerstest.Run(answerstest.Vents, answerstest.Serial(1000+unit), started(unit), 0, 0, 0, 0), sequence.Aborted)
	run.Why = sequence.Said{Code: sequence.JigMisreads, Args: []string{"J-0041", "500 ohm", "520 ohm", "500 ohm"}}
	_, err := s.Runs.Save(t.Context(), answerstest.Vents, run)
	require.NoError(t, err)
}

// Whether the jig itself read alike is said before any index: what speaks against it over the
// readings asked for and no others, or that nothing shows it.
func TestTheJigIsLookedAtBeforeAnyIndex(t *testing.T) {
	steady := func(int) float64 { return 60 }
	noise := rand.New(rand.NewPCG(89, 0))
	quiet := func(int) float64 { return 60 + 0.01*noise.NormFloat64() }
	nothing := func(*results.Store, int) {}
	at := func(when int, do func(s *results.Store)) func(*results.Store, int) {
		return func(s *results.Store, unit int) {
			if unit == when {
				do(s)
			}
		}
	}
	jig := Names{"J-0041"}
	for name, c := range map[string]struct {
		reference func(int) float64
		after     func(*results.Store, int)
		last      int
		want      []Sentence
	}{
		"checked and steady":                      {quiet, nothing, 0, nil},
		"never checked":                           {nil, nothing, 0, []Sentence{Say("capability.unshown", jig, LeastChecks)}},
		"checks without any spread show no trend": {steady, nothing, 0, nil},
		"the reference drifts": {func(i int) float64 { return 60 + 0.05*float64(i) + 0.01*noise.NormFloat64() }, nothing, 0,
			[]Sentence{Warn("capability.unsteady", jig, 0, 0, 0, 1)}},
		"a check that was not good": {func(i int) float64 { return quiet(i) + map[int]float64{5: 9}[i] }, nothing, 0,
			[]Sentence{Warn("capability.unsteady", jig, 0, 1, 0, 0)}},
		"verified bad among them": {quiet, at(20, func(s *results.Store) { verified(t, s, false); verified(t, s, true) }), 0,
			[]Sentence{Warn("capability.unsteady", jig, 1, 0, 0, 0)}},
		"verified bad behind them": {quiet, at(39, func(s *results.Store) { verified(t, s, false) }), 0,
			[]Sentence{Warn("capability.unsteady", jig, 1, 0, 0, 0)}},
		"verified good behind them, bad later": {quiet, at(39, func(s *results.Store) { verified(t, s, true); verified(t, s, false) }), 0, nil},
		"misread itself":                       {quiet, at(10, func(s *results.Store) { misread(t, s, 10) }), 0, []Sentence{Warn("capability.unsteady", jig, 0, 0, 1, 0)}},
		"before the readings asked for":        {quiet, at(1, func(s *results.Store) { verified(t, s, false); misread(t, s, 1) }), 36, nil},
	} {
		t.Run(name, func(t *testing.T) {
			noise = rand.New(rand.NewPCG(89, 0)) // for each the same, in whatever order they come
			s := shiftOf(t, c.reference, c.after)
			got, err := AskCapability(t.Context(), s, CapabilityAsked{Selection: all, Keys: KeyChoice{Line: "R1"}, Last: c.last})
			require.NoError(t, err)
			assert.Equal(t, c.want, got.Before)
			assert.Equal(t, got.Conclusions[:len(got.Before)], append([]Sentence{}, got.Before...))
			codes := map[string][]string{"capability.unsteady": {"jig unsteady"}, "capability.unshown": {"jig unshown"}}
			for _, row := range got.Rows {
				if len(c.want) == 0 {
					assert.Empty(t, row.Remarks)
				} else {
					assert.Equal(t, codes[c.want[0].Code], row.Remarks)
				}
			}
		})
	}
}
