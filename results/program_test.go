package results

import (
	"database/sql"
	"errors"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/results/store/program"
)

func by(version string) store.Dependencies {
	with := testSeams()
	with.Program = func() program.Program {
		return program.Program{Version: version, Commit: "8708e6a3", Go: "go1.26.8", Platform: "linux/arm64"}
	}
	return with
}

// What was stored lies behind the row of the program that stored it: also where two programs take turns, and
// whatever fails.
func TestEveryRecordIsByAProgram(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	old, err := OpenWith(t.Context(), path, by("1.0.0"))
	require.NoError(t, err)
	defer old.Close()
	save := func(s *Store, serial string) {
		t.Helper()
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(serial))
		require.NoError(t, err)
	}
	list := func() []string {
		t.Helper()
		list, err := store.Collect(t.Context(), raw(old), store.ScanText, `SELECT version || ' ' || after_run FROM programs ORDER BY seq`)
		require.NoError(t, err)
		return list
	}
	assert.Equal(t, []string{"1.0.0 0"}, list(), "opening settles things, and writes")
	save(old, "24-000001")
	save(old, "24-000002")
	assert.Equal(t, []string{"1.0.0 0"}, list())

	later, err := OpenWith(t.Context(), path, by("1.1.0"))
	require.NoError(t, err)
	defer later.Close()
	require.NoError(t, later.Floor.SaveZone(t.Context(), "Europe/Berlin"), "which says of itself by what program it is nowhere")
	assert.Equal(t, []string{"1.0.0 0", "1.1.0 2"}, list())
	save(old, "24-000003") // it runs beside the other one
	save(later, "24-000004")
	want := []string{"1.0.0 0", "1.1.0 2", "1.0.0 2", "1.1.0 3"}
	assert.Equal(t, want, list())

	failure := errors.New("no")
	require.ErrorIs(t, old.db.Update(t.Context(), func(*sql.Tx) error { return failure }), failure)
	assert.Equal(t, want, list(), "nothing was stored, so nobody stored it")

	faults, err := old.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults)
	_, err = raw(old).Exec(`DROP TRIGGER program_no_update; UPDATE program SET version = '1.2.0' WHERE seq = 2`)
	require.NoError(t, err)
	faults, err = old.Check(t.Context())
	require.NoError(t, err)
	assert.Contains(t, faults, "program 2 is not what was stored: its hash differs")
}
