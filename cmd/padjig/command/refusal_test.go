package command

import (
	"bytes"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/fixture"
	"padjig/results"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// How a real jig stands decides whether units are tested on it, by the clock given.
func TestCalibrationGate(t *testing.T) {
	store, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "r.sqlite"))
	require.NoError(t, err)
	defer store.Close()
	day := time.Date(2026, 7, 1, 6, 0, 0, 0, time.UTC)
	said := &bytes.Buffer{}
	gate := func(days int, simulated bool) ([]fixture.Resistance, error) {
		said.Reset()
		caps := fixture.Capabilities{Serial: "J-0042", Simulated: simulated}
		fitness := station.Fitness{Records: RecordsOf(store), Caps: caps, Now: day.AddDate(0, 0, days)}
		return fitness.Calibrated(t.Context(), func(what station.Warning) { said.WriteString(what.Text + "\n") })
	}
	refused := func(days int, why, remedy string) {
		t.Helper()
		_, err := gate(days, false)
		f := failureOf(nil, err, wording.Words{})
		assert.Equal(t, NotMeasured, f.status)
		assert.ErrorContains(t, err, why)
		assert.Contains(t, f.remedy, remedy)
	}
	_, err = gate(0, true)
	require.NoError(t, err, "a simulated jig may be used uncalibrated")
	refused(0, "jig J-0042 has never had a zero; nothing was tested", "then padjig jig verify --jig J-0042 --box FILE")

	reading := sequence.CalibrationReading{
		Channel: 1, Reference: 500, Measured: fixture.Resistance{Value: 0.5, U: 0.001},
		Deviation: fixture.Resistance{Value: 0.5, U: 0.001}, Limit: 2, Good: true,
	}
	c := sequence.Calibration{
		Kind: sequence.KindZero, Jig: sequence.JigName{Serial: "J-0042"}, Performed: day,
		Interval: 90 * 24 * time.Hour, Readings: []sequence.CalibrationReading{reading}, Good: true,
	}
	save := func() {
		_, err := store.Care.SaveCalibration(t.Context(), c)
		require.NoError(t, err)
	}
	save()
	refused(0, "has never had a verification", "padjig jig zero --jig J-0042 with the shorting plug in the nest")

	c.Kind, c.Certificate, c.Interval, c.CertificateDue = sequence.KindVerify, "C-1", 30*24*time.Hour, day.AddDate(1, 0, 0)
	c.Readings[0].Mate, c.Readings[0].Certified.Value = 2, 100
	save()
	zeros, err := gate(1, false)
	require.NoError(t, err)
	assert.Equal(t, []fixture.Resistance{{Value: 0.5, U: 0.001}}, zeros)
	assert.Empty(t, said.String())
	_, err = gate(28, false)
	require.NoError(t, err)
	assert.Equal(t, "jig J-0042 needs its next verification by 2026-07-31\n", said.String())
	refused(31, "has a verification overdue since 2026-07-31; nothing was tested", "padjig jig verify --jig J-0042")

	c.Good, c.Reason, c.Readings[0].Good = false, "out of tolerance: range 500 ohm by -0.50 %", false
	c.Readings[0].Deviation.Value = 3
	save()
	refused(1, "failed its last verification on 2026-07-01 (out of tolerance: range 500 ohm by -0.50 %)", "mend it, then")
}
