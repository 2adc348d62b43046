package plant_test

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/answers/answerstest"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/tables"
	"padjig/results/returns"
	"padjig/results/store"
)

// At one station the run that was the newest never goes back from one row to the next: an order by it, and then by number, is that of the
// numbers.
func TestTheOrderOfOneStation(t *testing.T) {
	s := planttest.Records(t, 120, 1)
	happens(t, s)
	seen := 0
	for _, table := range tables.All() {
		if table.Kind != tables.Row || table.Index("after_run") < 0 {
			continue
		}
		require.NoError(t, s.View(t.Context(), func(tx *sql.Tx) error {
			key := table.Key()
			var rows, back int
			err := tx.QueryRowContext(t.Context(), fmt.Sprintf(`SELECT count(*), count(CASE WHEN coalesce(after_run, 0) < before THEN 1 END)
				FROM (SELECT after_run, lag(coalesce(after_run, 0)) OVER (ORDER BY %s) AS before FROM "%s")`, key, table.Name)).Scan(&rows, &back)
			assert.Zero(t, back, table.Name)
			if rows > 0 {
				seen++
			}
			return err
		}))
	}
	assert.Greater(t, seen, 10)
}

// What two stations wrote down in turn is listed in the order in which it happened, whatever numbers it has: a station that wrote
// much has high numbers, and its rows of yesterday are not behind those that another wrote today.
func TestTheOrderOfTwoStations(t *testing.T) {
	now := answerstest.Begin
	var stations [2]*results.Store
	for i := range stations {
		with := store.Real()
		with.Now = func() time.Time { return now }
		with.Ballast = 1 << 10
		s, err := results.OpenWith(t.Context(), filepath.Join(t.TempDir(), "station.sqlite"), with)
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, s.Close()) })
		stations[i] = s
	}
	ctx := t.Context()
	ok := func(err error) { t.Helper(); require.NoError(t, err) }
	const unit, jig = "V-000001", "J-0001"
	for turn, i := range []int{0, 0, 0, 1, 0, 1, 1} {
		s, by := stations[i], fmt.Sprint("turn ", turn)
		run := answerstest.Run(answerstest.Vents, unit, now.Add(-10*time.Second), 60, 70, 80, 90)
		run.Jig.Serial, run.Attempt = jig, turn+1
		id, err := s.Runs.Save(ctx, answerstest.Vents, run)
		ok(err)
		ok(s.Care.SaveReferenceCheck(ctx, care.ReferenceCheck{Run: id, Unit: unit}))
		ok(s.Accounts.SaveOverride(ctx, accounts.Override{What: "attempts used", Serial: unit, Jig: jig, By: by, Reason: "asked for"}))
		ok(s.Floor.SaveLots(ctx, floor.LotChange{Jig: jig, Product: answerstest.Vents.Code, Simulated: true, By: by, Lots: floor.Lots{"dome": by}}))
		ok(s.Floor.SaveHandover(ctx, floor.Handover{Shift: "early", Day: "2026-03-02", Simulated: true, By: by, Note: "probe 3 sticks"}))
		ok(s.Floor.SaveProductChange(ctx, floor.ProductChange{Jig: jig, Simulated: true, Before: "GCC-16", Product: by, Given: by, By: by}))
		ok(s.Lines.SaveBaseline(ctx, lines.Baseline{Subject: "key 7", Selection: "jig=" + jig, Points: 25, Limits: []byte(`{"CL":80}`), Simulated: true, By: by, Reason: "good"}))
		_, err = s.Care.BeginCommissioning(ctx, fixture.Capabilities{Serial: jig, Model: "reference", Firmware: by, Simulated: true}, by)
		ok(err)
		_, err = s.Returns.OpenCase(ctx, fmt.Sprint("R-", turn), answerstest.Vents.Code, returns.Intake{Received: now, Complaint: "key works sometimes",
			Conditions: []string{"dirty"}, By: by})
		ok(err)
		ok(s.Care.SaveWear(ctx, care.WearEvent{Jig: jig, Part: care.Nest, Lot: by, Simulated: true, By: by}))
		now = now.Add(time.Hour)
	}
	pool := plantServer.Plant(t)
	for i, s := range stations {
		_, err := forward.All(ctx, pool, s, fmt.Sprint("line-", i))
		ok(err)
	}
	plant := results.Over(pool, "the plant")
	inTime := func(what string, who []string, newestFirst bool) {
		t.Helper()
		if newestFirst {
			slices.Reverse(who)
		}
		assert.Len(t, who, 7, what)
		assert.True(t, slices.IsSorted(who), "%s: %v", what, who)
	}
	overrides, err := plant.Lines.Overrides(ctx, lines.Filter{Simulated: true})
	ok(err)
	inTime("overrides", store.Each(overrides, func(o lines.Override) string { return o.By }), false)
	lots, err := plant.Floor.LotHistory(ctx, jig, answerstest.Vents.Code, true, 10)
	ok(err)
	inTime("lots", store.Each(lots, func(c floor.LotChange) string { return c.By }), true)
	hand, err := plant.Floor.Handovers(ctx, "early", "2026-03-02", true)
	ok(err)
	inTime("handovers", store.Each(hand, func(h floor.Handover) string { return h.By }), false)
	built, err := plant.Care.Commissionings(ctx, jig, true)
	ok(err)
	inTime("commissionings", store.Each(built, func(c care.Commissioning) string { return c.By }), false)

	last, err := plant.Floor.LastProductChange(ctx, jig, true)
	ok(err)
	assert.Equal(t, "turn 6", last.Product)
	of, err := plant.Floor.LotsOf(ctx, jig, answerstest.Vents.Code, true)
	ok(err)
	assert.Equal(t, "turn 6", of.By)
	line, err := plant.Lines.FrozenLimits(ctx, "key 7", true)
	ok(err)
	assert.Equal(t, "turn 6", line.By)
	check, err := plant.Care.NewestCheck(ctx, unit)
	ok(err)
	assert.Equal(t, 7, check.Attempt)
	state, err := plant.Care.Reference(ctx, jig, unit, true)
	ok(err)
	assert.Equal(t, now.Add(-time.Hour-10*time.Second).UTC(), state.Last.Started.UTC())
}
