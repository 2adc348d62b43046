package results_test

import (
	"database/sql"
	"flag"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/lines"
)

// lineStore is a store that padjig records simulate filled; make line
// makes one of a million runs.
var lineStore = flag.String("line", "", "time the questions over this store of a simulated line")

// Every question that a person waits for, timed over a store of a million runs.
// Without the flag a small one stands in, to show that all of them answer.
func TestQuestionsOfALine(t *testing.T) {
	var s *results.Store
	if *lineStore == "" {
		s = simulatedLine(t, 2000)
	} else {
		var err error
		s, err = results.OpenReadOnly(t.Context(), *lineStore)
		require.NoError(t, err)
		defer s.Close()
		info, err := os.Stat(*lineStore)
		require.NoError(t, err)
		t.Logf("%d MB", info.Size()>>20)
	}
	for _, q := range questions(t, s) {
		rows := 0
		var times []time.Duration
		for range 7 {
			start := time.Now()
			n, err := q.ask()
			times = append(times, time.Since(start))
			require.NoError(t, err, q.name)
			rows = n
		}
		slices.Sort(times)
		t.Logf("%-55s %6d rows %9.2f ms at the median, %9.2f at most", q.name, rows, ms(times[3]), ms(times[6]))
		require.Positive(t, rows, q.name)
	}
}

// The same answered from the records, run by run: what the sums spare.
var fromRecords = []struct{ name, query string }{
	{"yield by jig", judgedFirst + `SELECT jig, sum(turn = 1 AND outcome = 'pass'), sum(turn = 1) FROM judged GROUP BY jig`},
	{"causes by place, all", judgedFirst + `SELECT what, location, count(*) FROM run_finding JOIN judged ON seq = run
		WHERE turn = 1 AND place = 0 GROUP BY 1, 2`},
	{"mean and squares of every key, all revisions", `SELECT place, count(closed_mohm), avg(closed_mohm), total(closed_mohm * closed_mohm)
		FROM run_key JOIN run_cell USING (run) WHERE turn = 1 AND closed_at_least = 0 GROUP BY place`},
}

func TestQuestionsToTheRecords(t *testing.T) {
	path := *lineStore
	if path == "" {
		path = simulatedLine(t, 500).Path()
	}
	s, err := results.OpenReadOnly(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	for _, q := range fromRecords {
		start := time.Now()
		n := raw(t, s, func(*sql.Rows) (int, error) { return 0, nil }, q.query)
		t.Logf("%-55s %6d rows %9.0f ms from the records", q.name, len(n), ms(time.Since(start)))
		require.NotEmpty(t, n)
	}
}

func ms(d time.Duration) float64 { return float64(d) / 1e6 }

type question struct {
	name string
	ask  func() (rows int, err error)
}

func questions(t testing.TB, s *results.Store) []question {
	ctx := t.Context()
	all := lines.Filter{Simulated: true}
	c := lines.Filter{Simulated: true, Revisions: []string{"C"}}
	lot := lines.Filter{Simulated: true, Lots: []string{"M-2613"}}
	jig := lines.Filter{Simulated: true, Jigs: []string{"J-0042"}, Revisions: []string{"C"}}
	yields := func(f lines.Filter, by ...lines.Dimension) func() (int, error) {
		return func() (int, error) {
			y, err := s.Lines.Yields(ctx, f, by...)
			return len(y.Rows), err
		}
	}
	readings := func(f lines.Filter, n int, keys ...string) func() (int, error) {
		return func() (int, error) {
			r, err := s.Lines.Readings(ctx, f, lines.Contact, keys, n)
			return len(r.Points), err
		}
	}
	histograms := func(f lines.Filter) func() (int, error) {
		return func() (int, error) {
			k, err := s.Lines.KeyHistograms(ctx, f)
			return len(k), err
		}
	}
	behind := func(b lines.Behind) func() (int, error) {
		return func() (int, error) {
			b.Low, b.High = math.NaN(), math.NaN()
			u, _, _, err := s.Lines.Units(ctx, all, b, 500)
			return len(u), err
		}
	}
	find := func(part string) func() (int, error) {
		return func() (int, error) {
			u, _, err := s.Units.Find(ctx, part, 20)
			return len(u), err
		}
	}
	return []question{
		{"yield, all", yields(all)},
		{"yield by product and revision", yields(all, lines.ByProduct, lines.ByRevision)},
		{"yield by lot", yields(all, lines.ByLot)},
		{"yield by jig and shift", yields(all, lines.ByJig, lines.ByShift)},
		{"yield by operator", yields(all, lines.ByOperator)},
		{"yield by day", yields(all, lines.ByDay)},
		{"yield by hour", yields(all, lines.ByHour)},
		{"yield of one lot by hour", yields(lot, lines.ByHour)},
		{"causes by place, all", func() (int, error) {
			c, err := s.Lines.Causes(ctx, all, lines.CauseByPlace)
			return len(c.Rows), err
		}},
		{"causes by key of one jig", func() (int, error) {
			c, err := s.Lines.Causes(ctx, jig, lines.CauseByKey)
			return len(c.Rows), err
		}},
		{"places on one jig against all", func() (int, error) {
			p, err := s.Lines.Places(ctx, all)
			return len(p), err
		}},
		{"contact of every probe, newest 10,000 runs", func() (int, error) {
			p, err := s.Lines.Probes(ctx, all, 10000)
			return len(p.Runs), err
		}},
		{"distribution of every key, revision C", histograms(c)},
		{"distribution of every key, one jig", histograms(jig)},
		{"distribution of every key, one lot", histograms(lot)},
		{"last 500 readings of a key", readings(c, 500, "7")},
		{"last 5000 readings of a key on one jig", readings(jig, 5000, "7")},
		{"last 500 readings of a key of one lot", readings(lot, 500, "7")},
		{"last 500 readings of every key", readings(c, 500)},
		{"last 200 units, for stop rules", func() (int, error) {
			l, err := s.Lines.LastUnits(ctx, all, 200)
			return len(l), err
		}},
		{"what happened", func() (int, error) {
			h, err := s.Lines.Events(ctx, all)
			return len(h), err
		}},
		{"units that failed", behind(lines.Behind{Verdict: "fail"})},
		{"units that passed", behind(lines.Behind{Verdict: "pass"})},
		{"all units", behind(lines.Behind{})},
		{"units behind a finding at first", behind(lines.Behind{By: lines.CauseByFinding, Cause: "key open", Worst: true})},
		{"open units", func() (int, error) {
			u, err := s.Lines.OpenUnits(ctx, all)
			return len(u), err
		}},
		{"jigs that are known", func() (int, error) {
			j, err := s.Care.Jigs(ctx)
			return len(j), err
		}},
		{"units by a part of the number that many have", find("gcc")},
		{"units by a part of the number that few have", find("0123")},
	}
}
