package main

import (
	"bytes"
	"database/sql"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/returns"
	"padjig/sequence/product"
)

// What a stage points to is kept before it is shown; where it cannot be, nothing
// of the stage shows, as on a lane. The run itself is stored.
func TestAStageWhoseCausesCannotBeKept(t *testing.T) {
	t.Parallel()
	p, err := product.Load(gcc)
	require.NoError(t, err)
	jig, path := crashJig(t, p), filepath.Join(t.TempDir(), "records.sqlite")
	jig.put("key 7 open")
	store, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	c, err := store.Returns.OpenCase(t.Context(), "GCC-000001-3", p.Code,
		returns.Intake{Received: time.Now(), Complaint: "key dead", Conditions: []string{returns.NothingVisible}, By: "Rosa"})
	require.NoError(t, err)
	require.NoError(t, store.Returns.SayNoPhoto(t.Context(), c, returns.NoPhoto{Reason: "the camera is broken", By: "Rosa"}))
	require.NoError(t, store.Close())
	var stdout bytes.Buffer
	stderr := &spoiler{t: t, path: path, statement: `
		CREATE TRIGGER spoilt BEFORE INSERT ON return_diagnosis BEGIN SELECT RAISE(ABORT, 'the disk is read-only'); END`}
	status := run(t.Context(), []string{"returns", "first-press", "GCC-000001-3", "--product", gcc, "--jig", jig.port,
		"--operator", "Jon", "--store", path}, strings.NewReader(""), &stdout, stderr)
	assert.Equal(t, statusNotRecorded, status)
	assert.Empty(t, stdout.String())
	assert.Contains(t, stderr.String(), "the disk is read-only")
	store, err = results.OpenReadOnly(t.Context(), path)
	require.NoError(t, err)
	defer store.Close()
	runs, err := store.Runs.Unit(t.Context(), "GCC-000001-3")
	require.NoError(t, err)
	assert.Len(t, runs, 1)
}

// spoiler changes the records behind padjig's back once it says where they are:
// the unit is claimed then, and nothing has moved.
type spoiler struct {
	bytes.Buffer
	t               *testing.T
	path, statement string
}

func (s *spoiler) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte("records in ")) {
		db, err := sql.Open("sqlite3", s.path)
		require.NoError(s.t, err)
		_, err = db.ExecContext(s.t.Context(), s.statement)
		require.NoError(s.t, err)
		require.NoError(s.t, db.Close())
	}
	return s.Buffer.Write(p)
}
