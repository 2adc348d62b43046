package main

import (
	"flag"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/sequence"
)

// One unit, from the badge to the verdict, without a hand on the screen.
func TestPagesOneUnit(t *testing.T) {
	b := makeBed(t, bedding{})
	page := b.as(account.Operator, "station", "/lane/1")
	page.shows("idle", "")
	serial := b.product.Serial.Complete(1)
	page.scan(serial)
	page.shows("pass", serial)
	page.shot("lane-pass")
	assert.Equal(t, "PASS", page.text("#word"))
	runs, err := b.store.Unit(t.Context(), serial)
	require.NoError(t, err)
	require.Len(t, runs, 1)
	assert.Equal(t, sequence.Pass, runs[0].Outcome)
	assert.Equal(t, "Abel", runs[0].Operator)
}

// A unit that fails says which keys and what to do, and has a tag.
func TestPagesFail(t *testing.T) {
	b := makeBed(t, bedding{})
	page := b.as(account.Operator, "small", "/lane/1")
	b.jigs[0].put("key 7 open")
	serial := b.product.Serial.Complete(1)
	page.scan(serial)
	page.shows("fail", serial)
	assert.Contains(t, page.text(".findings"), "Key 7")
	page.visit("/tag/" + page.eval("document.getElementById('state').dataset.stored"))
	assert.Contains(t, page.text("main"), serial)
}

var screens = flag.String("screens", "", "folder to put pictures of the pages into")

// shot keeps a picture of the page when the tests were asked for pictures.
func (t *tab) shot(name string) {
	t.Helper()
	if *screens != "" {
		t.picture(filepath.Join(*screens, name+".png"))
	}
}
