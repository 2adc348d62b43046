package plant_test

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/plant"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
)

// Records of a station that does not run are brought to the plant by hand and compared, and what is in the way is said with
// its remedy.
func TestForwardAndCheckCommands(t *testing.T) {
	address, records := server.Empty(t), planttest.Records(t, 12, 1)
	run := func(args ...string) (string, error) {
		var out bytes.Buffer
		cmd := plant.Command()
		cmd.SetArgs(args)
		cmd.SetOut(&out)
		cmd.SetErr(&out)
		cmd.SilenceErrors, cmd.SilenceUsage = true, true
		err := cmd.ExecuteContext(t.Context())
		return out.String(), err
	}
	of := []string{"--store", records.Path(), "--plant", address, "--member", "line-2"}
	_, err := run(append([]string{"forward"}, of...)...)
	require.ErrorContains(t, err, "has no tables of a plant")
	db, err := postgres.Open(address)
	require.NoError(t, err)
	defer db.Close()
	_, err = postgres.Migrate(t.Context(), db)
	require.NoError(t, err)
	_, err = run(append([]string{"forward"}, of...)...)
	require.ErrorContains(t, err, `knows no station "line-2"`)
	_, err = forward.Join(t.Context(), db, "line-2")
	require.NoError(t, err)

	said, err := run(append([]string{"check"}, of...)...)
	require.NoError(t, err, "nothing came, and nothing of that is wrong")
	assert.Contains(t, said, "12 still to come")
	said, err = run(append([]string{"forward"}, of...)...)
	require.NoError(t, err)
	assert.Contains(t, said, "the plant has everything of "+records.Path())
	said, err = run(append([]string{"check"}, of...)...)
	require.NoError(t, err)
	assert.Contains(t, said, "the same")
	assert.NotContains(t, said, "NOT the same")

	tx, err := db.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	for _, script := range []string{`SET LOCAL session_replication_role = replica`, `UPDATE lot_change SET membrane = 'another' WHERE local = 1`} {
		_, err = tx.ExecContext(t.Context(), script)
		require.NoError(t, err)
	}
	require.NoError(t, tx.Commit())
	said, err = run(append([]string{"check", "--json"}, of...)...)
	require.ErrorContains(t, err, "does not have what")
	var found struct {
		Same        bool
		Differences []struct{ Table string }
	}
	require.NoError(t, json.Unmarshal([]byte(said), &found))
	assert.False(t, found.Same)
	require.Len(t, found.Differences, 1)
	assert.Equal(t, "lot_change", found.Differences[0].Table)

	for _, with := range []string{"postgres://station:hidden@db/plant", "host=db password=hidden"} {
		_, err = run("check", "--store", records.Path(), "--plant", with, "--member", "line-2")
		require.ErrorContains(t, err, "lists of programs")
		assert.NotContains(t, err.Error(), "hidden")
	}
	_, err = run("check", "--store", filepath.Join(t.TempDir(), "none.sqlite"), "--plant", address, "--member", "line-2")
	assert.Error(t, err)
}
