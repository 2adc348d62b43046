package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/runs"
	"padjig/sequence"
)

// claim takes a unit as another station would that shares the records.
func (b *bed) claim(serial string) *runs.Begun {
	b.Helper()
	begun, err := b.store.Runs.Begin(b.Context(), station.RevisionOf(b.product), runs.Start{
		Serial: serial, Jig: sequence.JigName{Serial: "J-0042"}, Started: time.Now(),
	}, func(runs.History) error { return nil })
	require.NoError(b, err)
	return begun
}

// aborted is a run of a unit that found nothing.
func (b *bed) aborted(serial string, attempt int) sequence.Run {
	rev := station.RevisionOf(b.product)
	return sequence.Run{
		Serial: serial, Product: rev.Code, Revision: rev.Label, Hash: rev.Hash, Jig: sequence.JigName{Serial: "J-0042"},
		Attempt: attempt, Outcome: sequence.Aborted, Reason: "interrupted",
	}
}

// One number on two lanes, and at the terminal besides: one of them tests it,
// the others say where it is. There is one run, and one attempt.
func TestPagesOneUnitInTwoPlaces(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{jigs: 2, hand: true, product: "vent-6.yaml"}) // whose keys wait for somebody as long as the others take
	first, second := b.as(account.Operator, "station", "/lane/1"), b.as(account.Operator, "small", "/lane/2")
	serial := b.product.Serial.Complete(1)
	first.scan(serial)
	first.pressed(0)
	second.scan(serial)
	second.shows("look", serial)
	assert.Contains(t, second.text("#line"), serial+" is being tested: station ")
	assert.Contains(t, second.text("#line"), "jig SIM-0001, since ")
	badge := filepath.Join(b.dir, "badge")
	require.NoError(t, os.WriteFile(badge, []byte(b.badges[account.Operator]+"\n"), 0o600))
	got := runHere(t, "test", "--product", b.file, "--jig", "none/jig9", "--serial", serial, "--store", b.store.Path(), "--sign-in", badge)
	assert.Equal(t, 2, got.status)
	assert.Contains(t, got.stderr, "unit "+serial+" is being tested: station ")
	assert.Contains(t, got.stderr, "jig SIM-0001, since ")
	second.state("lane-in-hand")
	for n := range b.product.Keys[1:] {
		first.pressed(1 + n)
	}
	first.shows("pass", serial)
	runs, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	assert.Len(t, runs, 1)
}

// What a unit's page says of a run that goes on elsewhere, and of one whose
// holder is gone.
func TestPagesUnitThatWasBegun(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	serial := b.product.Serial.Complete(1)
	begun := b.claim(serial)
	page := b.as(account.Returns, "station", "/unit?serial="+serial)
	assert.Contains(t, page.text("table"), "being tested now")
	assert.Contains(t, page.text("table"), "J-0042")
	wrong := b.aborted(serial, 1)
	wrong.Serial = "another"
	_, err := begun.Save(t.Context(), wrong) // its holder gives it up without a run
	require.Error(t, err)
	page.visit("/unit?serial=" + serial)
	assert.Contains(t, page.text("table"), "not finished: what was found is not known")
	page.state("unit-unfinished")
}

// The file of the records is moved away while the station runs: the unit that is
// scanned next is not tested, and none after it, also when the file is back.
func TestPagesRecordsMoved(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	page := b.as(account.Operator, "station", "/lane/1")
	page.scan(b.product.Serial.Complete(1))
	page.shows("pass", b.product.Serial.Complete(1))
	path := filepath.Join(b.dir, "records.sqlite")
	require.NoError(t, os.Rename(path, path+".away"))
	serial := b.product.Serial.Complete(2)
	page.scan(serial)
	page.shows("look", serial)
	assert.Contains(t, page.text("#line"), "was moved, deleted or replaced: nothing more is tested here")
	page.state("lane-records-moved")
	require.NoError(t, os.Rename(path+".away", path))
	before := b.jigs[0].jig.Counts()
	b.lanes().Lanes[0].Scan(station.Scan{Serial: b.product.Serial.Complete(3)})
	page.shows("look", b.product.Serial.Complete(3))
	assert.Contains(t, page.text("#line"), "was moved, deleted or replaced")
	assert.Equal(t, before.Presses, b.jigs[0].jig.Counts().Presses, "nothing moved")
	assert.Equal(t, []string(nil), unitsIn(t, path, b.product.Serial.Complete(2), b.product.Serial.Complete(3)))
}

// unitsIn gives those units that the records know runs of.
func unitsIn(t *testing.T, path string, serials ...string) (known []string) {
	t.Helper()
	s, err := results.OpenReadOnly(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	for _, serial := range serials {
		runs, err := s.Runs.Unit(t.Context(), serial)
		require.NoError(t, err)
		if len(runs) > 0 {
			known = append(known, serial)
		}
	}
	return known
}
