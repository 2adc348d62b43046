package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/returns"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// An intake with photos is killed, with a signal it cannot catch, at random moments: the
// records stay sound, every photo that they speak of is there whole, and a case without
// one stays locked until somebody brings them.
func TestKilledInTheMiddleOfAnIntake(t *testing.T) {
	t.Parallel()
	p, err := product.Load(crashProduct)
	require.NoError(t, err)
	dir := t.TempDir()
	path := filepath.Join(dir, "records.sqlite")
	first, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	require.NoError(t, first.Close())
	var photos []string
	for i := range 3 {
		name := filepath.Join(dir, fmt.Sprintf("%d.jpg", i))
		require.NoError(t, os.WriteFile(name, snapshot(t, i), 0o644))
		photos = append(photos, "--photo", name)
	}
	intake := func(serial string, after time.Duration) {
		ctx, cancel := context.WithTimeout(t.Context(), after)
		defer cancel()
		args := append([]string{"returns", "intake", serial, "--product", crashProduct, "--complaint", "key dead", "--condition", "dirty",
			"--operator", "Jon", "--store", path}, photos...)
		said, err := exec.CommandContext(ctx, "padjig", args...).CombinedOutput()
		require.True(t, err == nil || ctx.Err() != nil, "%s", said)
	}
	began := time.Now()
	intake(p.Serial.Complete(1), time.Minute)
	usual, rnd, kept := time.Since(began), rand.New(rand.NewPCG(*crashSeed, 3)), map[int]int{}
	for i := range *crashes / 3 {
		serial := p.Serial.Complete(100 + i)
		intake(serial, time.Duration((0.3+0.7*rnd.Float64())*float64(usual)))
		s, err := results.Open(t.Context(), path)
		require.NoError(t, err)
		faults, err := s.Check(t.Context())
		require.NoError(t, err)
		assert.Empty(t, faults)
		c, err := s.Returns.CaseOf(t.Context(), serial)
		if err == nil {
			kept[len(c.Photos)]++
			assert.Equal(t, len(c.Photos) > 0, c.Allows(sequence.FirstPress) == nil)
			_, err = s.Returns.AddPhoto(t.Context(), c, snapshot(t, 9), returns.Photo{ContentType: "image/jpeg", Name: "again.jpg", By: "Jon"})
			require.NoError(t, err)
			c, err = s.Returns.Case(t.Context(), c.Number)
			require.NoError(t, err)
			assert.NoError(t, c.Allows(sequence.FirstPress))
		} else {
			require.ErrorIs(t, err, store.ErrNotFound)
		}
		require.NoError(t, s.Close())
	}
	t.Logf("usual time %v; cases by photos kept: %v of %d kills", usual, kept, *crashes/3)
}
