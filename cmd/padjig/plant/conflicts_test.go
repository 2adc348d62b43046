package plant_test

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/plant"
	"padjig/results"
	"padjig/results/plant/forward"
	"padjig/results/plant/postgres"
	"padjig/results/runs/runstest"
)

// Two stations pass one unit: it is told with its remedy, and as an object; each station alone and its counts are sound.
func TestConflictsCommand(t *testing.T) {
	address := server.Made(t)
	db, err := postgres.Open(address)
	require.NoError(t, err)
	defer db.Close()
	run := func(args ...string) (string, error) {
		var out bytes.Buffer
		cmd := plant.Command()
		cmd.SetArgs(append(args, "--plant", address))
		cmd.SetOut(&out)
		cmd.SetErr(&out)
		cmd.SilenceErrors, cmd.SilenceUsage = true, true
		err := cmd.ExecuteContext(t.Context())
		return out.String(), err
	}
	var path string
	for n, name := range []string{"line-1", "line-2"} {
		path = filepath.Join(t.TempDir(), "station.sqlite")
		s, err := results.Open(t.Context(), path)
		require.NoError(t, err)
		at := time.Date(2026, 3, 2, 6, n, 0, 0, time.UTC)
		one, rev := runstest.Passed("GCC-000042-1"), runstest.Climate()
		one.Simulated, one.Started, one.Jig.Serial = true, at.Add(-10*time.Second), "J-"+name
		entries := make(chan results.Entry, 1)
		entries <- results.Entry{At: at, Run: &one, Revision: &rev}
		close(entries)
		require.NoError(t, s.ImportSimulated(t.Context(), uint64(n), entries, nil))
		_, err = forward.All(t.Context(), db, s, name)
		require.NoError(t, err)
		require.NoError(t, s.Close())
		said, err := run("conflicts")
		if n == 0 {
			require.NoError(t, err)
			assert.Equal(t, "no records speak against each other\n", said)
		}
	}
	said, err := run("conflicts")
	assert.Error(t, err, "exit status 1")
	assert.Contains(t, said, "GCC-000042-1 passed at line-1 (2026-03-02")
	assert.Contains(t, said, "Look for two units with this number.")
	printed, err := run("conflicts", "--json")
	assert.Error(t, err)
	var object struct {
		Conflicts []struct {
			Name, Code, Of string
			Records        []struct{ Member, Run, Jig string }
		}
	}
	require.NoError(t, json.Unmarshal([]byte(printed), &object))
	require.Len(t, object.Conflicts, 1)
	assert.Equal(t, "passed elsewhere", object.Conflicts[0].Code)
	assert.Equal(t, "line-2", object.Conflicts[0].Records[1].Member)
	name, office := object.Conflicts[0].Name, filepath.Join(t.TempDir(), "office.sqlite")
	decides := func(what, name, reason string, more ...string) (string, error) {
		return run(append([]string{"conflicts", what, name, "--reason", reason, "--operator", "Quinn", "--store", office}, more...)...)
	}
	_, err = decides("close", name, "no")
	assert.ErrorContains(t, err, "eight letters")
	_, err = decides("close", "another", "one unit, sent on")
	assert.ErrorContains(t, err, "there is no conflict")
	_, err = decides("reopen", name, "one unit, sent on")
	assert.ErrorContains(t, err, "is open")
	said, err = decides("close", name, "one unit, sent on")
	require.NoError(t, err, said)
	assert.Contains(t, said, "by Quinn: one unit, sent on")
	_, err = decides("close", name, "one unit, sent on")
	assert.ErrorContains(t, err, "is closed")
	said, err = run("conflicts")
	require.NoError(t, err, "exit status 0")
	assert.Equal(t, "no records speak against each other\n", said)
	said, err = run("conflicts", "--show", "closed")
	require.NoError(t, err)
	assert.Contains(t, said, "conflict "+name)
	said, err = decides("reopen", name, "two units after all", "--json", "--serial", "GCC-000042-1")
	require.NoError(t, err, said)
	assert.Contains(t, said, "two units after all")
	_, err = run("conflicts", "--show", "some")
	assert.ErrorContains(t, err, "open, closed or all")
	_, err = run("conflicts", "--from", "yesterday")
	assert.ErrorContains(t, err, "2026-03-02")

	said, err = run("check", "--member", "line-2", "--store", path, "--counts")
	assert.NoError(t, err, said)
	_, err = db.ExecContext(t.Context(), `UPDATE cell SET units = 7`)
	require.NoError(t, err)
	said, err = run("check", "--member", "line-2", "--store", path, "--counts")
	assert.ErrorContains(t, err, "wrong count")
	assert.Contains(t, said, "the counts of cell 1 are not those of its runs")
}
