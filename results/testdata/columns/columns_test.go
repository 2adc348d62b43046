// Package columns asks a column engine the questions that padjig answers from
// its sums, over the same rows exported as Parquet. It is a module of its own, so
// that the engine is never a part of the program.
package columns

import (
	"database/sql"
	"flag"
	"fmt"
	"slices"
	"testing"
	"time"

	_ "github.com/duckdb/duckdb-go/v2"
)

var rows = flag.String("rows", "", "a `FILE` of padjig quality export in Parquet")

// Each question once from the file as it lies, and once from a table in memory.
var questions = []struct{ name, query string }{
	{"yield, all", `SELECT count(*) FILTER (outcome = 'pass'), count(*) FROM %s WHERE judged_run = 1 AND key = '1'`},
	{"yield by revision", `SELECT revision, avg((outcome = 'pass')::int) FROM %s WHERE judged_run = 1 AND key = '1' GROUP BY revision`},
	{"yield by lot", `SELECT membrane, board, avg((outcome = 'pass')::int) FROM %s WHERE judged_run = 1 AND key = '1' GROUP BY ALL`},
	{"yield by jig and shift", `SELECT jig, shift, avg((outcome = 'pass')::int) FROM %s WHERE judged_run = 1 AND key = '1' GROUP BY ALL`},
	{"yield by hour", `SELECT time_bucket(INTERVAL 1 HOUR, started), avg((outcome = 'pass')::int) FROM %s WHERE judged_run = 1 AND key = '1' GROUP BY ALL`},
	{"causes by place, all", `SELECT worst, count(*) FROM %s WHERE judged_run = 1 AND key = '1' AND worst <> '' GROUP BY worst ORDER BY 2 DESC`},
	{"mean and spread of every key, revision C", `SELECT key, avg(closed_ohm), stddev(closed_ohm) FROM %s WHERE judged_run = 1 AND revision = 'C' AND NOT closed_at_least GROUP BY key`},
	{"distribution of every key, revision C", `SELECT key, floor(32 * log2(closed_ohm)) AS bin, count(*) FROM %s WHERE judged_run = 1 AND revision = 'C' AND NOT closed_at_least GROUP BY ALL`},
	{"last 500 readings of a key", `SELECT seq, closed_ohm FROM %s WHERE judged_run = 1 AND key = '7' AND revision = 'C' ORDER BY seq DESC LIMIT 500`},
}

func TestQuestions(t *testing.T) {
	if *rows == "" {
		t.Fatal("name an export: go test -rows line.parquet")
	}
	db, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(`SET threads = 2`); err != nil {
		t.Fatal(err)
	}
	file := fmt.Sprintf("read_parquet('%s')", *rows)
	for _, q := range questions {
		t.Logf("%-45s %9.2f ms from the file", q.name, median(t, db, fmt.Sprintf(q.query, file)))
	}
	if _, err := db.Exec(`CREATE TABLE line AS SELECT * FROM ` + file); err != nil {
		t.Fatal(err)
	}
	for _, q := range questions {
		t.Logf("%-45s %9.2f ms from a table of the engine's own", q.name, median(t, db, fmt.Sprintf(q.query, "line")))
	}
}

func median(t *testing.T, db *sql.DB, query string) float64 {
	var times []time.Duration
	for range 5 {
		start := time.Now()
		rows, err := db.Query(query)
		if err != nil {
			t.Fatal(query, err)
		}
		n := 0
		for rows.Next() {
			n++
		}
		if err := rows.Err(); err != nil || n == 0 {
			t.Fatal(query, n, err)
		}
		times = append(times, time.Since(start))
	}
	slices.Sort(times)
	return float64(times[2]) / 1e6
}
