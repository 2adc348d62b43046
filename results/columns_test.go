package results_test

import (
	"bufio"
	"database/sql"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers/ratio"
)

// asColumns is how a column engine is asked one of the [questions].
type asColumns struct {
	query string // in one line
	why   string // it is not asked
	rows  bool   // it gives as many rows as padjig does
}

// columnQueries are those of testdata/columns/questions.sql, by the names of the questions.
func columnQueries(t testing.TB) map[string]asColumns {
	t.Helper()
	text, err := os.ReadFile("testdata/columns/questions.sql")
	require.NoError(t, err)
	_, parts, _ := strings.Cut(string(text), "\n\n") // behind what it says of itself
	all := map[string]asColumns{}
	for part := range strings.SplitSeq(parts, "\n\n") {
		head, query, _ := strings.Cut(strings.TrimSpace(part), "\n")
		name, why, _ := strings.Cut(strings.TrimPrefix(head, "-- "), ": ")
		name, rows := strings.CutSuffix(name, "; rows")
		assert.NotContains(t, all, name)
		all[name] = asColumns{query: strings.TrimSuffix(strings.Join(strings.Fields(query), " "), ";"), why: why, rows: rows}
	}
	return all
}

// Each question is put to the column engine too, or it is said why not; and nothing else is.
func TestEveryQuestionIsComparedOrSaysWhyNot(t *testing.T) {
	queries := columnQueries(t)
	for _, q := range questions(t, nil) {
		as, there := queries[q.name]
		assert.True(t, there, q.name)
		assert.NotEqual(t, as.query == "", as.why == "", "%s: a query, or why there is none", q.name)
		delete(queries, q.name)
	}
	assert.Empty(t, queries)
}

// BenchmarkQuestionsOfALine asks each question of the store of -line and, in turn, a column engine that has the same rows in
// a table of its own, each with as many processors as there are. make line makes both.
func BenchmarkQuestionsOfALine(b *testing.B) {
	if *lineStore == "" {
		b.Skip("no store is named: -line FILE, which make line makes")
	}
	s, err := results.OpenReadOnly(b.Context(), *lineStore)
	require.NoError(b, err)
	defer s.Close()
	queries, ask := columnQueries(b), columnEngine(b, strings.TrimSuffix(*lineStore, filepath.Ext(*lineStore))+".parquet")
	counting, err := sql.Open("sqlite3", "file://"+s.Path()+"?mode=ro")
	require.NoError(b, err)
	defer counting.Close()
	var runs float64
	require.NoError(b, counting.QueryRowContext(b.Context(), `SELECT count(*) FROM run`).Scan(&runs))
	for _, q := range questions(b, s) {
		as := queries[q.name]
		b.Run(q.name, func(b *testing.B) {
			ours := func() time.Duration {
				began := time.Now()
				n, err := q.ask()
				took := time.Since(began)
				require.NoError(b, err)
				require.Positive(b, n)
				return took
			}
			if as.query == "" {
				for b.Loop() {
					ours()
				}
				b.ReportMetric(0, "ns/op")
				b.ReportMetric(float64(b.Elapsed())/float64(b.N), "sums-ns")
				b.ReportMetric(runs, "runs")
				return
			}
			theirs := func() time.Duration {
				_, took := ask(b, as.query)
				return took
			}
			own, err := q.ask() // both have seen it once before it counts
			require.NoError(b, err)
			if n, _ := ask(b, as.query); as.rows {
				require.Equal(b, own, n, "rows of the engine: it is asked something else")
			}
			var pairs ratio.Pairs
			for b.Loop() {
				pairs.Take(ours, theirs)
			}
			pairs.Report(b, "sums", "columns")
			b.ReportMetric(runs, "runs")
		})
	}
}

// columnEngine starts the column engine over an export, and gives what asks it: how many rows there were, and how long it took
// by its own clock.
func columnEngine(b *testing.B, export string) (ask func(b *testing.B, query string) (rows int, took time.Duration)) {
	program := filepath.Join(b.TempDir(), "columns")
	build := exec.Command("go", "build", "-o", program, ".")
	build.Dir = "testdata/columns"
	said, err := build.CombinedOutput()
	require.NoError(b, err, "%s", said)
	engine := exec.Command(program, "-rows", export)
	engine.Stderr = os.Stderr
	in, err := engine.StdinPipe()
	require.NoError(b, err)
	out, err := engine.StdoutPipe()
	require.NoError(b, err)
	require.NoError(b, engine.Start())
	b.Cleanup(func() {
		assert.NoError(b, in.Close())
		assert.NoError(b, engine.Wait())
	})
	lines := bufio.NewScanner(out)
	require.True(b, lines.Scan(), "the column engine says that it is ready")
	return func(b *testing.B, query string) (rows int, took time.Duration) {
		_, err := io.WriteString(in, query+"\n")
		require.NoError(b, err)
		require.True(b, lines.Scan(), "the column engine answers %q", query)
		_, err = fmt.Sscan(lines.Text(), &rows, (*int64)(&took))
		require.NoError(b, err, lines.Text())
		return rows, took
	}
}
