package units_test

import (
	"database/sql"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/units"
)

// However many runs there are, only the last ones and the index of serial numbers are gone
// through, and the index is read alone: no row of a run before that was not found.
func TestOnlyTheIndexIsGoneThrough(t *testing.T) {
	path := filepath.Join(t.TempDir(), "r.sqlite")
	s, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	db, err := sql.Open("sqlite3", "file:"+path+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.QueryContext(t.Context(), "EXPLAIN QUERY PLAN "+units.Query, "7", 20, 1000)
	require.NoError(t, err)
	defer rows.Close()
	var plan []string
	for rows.Next() {
		var id, parent, unused int
		var detail string
		require.NoError(t, rows.Scan(&id, &parent, &unused, &detail))
		plan = append(plan, detail)
	}
	assert.Contains(t, plan, "SEARCH run USING INTEGER PRIMARY KEY (rowid>?)", "late runs only")
	assert.Contains(t, plan, "SEARCH run USING COVERING INDEX run_serial (serial>?)")
	assert.Contains(t, plan, "SEARCH run USING INTEGER PRIMARY KEY (rowid=?) LEFT-JOIN")
	assert.NotContains(t, strings.Join(plan, "\n"), "SCAN run")
}
