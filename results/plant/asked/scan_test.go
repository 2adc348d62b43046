package asked_test

import (
	"database/sql"
	"flag"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/asked"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/returns"
	"padjig/results/runs/elsewhere"
	"padjig/results/runs/runstest"
	"padjig/results/store"
)

var (
	plantAt   = flag.String("plantat", "", "address of a plant that is asked as at each scan, read only; empty: none is")
	scanUnits = flag.Int("scanunits", 500, "how many units it is asked about")
)

// grows are the tables that grow with the units of a plant: none of them may be read through for the sake of one.
var grows = regexp.MustCompile(`Seq Scan on (unit|run\w*|return_\w+|rework|override)\b`)

// What is asked at each scan finds every table that grows by an index: where the server is told to read none through, it need not.
func TestEveryScanGoesByIndexes(t *testing.T) {
	one, other := two(t)
	one.tests(runstest.Failed("24-1"), elsewhere.Answer{})
	one.forward()
	_, err := asked.At(other.plant, other.name)(t.Context(), "24-1")
	require.NoError(t, err)
	tx, err := other.plant.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	defer func() { _ = tx.Rollback() }()
	_, err = tx.ExecContext(t.Context(), `SET LOCAL enable_seqscan = off`)
	require.NoError(t, err)
	plan, err := store.Collect(t.Context(), tx, store.ScanText, `EXPLAIN `+asked.ScanQuestion, "24-1", other.name, returns.RepairLoop, postgres.RunTime(0).UnixMilli())
	require.NoError(t, err)
	text := strings.Join(plan, "\n")
	assert.Contains(t, text, "unit_pkey")
	assert.NotRegexp(t, grows, text)
}

// TestScansOfAPlant asks a plant as at each scan and says what that costs: a small one, or a large one about units of all its months.
//
//	go test ./results/plant/asked -run ScansOfAPlant -v -plantat ADDRESS
func TestScansOfAPlant(t *testing.T) {
	ctx := t.Context()
	var db *sql.DB
	if *plantAt == "" {
		one, _ := two(t)
		for n := range 5 {
			one.tests(runstest.Failed(fmt.Sprint("24-", n)), elsewhere.Answer{})
		}
		one.forward()
		db, *scanUnits = one.plant, 5
	} else {
		var err error
		db, err = postgres.Open(*plantAt)
		require.NoError(t, err)
		defer db.Close()
	}
	db.SetMaxOpenConns(4) // as a station has
	tx, err := db.BeginTx(ctx, nil)
	require.NoError(t, err)
	member, err := store.Collect(ctx, tx, store.ScanText, `SELECT name FROM member ORDER BY member DESC LIMIT 1`)
	require.NoError(t, err)
	months, err := store.Collect(ctx, tx, store.ScanText, `SELECT relname FROM pg_class WHERE relname ~ '^run_[0-9]{4}_[0-9]{2}$' AND relkind = 'r' ORDER BY 1`)
	require.NoError(t, err)
	var units []string
	each := (*scanUnits + len(months) - 1) / len(months)
	for _, month := range months {
		found, err := store.Collect(ctx, tx, store.ScanText, `SELECT serial FROM `+month+` ORDER BY seq LIMIT ?`, each)
		require.NoError(t, err)
		units = append(units, found...)
	}
	require.NotEmpty(t, units)
	require.NoError(t, tx.Rollback())
	ask := asked.At(db, member[0])
	for _, serial := range units[:min(20, len(units))] { // connections and plans are there
		_, err := ask(ctx, serial)
		require.NoError(t, err)
	}
	took := planttest.Processors(t, db)
	began, times := took(), []time.Duration(nil)
	known := 0
	for _, serial := range units {
		from := time.Now()
		u, err := ask(ctx, serial)
		require.NoError(t, err)
		times = append(times, time.Since(from))
		known += len(u.Runs)
	}
	spent := took() - began
	assert.Greater(t, known, len(units)/2, "most are of production at another station")
	slices.Sort(times)
	t.Logf("%d units of %d months, %d runs told: %s ms of processors a scan; answered in %s ms at the median, %s at most (%s)", len(units), len(months), known,
		planttest.MS(spent/time.Duration(len(units))), planttest.MS(times[len(times)/2]), planttest.MS(times[len(times)-1]), planttest.Machine(t))
}
