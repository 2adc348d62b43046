package main

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/fixture"
	"padjig/results"
	"padjig/results/plant/asked"
	"padjig/results/plant/forward"
	"padjig/results/plant/postgres"
	"padjig/results/runs/elsewhere"
	"padjig/sequence"
)

// passedAt has a unit pass at another station of a plant.
func (b *bed) passedAt(plant, name, serial string) {
	b.Helper()
	other, err := results.Open(b.Context(), filepath.Join(b.dir, name+".sqlite"))
	require.NoError(b, err)
	defer func() { assert.NoError(b, other.Close()) }()
	rev := station.RevisionOf(b.product)
	run := sequence.Run{Serial: serial, Product: rev.Code, Revision: rev.Label, Hash: rev.Hash, Jig: sequence.JigName{Serial: "J-0009"}, Simulated: true,
		Actuation: sequence.Mechanical, Attempt: 1, Started: time.Now(), Outcome: sequence.Pass, Steps: []sequence.StepDone{{Name: "keys", Done: true}}}
	for _, k := range b.product.Keys {
		run.Keys = append(run.Keys, sequence.KeyResult{Key: k.Label, Lines: [2]string{b.product.Lines[k.A].Name, b.product.Lines[k.B].Name},
			Verdict: sequence.KeyPass, Closed: &fixture.Resistance{Value: 70, U: 0.05}, Make: &fixture.Bounce{Time: time.Millisecond}})
	}
	_, err = other.Runs.Save(b.Context(), rev, run)
	require.NoError(b, err)
	db, err := postgres.Open(plant)
	require.NoError(b, err)
	defer db.Close()
	_, err = forward.All(b.Context(), db, other, name)
	require.NoError(b, err)
}

// What an operator reads of the plant at a lane: that it did not answer in time, that it cannot be reached, and that a unit
// passed elsewhere, which it is then refused for. What was decided without the plant is said again where the unit is looked up
// later: on its page, and in the report of the case it came back with.
func TestPagesUnitThatThePlantIsAskedAbout(t *testing.T) {
	t.Parallel()
	server, err := startedPlant()
	require.NoError(t, err)
	address := server.Made(t)
	db, err := postgres.Open(address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	gone, err := postgres.Open("host=" + t.TempDir() + " user=nobody dbname=plant") // nobody listens there
	require.NoError(t, err)
	t.Cleanup(func() { _ = gone.Close() })
	b := makeBed(t, bedding{})
	_, err = forward.All(t.Context(), db, b.store, "line-2") // it is known
	require.NoError(t, err)
	units := []string{b.product.Serial.Complete(1), b.product.Serial.Complete(2), b.product.Serial.Complete(3)}
	b.passedAt(address, "line-9", units[2])
	lane := func(look asked.Look, wait time.Duration) *tab {
		b.stop()
		plant := asked.New(look, wait)
		t.Cleanup(plant.Close)
		b.options.Plant = plant
		b.start()
		return b.as(account.Operator, "station", "/lane/1")
	}
	for _, c := range []struct {
		name, serial string
		look         asked.Look
		wait         time.Duration
		why          string
	}{
		{"late", units[0], func(ctx context.Context, _ string) (*elsewhere.Unit, error) { <-ctx.Done(); return nil, ctx.Err() }, time.Millisecond, "it did not answer in time"},
		{"away", units[1], asked.At(gone, "line-2"), patience, "it cannot be reached"},
	} {
		page := lane(c.look, c.wait)
		page.scan(c.serial)
		page.shows("pass", c.serial)
		assert.Equal(t, "Decided without the plant.", page.text("#note"), c.name)
		page.state("lane-asked-" + c.name)
		desk := b.as(account.Returns, "laptop", "/unit?serial="+c.serial)
		assert.Contains(t, desk.text("table"), "this unit was decided about without the plant: "+c.why)
		desk.check("unit-asked-" + c.name)
	}
	page := lane(asked.At(db, "line-2"), patience)
	page.scan(units[2])
	page.shows("look", units[2])
	assert.Contains(t, page.text("#line"), units[2]+" passed already, at station line-9.")
	page.state("lane-asked-passed")
	runs, err := b.store.Runs.Unit(t.Context(), units[2])
	require.NoError(t, err)
	assert.Empty(t, runs, "it was not tested here")

	b.returned(units[0])
	desk := b.as(account.Returns, "laptop", "/unit?serial="+units[0])
	assert.Contains(t, desk.text(".events"), "this unit was decided about without the plant: it did not answer in time")
	desk.state("unit-asked-late")
	_, err = chromedp.Run(desk.ctx, chromedp.Navigate(b.address+"returns/report/1"))
	require.NoError(t, err)
	assert.Contains(t, desk.text("body"), "this unit was decided about without the plant: it did not answer in time")
	desk.shot("report-asked-late")
}

// Somebody of quality closes a conflict on the page of the office, with a reason, and it stands among the closed ones. Who may not sees what
// was said, and has no form.
func TestPagesConflictIsClosed(t *testing.T) {
	t.Parallel()
	b := makeOffice(t, aPlant(t))
	page := b.as(account.Quality, "laptop", "/plant/conflicts")
	unit := page.eval("document.querySelector('form.recording input[name=unit]').value")
	address := "/plant/conflicts?kind=passed+elsewhere&serial=" + unit
	page.visit(address)
	first := page.eval("document.querySelector('form.recording input[name=conflict]').value")
	page.state("office-conflict-open")
	page.fillIn("reason-"+first, "one unit, sent on by mistake")
	page.submit("form:has(#reason-" + first + ")")
	page.await("!document.querySelector('input[name=conflict][value=\"" + first + "\"]') && document.readyState === 'complete'")
	page.visit(address + "&show=closed")
	assert.Contains(t, page.text(".noted"), "Qiu: one unit, sent on by mistake")
	page.state("office-conflict-closed")
	desk := b.as(account.Returns, "laptop", "/plant/conflicts")
	desk.visit(address + "&show=all")
	assert.Contains(t, desk.text(".noted"), "Qiu: one unit, sent on by mistake")
	assert.Equal(t, "0", desk.eval("String(document.querySelectorAll('form.recording').length)"), "who may not has no form")
}
