package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/object"
	"padjig/results/backup"
	"padjig/sequence/product"
)

// TestRestoreDrill loses the records in the middle of a lot: a backup is taken while units are tested, the program
// is killed in a unit, the disk of the records is gone, the backup is restored and checked, and the lot goes on.
// What was acknowledged before the backup began is in the restored records, and with what was acknowledged
// from then on nothing else is.
func TestRestoreDrill(t *testing.T) {
	t.Parallel()
	p, err := product.Load(crashProduct)
	require.NoError(t, err)
	media := t.TempDir()
	c := crash{t: t, product: p, jig: crashJig(t, p), store: filepath.Join(t.TempDir(), "records.sqlite")}
	usual := c.usualTime()              // two units, before the lot
	acknowledged := map[string]string{} // run by unit
	next := 0
	test := func() string {
		next++
		serial := p.Serial.Complete(2000 + next)
		said := c.kill(serial, time.Minute)
		require.NotNil(t, said, serial)
		acknowledged[serial] = said.Run
		return serial
	}
	for range 3 {
		test()
	}
	before := len(acknowledged)
	taking := make(chan result, 1)
	go func() { taking <- runHere(t, "records", "backup", "--to", media, "--json", "--store", c.store) }()
	var taken object.Backup
	for range 3 { // beside it
		test()
	}
	got := <-taking
	require.Zero(t, got.status, got.stderr)
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &taken))
	lost := test()
	next++
	c.kill(p.Serial.Complete(2000+next), usual/2)

	all, err := filepath.Glob(c.store + "*")
	require.NoError(t, err)
	for _, path := range all {
		require.NoError(t, os.RemoveAll(path))
	}
	got = runHere(t, "records", "restore", taken.Backup, "--to", c.store)
	require.Zero(t, got.status, got.stderr)
	got = runHere(t, "records", "check", "--store", c.store)
	require.Zero(t, got.status, got.stdout)
	var restored int
	for n := 1; n < next; n++ {
		serial := p.Serial.Complete(2000 + n)
		runs, _ := c.recorded(serial)
		restored += len(runs)
		if n <= before {
			require.Len(t, runs, 1, "%s was acknowledged before the backup began", serial)
		}
		for _, run := range runs {
			assert.Equal(t, acknowledged[serial], run.ID.String(), serial)
		}
	}
	assert.Equal(t, int(taken.Runs), restored+2)

	runs, _ := c.recorded(lost)
	assert.Empty(t, runs, "what came after the backup is lost")
	said := c.kill(lost, time.Minute)
	require.NotNil(t, said, "and tested again")
	assert.Equal(t, 1, said.Attempt)
	assert.NotEqual(t, acknowledged[lost], said.Run, "no run ever has the id of another")
	test()
	got = runHere(t, "records", "check", "--store", c.store)
	assert.Zero(t, got.status, fmt.Sprint(got.stdout, got.stderr))
	found, err := backup.List(media)
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.NoError(t, found[0].Verify(t.Context(), found[0].Path, func(float64) {}), "the backup is as it was")
}
