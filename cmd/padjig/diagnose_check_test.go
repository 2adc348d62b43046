package main

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results"
	"padjig/sequence"
	"padjig/sequence/product"
)

// A check on a jig whose calibration is due soon is done, and that is said.
func TestACheckOnAJigThatIsDueSoon(t *testing.T) {
	p, err := product.Load(gcc)
	require.NoError(t, err)
	jig, path := crashJig(t, p), filepath.Join(t.TempDir(), "records.sqlite")
	jig.put("key 7 stuck 66 ohm")
	got := runHere(t, "test", "--product", gcc, "--jig", jig.port, "--serial", "GCC-000001-3", "--store", path)
	require.Equal(t, statusFail, got.status, got.stderr)
	store, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	_, err = store.Care.SaveCalibration(t.Context(), sequence.Calibration{
		Kind: sequence.KindZero, Jig: sequence.JigName{Serial: "SIM-0001"}, Simulated: true, Good: true,
		Performed: time.Now().Add(-29 * 24 * time.Hour), Interval: 30 * 24 * time.Hour,
		Readings: []sequence.CalibrationReading{{
			Channel: 1, Reference: 500, Measured: fixture.Resistance{U: 0.001}, Deviation: fixture.Resistance{U: 0.001}, Limit: 2, Good: true,
		}},
	})
	require.NoError(t, err)
	require.NoError(t, store.Close())
	got = runHere(t, "diagnose", "GCC-000001-3", "--check", "--jig", jig.port, "--store", path)
	assert.Zero(t, got.status, got.stderr)
	assert.Contains(t, got.stdout, "checked: the lines of key 7 read")
	assert.Contains(t, got.stderr, "needs its next zero by")
}

// One unit is in one place for a check too: it waits for no test, and no test begins
// while it is made.
func TestACheckHasTheUnitToItself(t *testing.T) {
	p, err := product.Load(gcc)
	require.NoError(t, err)
	jig, path := crashJig(t, p), filepath.Join(t.TempDir(), "records.sqlite")
	jig.put("key 7 stuck 66 ohm")
	got := runHere(t, "test", "--product", gcc, "--jig", jig.port, "--serial", "GCC-000001-3", "--store", path)
	require.Equal(t, statusFail, got.status, got.stderr)
	store, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	defer store.Close()

	release, err := store.Runs.Hold(t.Context(), "GCC-000001-3")
	require.NoError(t, err)
	for _, args := range [][]string{
		{"diagnose", "GCC-000001-3", "--check", "--jig", jig.port, "--store", path},
		{"test", "--product", gcc, "--jig", jig.port, "--serial", "GCC-000001-3", "--store", path},
	} {
		got = runHere(t, args...)
		assert.Equal(t, statusWrong, got.status, "%v: %s", args, got.stdout)
		assert.Contains(t, got.stderr, "is being looked at on another jig or by another program")
	}
	release()
	got = runHere(t, "diagnose", "GCC-000001-3", "--check", "--jig", jig.port, "--store", path)
	assert.Zero(t, got.status, got.stderr)
}
