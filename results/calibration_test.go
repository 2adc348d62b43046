package results

import (
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

var calibrationDay = time.Date(2026, 3, 2, 6, 0, 0, 123456000, time.UTC)

func zeroOf(good bool) sequence.Calibration {
	c := sequence.Calibration{
		Kind: sequence.KindZero, Jig: runstest.Passed("").Jig, Operator: "Ines", Performed: calibrationDay,
		Interval: 10 * 24 * time.Hour, Good: true,
	}
	for channel := 1; channel <= 2; channel++ {
		r := fixture.Resistance{Value: 0.0123456789, U: 0.001}
		c.Readings = append(c.Readings, sequence.CalibrationReading{
			Channel: channel, Reference: 500, Measured: r, Deviation: r, Limit: 2, Good: true,
		})
	}
	if !good {
		c.Good, c.Reason = false, "channel 2 has 3 ohm in series"
		c.Readings[1].Measured.Value, c.Readings[1].Deviation.Value, c.Readings[1].Good = 3, 3, false
	}
	return c
}

func verifyOf(good bool) sequence.Calibration {
	c := zeroOf(good)
	c.Kind, c.Box, c.BoxSerial, c.Certificate = sequence.KindVerify, "RB-1", "RB-1-0007", "DEMO-1"
	c.CertificateDue = time.Date(2027, 4, 18, 0, 0, 0, 0, time.UTC)
	for i := range c.Readings {
		r := &c.Readings[i]
		r.Mate, r.Resistor = r.Channel+1, "A"
		r.Certified = fixture.Resistance{Value: 100, U: 0.0025}
		r.Measured.Value += 100
	}
	return c
}

// calibrated adds a verification.
func calibrated(t testing.TB, s *Store) {
	t.Helper()
	_, err := s.Care.SaveCalibration(t.Context(), verifyOf(true))
	require.NoError(t, err)
}

func TestCalibrationRoundTrip(t *testing.T) {
	s := openTemp(t)
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	simulated := zeroOf(true)
	simulated.Simulated = true
	want := []sequence.Calibration{zeroOf(true), verifyOf(false), verifyOf(true)}
	for _, c := range append(want, simulated) {
		_, err := s.Care.SaveCalibration(t.Context(), c)
		require.NoError(t, err)
	}
	got, err := s.Care.Calibrations(t.Context(), "J-0007", false)
	require.NoError(t, err)
	require.Len(t, got, len(want), "simulated ones are apart")
	for i := range want {
		assert.Equal(t, want[i], got[i].Calibration)
		assert.Equal(t, int64(i+1), got[i].Seq)
		assert.Equal(t, int64(1), got[i].AfterRun)
	}
	good, err := s.Care.LastGood(t.Context(), "J-0007", sequence.KindVerify, false)
	require.NoError(t, err)
	assert.Equal(t, int64(3), good.Seq)
	none, err := s.Care.LastGood(t.Context(), "J-0008", sequence.KindVerify, false)
	require.NoError(t, err)
	assert.Nil(t, none)
}

func TestCalibrationRefused(t *testing.T) {
	s := openTemp(t)
	for want, spoil := range map[string]func(*sequence.Calibration){
		"no kind":          func(c *sequence.Calibration) { c.Kind = "tune" },
		"no serial number": func(c *sequence.Calibration) { c.Jig.Serial = "" },
		"it would hold":    func(c *sequence.Calibration) { c.Interval = 0 },
		"no reading":       func(c *sequence.Calibration) { c.Readings = nil },
		"not measured":     func(c *sequence.Calibration) { c.Readings[0].Measured.AtLeast = true },
		"do not support":   func(c *sequence.Calibration) { c.Good, c.Reason = true, "" },
		"CHECK":            func(c *sequence.Calibration) { c.Readings[1].Good = true },
	} {
		c := verifyOf(false)
		spoil(&c)
		_, err := s.Care.SaveCalibration(t.Context(), c)
		assert.ErrorContains(t, err, want)
	}
	infinite := zeroOf(true)
	infinite.Readings[0].Measured.U = fixture.Resistance{U: 1}.U / 0.0000001 * 1e308 * 10
	require.True(t, math.IsInf(float64(infinite.Readings[0].Measured.U), 1))
	_, err := s.Care.SaveCalibration(t.Context(), infinite)
	assert.ErrorIs(t, err, store.ErrRefused)
}

func TestCalibrationInDoubt(t *testing.T) {
	with, armed := failing(false, func(int) bool { return true })
	s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)
	*armed = true
	_, err := s.Care.SaveCalibration(t.Context(), zeroOf(true))
	require.ErrorIs(t, err, store.ErrInDoubt)
	assert.ErrorContains(t, err, "look at padjig jig history")
	*armed = false
	calibrated(t, s)
}

func TestDueState(t *testing.T) {
	s := openTemp(t)
	at := func(days float64) care.DueState {
		d, err := s.Care.DueState(t.Context(), "J-0007", false, calibrationDay.Add(time.Duration(days*24*float64(time.Hour))))
		require.NoError(t, err)
		return d
	}
	assert.Equal(t, care.StatusNever, at(0).Zero.Status)
	assert.False(t, at(0).Calibrated())
	_, err := s.Care.SaveCalibration(t.Context(), zeroOf(true))
	require.NoError(t, err)
	for days, want := range map[float64]care.CalibrationStatus{
		0: care.StatusGood, 8.9: care.StatusGood, 9.1: care.StatusDueSoon, 9.99: care.StatusDueSoon, 10: care.StatusOverdue, 400: care.StatusOverdue,
	} {
		assert.Equal(t, want, at(days).Zero.Status, "after %v days", days)
		assert.Equal(t, care.StatusNever, at(days).Verify.Status)
	}
	assert.Equal(t, "has a zero overdue since 2026-03-12", at(11).Zero.Said(floor.Clock{}))
	assert.Equal(t, "needs its next zero by 2026-03-12", at(9.5).Zero.Said(floor.Clock{}))
	_, err = s.Care.SaveCalibration(t.Context(), verifyOf(false))
	require.NoError(t, err)
	assert.Equal(t, care.StatusBad, at(1).Verify.Status)
	assert.Equal(t, "failed its last verification on 2026-03-02 (channel 2 has 3 ohm in series)", at(1).Verify.Said(floor.Clock{}))
	calibrated(t, s)
	assert.Equal(t, care.StatusGood, at(1).Verify.Status, "the last one counts")
}

func TestCheckFindsAForgedCalibration(t *testing.T) {
	for want, script := range map[string]string{
		"calibration 1 (jig J-0007) is not what was stored": `UPDATE calibration_reading SET ohm = 100 WHERE place = 0`,
		"calibration 1 is good with a reading that is not": `UPDATE calibration_reading SET deviation_ohm = 9, good = 0
			WHERE place = 0`,
		"calibration numbers have a gap": `UPDATE calibration_reading SET calibration = 2; UPDATE calibration SET seq = 2`,
	} {
		path := t.TempDir() + "/padjig.db"
		s, err := OpenWith(t.Context(), path, testSeams())
		require.NoError(t, err)
		defer s.Close()
		calibrated(t, s)
		forge(t, path, script)
		faults, err := s.Check(t.Context())
		require.NoError(t, err)
		assert.Contains(t, strings.Join(faults, "\n"), want)
	}
}
