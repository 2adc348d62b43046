package main

import (
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
	assert.Equal(t, "PASS", page.text("#word"))
	runs, err := b.store.Unit(t.Context(), serial)
	require.NoError(t, err)
	require.Len(t, runs, 1)
	assert.Equal(t, sequence.Pass, runs[0].Outcome)
	assert.Equal(t, "Abel", runs[0].Operator)
	page.picture("/tmp/st/pass.png")
}
