package plant_test

import (
	"cmp"
	"context"
	"database/sql"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/charts"
	"padjig/results/answers/choice"
	"padjig/results/answers/overview"
	asked "padjig/results/answers/plant"
	"padjig/results/answers/probes"
	"padjig/results/answers/units"
	"padjig/results/answers/upkeep"
	"padjig/results/lines"
	"padjig/results/linesim"
	"padjig/results/listing"
	"padjig/results/plant/count"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/store"
	"padjig/sequence/product"
)

// The flags of make plant-line. Without them a plant of a few hundred runs stands in, to show that all of it answers.
var (
	plantRuns = flag.Int("plantruns", 0, "time the questions over a plant of so many runs, made in PostgreSQL")
	plantAt   = flag.String("plantat", "", "the address of a plant that -plantruns made and -plantkeep left, in place of a new one")
	plantPage = flag.Bool("plantpage", false, "write what was timed into docs/plant-questions.md")
	plantKeep = flag.Bool("plantkeep", false, "leave the server running that -plantruns started, and say where")
)

const (
	plantMonths   = 12
	plantStations = 50
	cycle         = 2 * time.Minute // from one unit to the next on a jig
)

// TestQuestionsOfAPlant times every question that a person waits for.
func TestQuestionsOfAPlant(t *testing.T) {
	db := manyRuns(t)
	if *plantKeep {
		return
	}
	s := results.Over(db, "plant")
	busy := planttest.Processors(t, db)
	var all []planttest.Timed
	looks := 1 // that there is an answer
	if *plantRuns > 0 || *plantAt != "" {
		looks = planttest.Looks
	} else {
		t.Run("the plant is as one is", func(t *testing.T) { honest(t, db) })
	}
	for _, q := range plantQuestions(t, s) {
		t.Run(q.name, func(t *testing.T) { all = append(all, q.time(t, busy, looks)) })
	}
	if *plantPage {
		planttest.Figures(t, "../../docs/plant-questions.md", "questions", sizeOf(t, db), []string{"rows"}, all)
	}
}

// sizeOf says how large a plant is.
func sizeOf(t *testing.T, db *sql.DB) string {
	var runs, stations, cells int64
	var size string
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT (SELECT count(*) FROM run), (SELECT count(*) FROM member), (SELECT count(*) FROM cell),
		pg_size_pretty(pg_database_size(current_database()))`).Scan(&runs, &stations, &cells, &size))
	return fmt.Sprintf("%d runs of %d stations, %d hourly sums, %s", runs, stations, cells, size)
}

// time asks a question, and says how long the answers took.
func (q plantQuestion) time(t *testing.T, busy func() time.Duration, looks int) planttest.Timed {
	var times []time.Duration
	rows, before := 0, busy()
	for range looks {
		start := time.Now()
		n, err := q.ask(t.Context())
		times = append(times, time.Since(start))
		require.NoError(t, err)
		rows = n
	}
	one := planttest.Timed{Name: q.name, Processors: (busy() - before) / time.Duration(looks), More: []string{strconv.Itoa(rows)}}
	one.Median, one.Most = planttest.Median(times)
	t.Logf("%6d rows %9s ms at the median, %9s at most, %9s of processors", rows, planttest.MS(one.Median), planttest.MS(one.Most), planttest.MS(one.Processors))
	assert.Positive(t, rows)
	return one
}

// manyRuns is a plant with as many runs as were asked for.
func manyRuns(t *testing.T) *sql.DB {
	if *plantAt != "" {
		db, err := postgres.Open(*plantAt)
		require.NoError(t, err)
		_, err = postgres.Migrate(t.Context(), db)
		require.NoError(t, err)
		finish(t, db)
		if *plantAmend {
			amend(t, db)
		}
		sumUp(t, db)
		return db
	}
	runs, months, stations, begin := 300, 2, 3, time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC)
	server := plantServer
	if *plantRuns > 0 {
		months, stations = plantMonths, plantStations
		runs = (*plantRuns + months*stations - 1) / (months * stations)
		begin = monthsAgo(months, runs)
		server = largeServer(t)
	}
	db := server.Plant(t)
	began := time.Now()
	fill(t, db, "template", templateOf(t, runs, begin))
	t.Logf("template of %d runs forwarded in %v", runs, time.Since(began).Round(time.Second))
	multiply(t, db, begin, months, stations)
	sumUp(t, db)
	var size string
	var all, cells, keys int
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT pg_size_pretty(pg_database_size(current_database())), (SELECT count(*) FROM run),
		(SELECT count(*) FROM cell), (SELECT count(*) FROM run_key)`).Scan(&size, &all, &cells, &keys))
	t.Logf("%d runs, %d cells, readings of %d keys, %s, made in %v", all, cells, keys, size, time.Since(began).Round(time.Second))
	return db
}

// monthsAgo is when the template begins so that the last month's copy of it ends now, as pages ask by the clock.
func monthsAgo(months, runs int) time.Time {
	took := time.Duration(runs/4+1) * cycle
	return time.Now().UTC().Truncate(time.Hour).Add(-took).AddDate(0, 1-months, 0)
}

// templateOf is what a station does in a month: a unit every two minutes on each of four jigs, day and night until all are done.
func templateOf(t *testing.T, runs int, begin time.Time) *results.Store {
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "records.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	p, err := product.Load("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	line := linesim.Line{Product: p, Runs: runs, Seed: 3, Begin: begin, Zone: "Europe/Vienna", Cycle: cycle}
	entries, err := line.Entries(t.Context())
	require.NoError(t, err)
	require.NoError(t, s.ImportSimulated(t.Context(), line.Seed, entries, nil))
	return s
}

// largeServer is a server with memory for many rows; the one of the tests has little.
func largeServer(t *testing.T) *planttest.Server {
	dir, err := os.MkdirTemp("", "plantline")
	require.NoError(t, err)
	s, err := planttest.Make(dir, "fsync=off", "synchronous_commit=off", "full_page_writes=off", "max_wal_size=4GB",
		"shared_buffers=2GB", "effective_cache_size=8GB", "work_mem=64MB", "maintenance_work_mem=512MB", "random_page_cost=1.1", "jit=off")
	require.NoError(t, err)
	require.NoError(t, s.Start())
	if *plantKeep {
		t.Logf("left running: %s; folder %s", s.Address("plant1"), dir)
		return s
	}
	t.Cleanup(func() {
		require.NoError(t, s.End(syscall.SIGINT))
		require.NoError(t, os.RemoveAll(dir))
	})
	return s
}

// multiply has each of so many stations do each month what the one in the plant did, as real runs on jigs of their own.
// All readings of keys and probes are of the newest month only, and of no run are there steps, pairs and insulation. What they read is moved by
// [amend].
func multiply(t *testing.T, db *sql.DB, begin time.Time, months, stations int) {
	exec := func(query string, numbers ...any) {
		t.Helper()
		for i, n := range numbers { // written into the text: a parameter would need a type wherever it stands
			query = strings.ReplaceAll(query, fmt.Sprint("?", i+1), fmt.Sprint(n))
		}
		made(t, db, query)
	}
	made(t, db, `DELETE FROM span`) // the triggers that would take them out do not see what follows
	// What is of a station: copied once for each. Numbers of rows go on by 4096, so a station's are told by what is added.
	for m := 2; m <= stations+1; m++ {
		exec(`INSERT INTO member (member, name, since_us) VALUES (?1, 'line-' || to_char(?1 - 1, 'FM00'), 0)`, m)
		exec(`INSERT INTO jig (jig, serial, model, firmware, adapter) OVERRIDING SYSTEM VALUE
			SELECT jig + ?1 * 1000, 'J-' || to_char(?1, 'FM00') || right(serial, 2), model, firmware, adapter FROM jig WHERE jig < 1000`, m)
		exec(`INSERT INTO shift (shift, plan, name, begins_min, ends_min, days, zone, after_run, by, reason, at_us, member, local)
			SELECT shift - 1 + ?1, plan - 1 + ?1, name, begins_min, ends_min, days, zone, after_run - 1 + ?1, by, reason, at_us, ?1, local
			FROM shift WHERE member = 1`, m)
		exec(`INSERT INTO lot_change (seq, jig, product, simulated, membrane, dome, board, consumables, after_run, by, at_us, member, local)
			SELECT seq - 1 + ?1, 'J-' || to_char(?1, 'FM00') || right(jig, 2), product, 0, membrane, dome, board, consumables,
			after_run - 1 + ?1, by, at_us, ?1, local FROM lot_change WHERE member = 1`, m)
	}
	for month := range months {
		began := time.Now()
		ms := begin.AddDate(0, month, 0).Sub(begin).Milliseconds() // by which the template is moved
		exec(`SELECT month_of(min(seq) + ?1::bigint * 4096), month_of(max(seq) + ?1::bigint * 4096) FROM run WHERE member = 1`, ms)
		exec(`INSERT INTO run (seq, id, serial, revision, jig, station, simulated, actuation, operator, attempt, started_us, duration_us, outcome, reason,
			saved_us, mono_ns, clock_synced, steps, seats, keys, pairs, findings, hash, purpose, return_case, exercised, start, ended, proofs, insulation, member, local)
			SELECT seq + ?2::bigint * 4096 - 1 + m, set_byte(set_byte(id, 14, m), 15, ?1), serial || to_char(m, 'FM00') || to_char(?1, 'FM00'), revision, jig + m * 1000, station, 0,
			actuation, operator, attempt, started_us + ?2::bigint * 1000, duration_us, outcome, reason, saved_us + ?2::bigint * 1000, mono_ns, clock_synced, steps, seats, keys, pairs,
			findings, hash, purpose, return_case, exercised, NULL, ended, proofs, insulation, m, local + ?1 * 1000000::bigint
			FROM run, generate_series(2, ?3) AS m WHERE member = 1 ORDER BY seq, m`, month, ms, stations+1)
		exec(`INSERT INTO cell (cell, member, hour, shift, revision, jig, lots, operator, actuation, simulated, purpose, first_run, last_run, runs, reseat, incomplete, aborted,
			units, first_passed, last_passed, retests, cures, relapses) OVERRIDING SYSTEM VALUE
			SELECT cell + (?1 * 64 + m) * 1000000::bigint, m, hour + ?2 / 3600000, CASE shift WHEN 0 THEN 0 ELSE shift - 1 + m END, revision, jig + m * 1000,
			CASE lots WHEN 0 THEN 0 ELSE lots - 1 + m END, operator, actuation, 0, purpose, first_run + ?2::bigint * 4096 - 1 + m, last_run + ?2::bigint * 4096 - 1 + m,
			runs, reseat, incomplete, aborted, units, first_passed, last_passed, retests, cures, relapses
			FROM cell, generate_series(2, ?3) AS m WHERE member = 1 ORDER BY hour, m`, month, ms, stations+1)
		exec(`INSERT INTO run_cell (run, cell, turn) SELECT run + ?2::bigint * 4096 - 1 + m, cell + (?1 * 64 + m) * 1000000::bigint, turn
			FROM run_cell, generate_series(2, ?3) AS m WHERE run IN (SELECT seq FROM run WHERE member = 1) ORDER BY run, m`, month, ms, stations+1)
		exec(`INSERT INTO cell_finding SELECT cell_finding.cell + (?1 * 64 + m) * 1000000::bigint, fault, cell_finding.units, worst, cell_finding.runs
			FROM cell_finding JOIN cell USING (cell), generate_series(2, ?2) AS m WHERE member = 1`, month, stations+1)
		exec(`INSERT INTO unit (serial, simulated, first_run, last_run, code, member, products, stations)
			SELECT serial || to_char(m, 'FM00') || to_char(?1, 'FM00'), 0, first_run + ?2::bigint * 4096 - 1 + m, last_run + ?2::bigint * 4096 - 1 + m, code, m, products, stations
			FROM unit, generate_series(2, ?3) AS m WHERE member = 1 ORDER BY first_run, m`, month, ms, stations+1)
		exec(`INSERT INTO run_finding (run, place, what, location, key, lines, pins, value, value_open, u, "limit", unit, site, how) SELECT run + ?1::bigint * 4096 - 1 + m, place, what, location, key, lines, pins, value, value_open, u, "limit", unit, site, how
			FROM run_finding, generate_series(2, ?2) AS m WHERE run IN (SELECT seq FROM run WHERE member = 1) ORDER BY run, m`, ms, stations+1)
		t.Logf("month %d in %v", month+1, time.Since(began).Round(time.Second))
	}
	finish(t, db)
	amend(t, db)
}

// sumUp sums up days and months as forwarders do while nothing waits, and gathers what questions are planned by.
func sumUp(t *testing.T, db *sql.DB) {
	t.Helper()
	began, made := time.Now(), 0
	var longest time.Duration
	for more := true; more; made++ {
		start := time.Now()
		var err error
		more, err = count.Spans(t.Context(), db)
		require.NoError(t, err)
		longest = max(longest, time.Since(start))
	}
	if made == 1 {
		return // there was nothing to sum up
	}
	for _, table := range []string{"span", "span_cell", "span_reading", "span_finding"} {
		_, err := db.ExecContext(t.Context(), `ANALYZE `+table)
		require.NoError(t, err)
	}
	t.Logf("%d days and months summed up in %v, the longest in %v", made-1, time.Since(began).Round(time.Millisecond), longest.Round(time.Millisecond))
}

// finish makes the readings of the newest month and gathers what questions are planned by, unless that was done before. A making that was cut
// short behind the last month ends so.
func finish(t *testing.T, db *sql.DB) {
	t.Helper()
	var first, newest, stations int64 // the last run of the template, and what the last month made of it
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT (SELECT seq FROM run WHERE member = 1 ORDER BY local DESC LIMIT 1),
		(SELECT seq FROM run WHERE member = 2 ORDER BY local DESC LIMIT 1), (SELECT max(member) - 1 FROM member)`).Scan(&first, &newest, &stations))
	var done bool
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT EXISTS (SELECT 1 FROM run_seat WHERE run BETWEEN ?1 - 4096 * 3600000::bigint AND ?1 AND run & 4095 = 2)`,
		newest).Scan(&done)) // of its last hour
	if done {
		return
	}
	copyOfRuns(t, db, "run_seat", (newest-1-first)/4096, int(stations), nil)
	_, err := db.ExecContext(t.Context(), `VACUUM (ANALYZE)`)
	require.NoError(t, err)
}

// made makes rows without the triggers that ask of each whose it is: they are nobody's.
func made(t *testing.T, db *sql.DB, query string, args ...any) {
	t.Helper()
	tx, err := db.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	defer tx.Rollback()
	_, err = tx.ExecContext(t.Context(), `SET LOCAL session_replication_role = replica`)
	require.NoError(t, err)
	_, err = tx.ExecContext(t.Context(), query, args...)
	require.NoError(t, err, query)
	require.NoError(t, tx.Commit())
}

// copyOfRuns copies what a table has of the runs of the template, for each station and so many milliseconds later; some columns as is said.
func copyOfRuns(t *testing.T, db *sql.DB, table string, ms int64, stations int, as map[string]string) {
	t.Helper()
	columns, err := store.Collect(t.Context(), db, store.ScanText, `SELECT attname FROM pg_attribute
		WHERE attrelid = ?::regclass AND attnum > 0 AND attgenerated = '' AND attname <> 'run' ORDER BY attnum`, table)
	require.NoError(t, err)
	values := store.Each(columns, func(column string) string { return cmp.Or(as[column], column) })
	made(t, db, fmt.Sprintf(`INSERT INTO %[1]s (run, %[2]s) SELECT run + %[3]d::bigint * 4096 - 1 + m, %[4]s
		FROM %[1]s, generate_series(2, %[5]d) AS m WHERE run IN (SELECT seq FROM run WHERE member = 1) ORDER BY run, m`,
		table, strings.Join(columns, ", "), ms, strings.Join(values, ", "), stations+1))
}

type plantQuestion struct {
	name string
	ask  func(context.Context) (rows int, err error)
}

func plantQuestions(t *testing.T, s *results.Store) []plantQuestion {
	clock, err := s.Floor.Clock(t.Context())
	require.NoError(t, err)
	var last int64
	require.NoError(t, s.View(t.Context(), func(tx *sql.Tx) error {
		return tx.QueryRowContext(t.Context(), `SELECT max(started_us) FROM run WHERE simulated = 0 AND seq > (SELECT max(seq) FROM run) - 4096000000`).Scan(&last)
	}))
	now := time.UnixMicro(last).Add(time.Minute)
	usual, err := choice.Choose(t.Context(), s, choice.Asked{Filter: lines.Filter{Zone: clock.Zone()}}, choice.Runs, now)
	require.NoError(t, err)
	newest := usual.Selection
	everything := answers.Selection{}
	year := newest
	year.Filter.From, year.Filter.To = time.Time{}, time.Time{}
	one := newest
	one.Filter.Stations = []string{"line-02"}
	oneYear := year
	oneYear.Filter.Stations = one.Filter.Stations
	var unit listing.Run
	recent, err := s.Runs.Recent(t.Context(), 50)
	require.NoError(t, err)
	page, _, err := s.Listing.Page(t.Context(), listing.Filter{}, 10)
	require.NoError(t, err)
	unit = page[len(page)-1]
	var all []plantQuestion
	add := func(name string, ask func(context.Context) (int, error)) { all = append(all, plantQuestion{name, ask}) }
	for _, of := range []struct {
		name string
		of   answers.Selection
	}{{"newest week", newest}, {"newest week of a station", one}, {"a year of a station", oneYear}, {"a year", year}} {
		of := of
		add("which revisions were tested, "+of.name, func(ctx context.Context) (int, error) {
			l, err := s.Lines.Tested(ctx, of.of.Filter)
			return len(l), err
		})
		for _, by := range [][]lines.Dimension{{lines.ByJig}, {lines.ByStation}, {lines.ByDay}} {
			add(fmt.Sprintf("yield by %s, %s", by[0], of.name), func(ctx context.Context) (int, error) {
				y, err := answers.AskYield(ctx, s, answers.YieldAsked{Selection: of.of, By: by})
				return len(y.Rows), err
			})
		}
		add("causes by place, "+of.name, func(ctx context.Context) (int, error) {
			c, err := answers.AskCauses(ctx, s, answers.CausesAsked{Selection: of.of, By: lines.CauseByPlace})
			return len(c.Rows), err
		})
		add("distribution of every key, "+of.name, func(ctx context.Context) (int, error) {
			d, err := answers.AskDistributions(ctx, s, answers.DistributionsAsked{Selection: of.of})
			return len(d.Rows), err
		})
		add("units that failed, "+of.name, func(ctx context.Context) (int, error) {
			u, err := units.AskUnits(ctx, s, units.UnitsAsked{Selection: of.of, Behind: lines.Behind{Verdict: "fail", Low: nan, High: nan}})
			return len(u.Rows), err
		})
		add("control chart of a key, "+of.name, func(ctx context.Context) (int, error) {
			c, err := charts.AskChart(ctx, s, charts.ChartAsked{Selection: of.of, Keys: key("7")})
			return len(c.Panels), err
		})
		add("capability, "+of.name, func(ctx context.Context) (int, error) {
			c, err := answers.AskCapability(ctx, s, answers.CapabilityAsked{Selection: of.of})
			return len(c.Rows), err
		})
		add("last 200 units, for stop rules, "+of.name, func(ctx context.Context) (int, error) {
			l, err := s.Lines.LastUnits(ctx, of.of.Filter, 200)
			return len(l), err
		})
	}
	add("overview, newest week", func(ctx context.Context) (int, error) {
		o, err := overview.AskOverview(ctx, s, overview.OverviewAsked{Selection: newest, Before: usual.Before, Now: now})
		return len(o.Figures), err
	})
	add("probes, newest week", func(ctx context.Context) (int, error) {
		p, err := probes.AskProbes(ctx, s, probes.ProbesAsked{Selection: newest})
		return len(p.Rows), err
	})
	add("what is usual: product, revision, week", func(ctx context.Context) (int, error) {
		_, err := choice.Choose(ctx, s, choice.Asked{Filter: lines.Filter{Zone: clock.Zone()}}, choice.Runs, now)
		return 1, err
	})
	add("what can be chosen", func(ctx context.Context) (int, error) {
		f, err := s.Lines.Facets(ctx, newest.Filter.Product, false)
		return len(f.Jigs), err
	})
	add("yield of everything by station", func(ctx context.Context) (int, error) {
		y, err := answers.AskYield(ctx, s, answers.YieldAsked{Selection: everything, By: []lines.Dimension{lines.ByStation}})
		return len(y.Rows), err
	})
	add("newest 50 runs", func(ctx context.Context) (int, error) {
		r, err := s.Runs.Recent(ctx, 50)
		return len(r), err
	})
	add("a unit by its serial number", func(ctx context.Context) (int, error) {
		r, err := s.Runs.Unit(ctx, unit.Serial)
		return len(r), err
	})
	add("history of a unit", func(ctx context.Context) (int, error) {
		h, err := s.Runs.History(ctx, unit.Serial)
		return len(h.Products), err
	})
	add("a run by its id", func(ctx context.Context) (int, error) {
		_, err := s.Runs.Run(ctx, recent[len(recent)-1].ID)
		return 1, err
	})
	add("units by a part of the number that many have", func(ctx context.Context) (int, error) {
		u, _, err := s.Units.Find(ctx, "GCC", 20)
		return len(u), err
	})
	add("units by a part of the number that few have", func(ctx context.Context) (int, error) {
		u, _, err := s.Units.Find(ctx, unit.Serial[3:], 20)
		return len(u), err
	})
	add("a page of the list of runs", func(ctx context.Context) (int, error) {
		p, _, err := s.Listing.Page(ctx, listing.Filter{After: unit.ID}, 200)
		return len(p), err
	})
	add("a page of the fails of a jig", func(ctx context.Context) (int, error) {
		p, _, err := s.Listing.Page(ctx, listing.Filter{Jig: recent[0].Jig, Verdict: "fail"}, 200)
		return len(p), err
	})
	add("how each station stands", func(ctx context.Context) (int, error) {
		a, err := asked.AskStations(ctx, s, asked.StationsAsked{Now: now})
		return len(a.Rows), err
	})
	add("whether a station yields less, newest week", func(ctx context.Context) (int, error) {
		a, err := asked.AskCompare(ctx, s, asked.CompareAsked{Selection: newest})
		return len(a.Rows), err
	})
	add("what is due on all jigs", func(ctx context.Context) (int, error) {
		a, err := asked.AskDue(ctx, s, upkeep.Asked{Now: now})
		return len(a.Jigs), err
	})
	add("units in doubt", func(ctx context.Context) (int, error) {
		a, err := asked.AskSuspects(ctx, s, asked.SuspectsAsked{})
		return len(a.Conclusions), err
	})
	add("drift between stations", func(ctx context.Context) (int, error) {
		a, err := asked.AskDrift(ctx, s, asked.DriftAsked{})
		return len(a.Conclusions), err
	})
	add("the life of a unit", func(ctx context.Context) (int, error) {
		a, err := asked.AskLife(ctx, s, unit.Serial)
		return len(a.Events), err
	})
	add("units that are open, newest week", func(ctx context.Context) (int, error) {
		u, err := s.Lines.OpenUnits(ctx, newest.Filter)
		return len(u), err
	})
	add("fails that are owed", func(ctx context.Context) (int, error) {
		_, err := s.Fails.Open(ctx, false)
		return 1, err
	})
	add("fails that were placed last", func(ctx context.Context) (int, error) {
		_, err := s.Fails.Latest(ctx, 20)
		return 1, err
	})
	add("jigs that are known", func(ctx context.Context) (int, error) {
		j, err := s.Care.Jigs(ctx)
		return len(j), err
	})
	return all
}
