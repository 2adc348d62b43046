package plant_test

import (
	"context"
	"net/url"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/linesim"
	"padjig/results/plant/planttest"
	"padjig/sequence/product"
)

// What a plant says of one of its stations is what that station says of itself, while another one has the same jigs,
// products and hours.
func TestOneStationOfTwo(t *testing.T) {
	pool := apart(t)
	first, other := planttest.Records(t, 300, 3), otherUnits(t, 200)
	s := &sides{same{numbers: fill(t, pool, "hall-1", first), path: first.Path()}, happened{}, first, results.Over(pool, "plant")}
	fill(t, pool, "hall-2", other)
	chosen := answers.Selection{Filter: lines.Filter{Simulated: true, Stations: []string{"hall-1"}}}
	alone := answers.Selection{Filter: lines.Filter{Simulated: true}}
	for name, ask := range map[string]asking{
		"yield by jig": yieldBy(lines.ByJig), "yield by hour": yieldBy(lines.ByHour), "causes": causesBy(lines.CauseByPlace),
		"units that failed": behind(lines.Behind{Verdict: "fail", Low: nan, High: nan}),
		"overrides": func(ctx context.Context, r *results.Store, of answers.Selection) (any, error) {
			return one(r.Lines.Overrides(ctx, of.Filter))
		},
		"aborted": func(ctx context.Context, r *results.Store, of answers.Selection) (any, error) {
			return one(r.Lines.AbortedAfterFinding(ctx, of.Filter))
		},
		"unfinished": func(ctx context.Context, r *results.Store, of answers.Selection) (any, error) {
			return one(r.Lines.Unfinished(ctx, of.Filter))
		},
		"reseats": func(ctx context.Context, r *results.Store, of answers.Selection) (any, error) {
			return one(r.Lines.Reseats(ctx, of.Filter))
		},
		"what happened": func(ctx context.Context, r *results.Store, of answers.Selection) (any, error) {
			return one(r.Lines.Events(ctx, of.Filter))
		},
		"open units": func(ctx context.Context, r *results.Store, of answers.Selection) (any, error) {
			return one(r.Lines.OpenUnits(ctx, of.Filter))
		},
		"probes": func(ctx context.Context, r *results.Store, of answers.Selection) (any, error) {
			return one(r.Lines.Probes(ctx, of.Filter, 100))
		},
		"histograms": func(ctx context.Context, r *results.Store, of answers.Selection) (any, error) {
			return one(r.Lines.KeyHistograms(ctx, of.Filter))
		},
	} {
		here, err := ask(t.Context(), s.station, alone)
		there, plantErr := ask(t.Context(), s.plant, chosen)
		s.compare(t, name, without(here), err, without(there), plantErr)
	}

	y, err := s.plant.Lines.Yields(t.Context(), lines.Filter{Simulated: true}, lines.ByStation)
	require.NoError(t, err)
	require.Len(t, y.Rows, 2)
	for i, station := range []*results.Store{first, other} {
		own, err := station.Lines.Yields(t.Context(), lines.Filter{Simulated: true})
		require.NoError(t, err)
		assert.Equal(t, own.Total, y.Rows[i].Counts, y.Rows[i].Groups)
	}
	compared, err := answers.AskCompare(t.Context(), s.plant, answers.CompareAsked{Selection: answers.Selection{Filter: lines.Filter{Simulated: true, Revisions: []string{"C"}}},
		By: lines.ByStation, A: "hall-1", B: "hall-2"})
	require.NoError(t, err)
	assert.Equal(t, [2]string{"hall-1", "hall-2"}, [2]string{compared.Sides[0].Groups[0], compared.Sides[1].Groups[0]})
	facets, err := s.plant.Lines.Facets(t.Context(), "", true)
	require.NoError(t, err)
	assert.Equal(t, []string{"hall-1", "hall-2"}, facets.Stations)
}

// otherUnits are the records of a line with units of its own.
func otherUnits(t *testing.T, runs int) *results.Store {
	t.Helper()
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "records.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	p, err := product.Load("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	line := linesim.Line{Product: p, Runs: runs, Seed: 5, Begin: time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC), Zone: "Europe/Vienna"}
	entries, err := line.Entries(t.Context())
	require.NoError(t, err)
	own := make(chan results.Entry)
	go func() {
		defer close(own)
		for e := range entries {
			if e.Run != nil {
				run := *e.Run
				run.Serial = "2" + run.Serial
				e.Run = &run
			}
			own <- e
		}
	}()
	require.NoError(t, s.ImportSimulated(t.Context(), 5, own, nil))
	return s
}

// without is an answer without what was asked.
func without(answer any) any {
	switch a := answer.(type) {
	case answers.Yield:
		a.YieldAsked = answers.YieldAsked{}
		return a
	case answers.Causes:
		a.CausesAsked = answers.CausesAsked{}
		return a
	case units.Units:
		a.UnitsAsked = units.UnitsAsked{}
		return a
	}
	return answer
}

// A station's own records tell no stations apart, and say so.
func TestStationsOfOneStation(t *testing.T) {
	s := planttest.Records(t, 20, 3)
	f, err := lines.ParseFilter(url.Values{"simulated": {"1"}, "station": {"hall-1"}}, time.UTC)
	require.NoError(t, err)
	assert.Equal(t, []string{"hall-1"}, f.Stations)
	_, err = s.Lines.Yields(t.Context(), f)
	require.ErrorIs(t, err, lines.ErrOneStation)
	_, err = s.Lines.Yields(t.Context(), lines.Filter{Simulated: true}, lines.ByStation)
	require.ErrorIs(t, err, lines.ErrOneStation)
	_, err = s.Lines.Overrides(t.Context(), f)
	require.ErrorIs(t, err, lines.ErrOneStation)
	err = s.Lines.Export(t.Context(), f, func(lines.ExportRow) error { return nil }, nil)
	require.ErrorIs(t, err, lines.ErrOneStation)
}
