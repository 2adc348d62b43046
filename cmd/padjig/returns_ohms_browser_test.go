package main

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
)

// One key is held and its resistance watched as it changes, while the lane does
// nothing else; when the page goes, the jig lets go. Nothing is stored.
func TestReturnsOhmsLive(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	serial := b.product.Serial.Complete(1)
	desk := b.as(account.Returns, "laptop", "/returns")
	desk.staged(serial, "key 7 high 640 ohm")
	runs, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	stood := b.lanes().Lanes[0].State().Phase
	desk.visit("/returns/ohms?case=1&key=7")
	desk.reachable("before a key is watched")
	assert.Contains(t, desk.text("main"), "Nothing of it is stored as a run")
	began := time.Now()
	desk.submit("form[action='/returns/ohms']")
	desk.await("document.getElementById('ohm')?.textContent.startsWith('65')")
	desk.ready()
	desk.reachable("a key that is watched")
	desk.shot("ohms")
	assert.Regexp(t, `^65\d(\.\d+)? ± \d+(\.\d+)? Ω$`, desk.text("#ohm"))
	assert.Equal(t, "closed", desk.text("#ohmword"))
	tested := runs[len(runs)-1].Keys[b.product.Key("7")].Closed
	now, err := strconv.ParseFloat(strings.Fields(desk.text("#ohm"))[0], 64)
	require.NoError(t, err)
	assert.InDelta(t, float64(tested.Value), now, 4*float64(tested.U), "what the return test stored, within both expanded uncertainties")
	desk.eval("globalThis.seen = new Set()")
	desk.await("seen.add(document.getElementById('ohmleft').textContent).size > 1")

	lane := b.lanes().Lanes[0]
	assert.Equal(t, station.Exclusive, lane.State().Phase)
	other := b.as(account.Returns, "laptop", "/returns/check?case=1")
	other.submit("form[action='/returns/check']")
	other.await("document.querySelector('main').innerText.includes('The lane is not free')")
	used := desk.eval("location.pathname + location.search")

	changes, stop := lane.Subscribe()
	defer stop()
	desk.focus("#letgo")
	desk.enter()
	for lane.State().Phase == station.Exclusive {
		<-changes
	}
	assert.Less(t, time.Since(began), time.Minute, "let go because the page went: the time of a watch was not over")
	assert.Equal(t, stood, lane.State().Phase, "it stands as it stood")
	desk.visit(used)
	desk.await("document.getElementById('ohmover').textContent.includes('This watch is over')")
	assert.Equal(t, stood, lane.State().Phase, "a page that is shown again moves nothing")
	again, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	assert.Len(t, again, len(runs), "no run of it")
}
