package results

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/runs/runstest"
	"padjig/results/store"
)

// Both readings of a contact are kept, under the hash; a run without them is stored as
// runs of before were.
func TestTwoCurrentsAreKept(t *testing.T) {
	s := openTemp(t)
	run := runstest.Passed("24-000001")
	require.NotEmpty(t, run.Keys)
	run.Keys[0].Two = &fixture.TwoCurrents{
		Small:      fixture.AtCurrent{Current: 48e-6, Resistance: fixture.Resistance{Value: 2087, U: 0.25}},
		Large:      fixture.AtCurrent{Current: 3.7e-3, Resistance: fixture.Resistance{Value: 167.5, U: 0.05}},
		Conduction: fixture.NotOhmic,
	}
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, run.Keys[0].Two, stored.Keys[0].Two)
	assert.Nil(t, stored.Keys[1].Two)

	said, err := store.Collect(t.Context(), raw(s), store.ScanText, `
		SELECT key || ' ' || conduction || ' ' || small_ohm || ' ' || large_ohm || ' ' || large_ampere FROM two_currents`)
	require.NoError(t, err)
	assert.Equal(t, []string{run.Keys[0].Key + " not ohmic 2087.0 167.5 0.0037"}, said)
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults)
	_, err = raw(s).ExecContext(t.Context(), `UPDATE run_key SET two_currents = NULL`)
	assert.ErrorContains(t, err, "append-only")

	for what, two := range map[string]fixture.TwoCurrents{
		"is none":                 {Conduction: "rather ohmic"},
		"no reading of a contact": {Conduction: fixture.Ohmic, Small: fixture.AtCurrent{Resistance: fixture.Resistance{Value: 1e6, AtLeast: true}}},
	} {
		run.Keys[0].Two = &two
		_, err = s.Runs.Save(t.Context(), runstest.Climate(), run)
		require.ErrorIs(t, err, store.ErrRefused)
		assert.ErrorContains(t, err, what)
	}
}
