package main

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results/stops"
)

// A line stops itself before the eyes of whoever tests: beside the verdict, and then in its
// place. Whoever is in charge of quality scans the badge, taps what was the matter, and the
// line goes on, on every screen.
func TestPagesLineStops(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	page := b.as(account.Operator, "station", "/lane/1")
	b.jigs[0].put("key 7 open")
	for n := 1; n <= 3; n++ {
		assert.Equal(t, "null", page.eval("String(document.getElementById('halt'))"))
		b.putAway("SIM-0001", b.product.Serial.Complete(n))
		page.scan(b.product.Serial.Complete(n))
		page.shows("fail", b.product.Serial.Complete(n))
	}
	page.await("document.getElementById('halt-line')?.innerText.includes('key 7 does not close')")
	assert.Equal(t, "FAIL", page.text("#word"))
	assert.Contains(t, page.text("#halt"), "LINE STOPPED")
	page.fits("lane-stopping")
	page.eval("document.getElementById('clear').click()")
	page.await("document.getElementById('word').innerText === 'LINE STOPPED'")
	assert.Equal(t, "0", page.eval("String(document.querySelectorAll('#lift button').length)"))
	page.fits("lane-stopped")
	b.putAway("SIM-0001", "")

	quality := b.as(account.Quality, "station", "/lane/1")
	quality.state("lane-lift")
	assert.Equal(t, "0", quality.wider())
	quality.eval("(document.getElementById('halt-note').value = 'domes of lot 12', document.getElementById('halt-note').focus())")
	quality.eval("document.addEventListener('submit', () => { globalThis.lifted = true })")
	quality.enter()
	assert.Equal(t, "undefined", quality.eval("String(globalThis.lifted)"), "Enter in the note is no reason")
	quality.eval("document.querySelector('#lift button[value=material]').click()")
	for _, screen := range []*tab{quality, page} {
		screen.await("document.getElementById('halt') === null && document.getElementById('word').innerText === 'SCAN'")
	}
	stop, err := b.store.Stops.Stop(t.Context(), 1)
	require.NoError(t, err)
	require.NotNil(t, stop.Lifted)
	assert.Equal(t, []string{names[account.Quality], string(stops.Material), "domes of lot 12"},
		[]string{stop.Lifted.By, string(stop.Lifted.Reason), stop.Lifted.Note})
	quality.visit("/quality/stops?simulated=1")
	assert.Contains(t, quality.text("main"), "domes of lot 12")
	quality.state("stops")

	b.jigs[0].put("channel 4 dirty 80 ohm")
	serial := b.product.Serial.Complete(4)
	for n := range 2 {
		page.scan(serial)
		page.await(fmt.Sprintf("document.getElementById('state').dataset.signal === 'reseat' && "+
			"document.getElementById('halt') %s null", map[int]string{0: "===", 1: "!=="}[n]))
	}
	assert.Contains(t, page.text("#halt"), "NOT TRIED AGAIN")
	page.state("lane-set-aside")
}
