package results

import (
	"database/sql"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/nest"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
)

// counted begins a run of a unit whose jig counts openings.
func counted(t testing.TB, s *Store, serial string, now nest.Count) (*runs.Begun, error) {
	t.Helper()
	start := startOf(runstest.Passed(serial))
	start.Nest = nest.Claim{By: nest.Counted, Now: now}
	return s.Runs.Begin(t.Context(), runstest.Climate(), start, agreed)
}

// nestKept leaves a row in each table about nests.
func nestKept(t testing.TB, s *Store) {
	t.Helper()
	b, err := counted(t, s, "24-000007", nest.Count{Boot: 5, Openings: 2})
	require.NoError(t, err)
	b.AtEnd = &nest.Count{Boot: 5, Openings: 2}
	_, err = b.Save(t.Context(), runstest.Passed("24-000007"))
	require.NoError(t, err)
	require.NoError(t, s.Nest.SawEmpty(t.Context(), "J-0007", false))
}

func TestOpenedBetweenCounts(t *testing.T) {
	for _, c := range []struct {
		before, after nest.Count
		opened        bool
	}{
		{nest.Count{Boot: 7, Openings: 3}, nest.Count{Boot: 7, Openings: 3}, false},
		{nest.Count{Boot: 7, Openings: 3}, nest.Count{Boot: 7, Openings: 4}, true},
		{nest.Count{Boot: 7, Openings: 3}, nest.Count{Boot: 7, Openings: 2}, false}, // no jig counts backwards
		{nest.Count{Boot: 7, Openings: 3}, nest.Count{Boot: 8, Openings: 0}, false}, // what was done without supply nobody knows
		{nest.Count{Boot: 7, Openings: 3}, nest.Count{Boot: 8, Openings: 1}, true},
		{nest.Count{Boot: 7, Openings: 1<<32 - 1}, nest.Count{Boot: 7, Openings: 1<<32 - 1}, false},
	} {
		assert.Equal(t, c.opened, c.before.Opened(c.after), "%v %v", c.before, c.after)
	}
}

// The claim itself refuses a unit in place of which another one lies in the jig, by what
// is in the records in that moment, whoever wrote it.
func TestTheClaimHoldsTheNest(t *testing.T) {
	s := openTemp(t)
	occupied := func(serial string, now nest.Count) {
		t.Helper()
		_, err := counted(t, s, serial, now)
		var o *nest.OccupiedError
		require.ErrorAs(t, err, &o)
		assert.Equal(t, "24-000001", o.Serial)
	}
	b, err := counted(t, s, "24-000001", nest.Count{Boot: 5, Openings: 2})
	require.NoError(t, err)
	occupied("24-000002", nest.Count{Boot: 5, Openings: 2}) // also while it is tested
	b.AtEnd = &nest.Count{Boot: 5, Openings: 3}
	_, err = b.Save(t.Context(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	occupied("24-000002", nest.Count{Boot: 5, Openings: 3}) // opened while it was tested, not since
	occupied("24-000002", nest.Count{Boot: 6})
	last, err := s.Nest.Of(t.Context(), "J-0007", false)
	require.NoError(t, err)
	assert.Equal(t, nest.Last{Start: 1, Serial: "24-000001", Count: &nest.Count{Boot: 5, Openings: 3}}, last)
	other, err := s.Nest.Of(t.Context(), "J-0007", true)
	require.NoError(t, err)
	assert.Zero(t, other, "simulated jigs are other ones")

	b, err = counted(t, s, "24-000002", nest.Count{Boot: 5, Openings: 4})
	require.NoError(t, err)
	holderDies(b)
	last, err = s.Nest.Of(t.Context(), "J-0007", false)
	require.NoError(t, err)
	assert.Equal(t, "24-000002", last.Serial, "it was never finished, and it is in the jig")
	assert.EqualValues(t, 4, last.Count.Openings)
	require.NoError(t, s.Nest.SawEmpty(t.Context(), "J-0007", true))
	require.NoError(t, s.Nest.SawEmpty(t.Context(), "J-0042", false))
	last, err = s.Nest.Of(t.Context(), "J-0007", false)
	require.NoError(t, err)
	assert.False(t, last.Emptied, "other jigs were")
	require.NoError(t, s.Nest.SawEmpty(t.Context(), "J-0007", false))
	last, err = s.Nest.Of(t.Context(), "J-0007", false)
	require.NoError(t, err)
	assert.True(t, last.Emptied)
}

// What was counted and seen is kept for good, each moment of a run once.
func TestCountsAreAppendOnly(t *testing.T) {
	s := openTemp(t)
	nestKept(t, s)
	err := s.db.Update(t.Context(), func(tx *sql.Tx) error {
		return nest.Keep(t.Context(), tx, 1, nest.AtEnd, nest.Count{Boot: 5, Openings: 9})
	})
	require.ErrorContains(t, err, "append-only")
	for _, table := range []string{"nest_count", "nest_empty"} {
		for _, change := range []string{"UPDATE " + table + " SET seq = 7", "DELETE FROM " + table} {
			err := s.db.Update(t.Context(), func(tx *sql.Tx) error {
				_, err := tx.Exec(change)
				return err
			})
			require.ErrorContains(t, err, "append-only", change)
		}
	}
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults)
}
