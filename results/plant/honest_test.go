package plant_test

import (
	"database/sql"
	"flag"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/hourly"
	"padjig/results/runs"
	"padjig/results/store"
)

var plantAmend = flag.Bool("plantamend", false, "amend the plant of -plantat that was made before its months and stations differed and its fails were placed; once")

// shift is by how many milliohm a station reads more in a month than the template: otherwise all would read the same at the same time, and no
// control chart could be drawn. It decides no verdict anew, so a reading next to its limit may lie on the wrong side of it.
func shift(month int, member string) string {
	return fmt.Sprintf("((%s) * 7919 %% 401 - 200 + %d)", member, month*131%201-100)
}

// unplaced is how long before the end fails are not placed yet.
const unplaced = 24 * time.Hour

// copied is how a plant was multiplied: what it is made of is read off its numbers.
type copied struct {
	stations int
	months   []int64 // by how many milliseconds the template was moved
}

func copiedIn(t *testing.T, db *sql.DB) (c copied) {
	t.Helper()
	var newest int64
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT max(cell) / 1000000 / 64, (SELECT max(member) - 1 FROM member) FROM cell`).Scan(&newest, &c.stations))
	for month := range newest + 1 {
		var ms int64
		require.NoError(t, db.QueryRowContext(t.Context(), `SELECT (copy.first_run - 1 - cell.first_run) / 4096 FROM cell
			JOIN cell AS copy ON copy.cell = cell.cell + (? * 64 + 2) * 1000000::bigint WHERE cell.member = 1 ORDER BY cell.cell LIMIT 1`, month).Scan(&ms))
		c.months = append(c.months, ms)
	}
	return c
}

// amended reports whether stations read differently and fails are placed: these come last.
func amended(t *testing.T, db *sql.DB) (done bool) {
	t.Helper()
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT EXISTS (SELECT 1 FROM placement WHERE member > 1)`).Scan(&done))
	return done
}

// amend has each station read differently in each month, keys of the newest month and sums of all, and places all fails but the newest. What was
// cut short begins anew.
func amend(t *testing.T, db *sql.DB) {
	t.Helper()
	if amended(t, db) {
		t.Log("amended before: nothing to do")
		return
	}
	began := time.Now()
	told := func(what string) { t.Logf("%s, %v after the beginning", what, time.Since(began).Round(time.Second)) }
	c := copiedIn(t, db)
	keysOfNewest(t, db, c)
	told("keys of the newest month")
	sumsOfCells(t, db, c)
	told("readings of the hours")
	made(t, db, `TRUNCATE span, span_cell, span_reading, span_finding`) // they sum up the readings of before
	var newest int64
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT max(at_us) FROM placement`).Scan(&newest))
	newest += c.months[len(c.months)-1]*1000 - unplaced.Microseconds()
	place := ""
	for month, ms := range c.months {
		place += fmt.Sprintf(`INSERT INTO placement (seq, run, how, place, by, reason, after_run, at_us, hash, member, local)
			SELECT (local + %[1]d) * 4096 + m, run + %[2]d::bigint * 4096 - 1 + m, how, place, by, reason, after_run + %[2]d::bigint * 4096 - 1 + m, at_us + %[2]d::bigint * 1000, hash, m, local + %[1]d
			FROM placement, generate_series(2, %[3]d) AS m WHERE member = 1 AND at_us + %[2]d::bigint * 1000 <= %[4]d ORDER BY seq, m;
			`, (month+1)*1_000_000, ms, c.stations+1, newest)
	}
	made(t, db, place) // in one: the first of them says that all is done
	told("fails placed")
	for _, table := range []string{"placement", "cell_reading", "run_key"} {
		_, err := db.ExecContext(t.Context(), `VACUUM (ANALYZE) `+table)
		require.NoError(t, err)
	}
	told("amended")
}

// keysOfNewest makes the readings of the keys of the newest month.
func keysOfNewest(t *testing.T, db *sql.DB, c copied) {
	t.Helper()
	month := len(c.months) - 1
	ms := c.months[month]
	var low, high int64
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT min(first_run), max(last_run) FROM cell WHERE cell >= ? * 64000000::bigint`, month).Scan(&low, &high))
	parts, err := store.Collect(t.Context(), db, store.ScanText, `SELECT DISTINCT tableoid::regclass::text FROM run_key WHERE run BETWEEN ? AND ?`, low, high)
	require.NoError(t, err)
	for _, part := range parts {
		var others bool
		require.NoError(t, db.QueryRowContext(t.Context(), `SELECT EXISTS (SELECT 1 FROM `+part+` WHERE run < ?)`, low).Scan(&others))
		if others {
			made(t, db, fmt.Sprintf(`DELETE FROM %s WHERE run >= %d`, part, low))
		} else {
			made(t, db, `TRUNCATE `+part)
		}
	}
	copyOfRuns(t, db, "run_key", ms, c.stations, map[string]string{
		"closed_mohm": `CASE closed_at_least WHEN 0 THEN closed_mohm + ` + shift(month, "m") + ` ELSE closed_mohm END`})
}

// sumsOfCells makes the readings of all hours of all stations, as they would be counted from readings that differ.
func sumsOfCells(t *testing.T, db *sql.DB, c copied) {
	t.Helper()
	type reading struct {
		key int64
		ohm *runs.Ohms
	}
	of := map[int64][]reading{}
	var cells []int64
	require.NoError(t, store.Visit(t.Context(), db, func(rows *sql.Rows) error {
		var cell int64
		var r reading
		var milli *int64
		var atLeast *bool
		err := rows.Scan(&cell, &r.key, &milli, &atLeast)
		if atLeast != nil {
			r.ohm = &runs.Ohms{MilliOhm: milli, AtLeast: *atLeast}
		}
		if of[cell] == nil {
			cells = append(cells, cell)
		}
		of[cell] = append(of[cell], r)
		return err
	}, `SELECT run_cell.cell, key, closed_mohm, closed_at_least = 1 FROM run JOIN run_cell ON run_cell.run = seq JOIN run_key ON run_key.run = seq
		WHERE member = 1 AND turn = 1 AND actuation <> 'electrical' ORDER BY seq, place`))
	made(t, db, `CREATE TEMP TABLE kept ON COMMIT DROP AS SELECT * FROM cell_reading WHERE cell < 1000000;
		TRUNCATE cell_reading; INSERT INTO cell_reading SELECT * FROM kept`)
	for month := range c.months {
		for m := 2; m <= c.stations+1; m++ {
			var more int64
			require.NoError(t, db.QueryRowContext(t.Context(), `SELECT `+shift(month, fmt.Sprint(m))).Scan(&more))
			var numbers []int64
			var packed [][]byte
			for _, cell := range cells {
				var sums hourly.Histograms
				for _, r := range of[cell] {
					ohm := r.ohm
					if ohm != nil && ohm.MilliOhm != nil && !ohm.AtLeast {
						ohm = &runs.Ohms{MilliOhm: new(*ohm.MilliOhm + more)}
					}
					sums.Add(r.key, ohm)
				}
				numbers, packed = append(numbers, cell+int64(month*64+m)*1_000_000), append(packed, sums.Pack())
			}
			made(t, db, `INSERT INTO cell_reading SELECT * FROM unnest(?::bigint[], ?::bytea[])`, numbers, packed)
		}
	}
}

// honest holds that the plant that stands in for a large one is as a plant is: stations and months read differently, the sums are those of
// the readings, and few fails are owed. Once amended it stays.
func honest(t *testing.T, db *sql.DB) {
	ask := func(query string) (n int64) {
		require.NoError(t, db.QueryRowContext(t.Context(), query).Scan(&n))
		return n
	}
	cells := ask(`SELECT count(*) FROM cell_reading WHERE cell >= 1000000`)
	assert.Positive(t, cells)
	assert.Equal(t, int64(2*3), ask(`SELECT count(DISTINCT packed) FROM cell_reading WHERE cell >= 1000000 AND cell % 1000000 =
		(SELECT min(cell) FROM cell_reading)`), "of two months at three stations")
	owing := ask(`SELECT count(*) FROM run WHERE outcome = 'fail'`)
	placed := ask(`SELECT count(*) FROM placement JOIN run ON run.seq = placement.run AND run.member = placement.member`)
	assert.Positive(t, placed)
	assert.LessOrEqual(t, placed, owing)
	require.True(t, amended(t, db))
	amend(t, db)
	assert.Equal(t, placed, ask(`SELECT count(*) FROM placement`))

	// Newest month, one station, one cell: the sums by the rule of hours.
	cell := ask(`SELECT max(cell) FROM cell_reading`)
	var sums hourly.Histograms
	require.NoError(t, store.Visit(t.Context(), db, func(rows *sql.Rows) error {
		var key, milli int64
		var atLeast bool
		err := rows.Scan(&key, &milli, &atLeast)
		sums.Add(key, &runs.Ohms{MilliOhm: &milli, AtLeast: atLeast})
		return err
	}, `SELECT key, coalesce(closed_mohm, 0), closed_at_least = 1 FROM run_cell JOIN run_key ON run_key.run = run_cell.run WHERE cell = ? AND turn = 1
		AND closed_at_least IS NOT NULL ORDER BY run_cell.run, place`, cell))
	var packed []byte
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT packed FROM cell_reading WHERE cell = ?`, cell).Scan(&packed))
	kept, err := hourly.Unpack(packed)
	require.NoError(t, err)
	again, err := hourly.Unpack(sums.Pack())
	require.NoError(t, err)
	assert.True(t, again.Equal(kept))
}
