package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
)

var (
	officePlant = flag.String("officeplant", "", "address of the plant whose office BenchmarkOfficePages looks at, in place of a small one")
	officePage  = flag.Bool("officepage", false, "write how long the pages of the office took into docs/plant-questions.md")
)

// paintedAfter gives in milliseconds how long the answer to the page took, from asking to its last byte, and when after that the page's
// largest part was painted, from the beginning of the visit.
const paintedAfter = `(async () => {
	const [visit] = performance.getEntriesByType("navigation")
	const painted = await new Promise((done) => {
		new PerformanceObserver((seen) => done(seen.getEntries().at(-1).startTime)).observe({ type: "largest-contentful-paint", buffered: true })
	})
	return JSON.stringify([visit.responseEnd - visit.requestStart, painted])
})()`

// BenchmarkOfficePages times the pages of an office in a real browser: the answer, and the page as it is painted.
func BenchmarkOfficePages(b *testing.B) {
	address := *officePlant
	if address == "" {
		address = aPlant(b)
	}
	db, err := postgres.Open(address)
	require.NoError(b, err)
	defer db.Close()
	var serial string
	require.NoError(b, db.QueryRowContext(b.Context(), `SELECT serial FROM run WHERE verdict = 'fail' ORDER BY seq DESC LIMIT 1`).Scan(&serial))
	var runs, stations int64
	require.NoError(b, db.QueryRowContext(b.Context(), `SELECT (SELECT count(*) FROM run), (SELECT count(*) FROM member)`).Scan(&runs, &stations))
	busy := planttest.Processors(b, db)
	office := makeOffice(b, address)
	var all []planttest.Timed
	for b.Loop() {
		all = nil
		for _, path := range officePaths(serial) {
			all = append(all, timePage(office, path, busy))
		}
	}
	b.ReportMetric(0, "ns/op") // of all pages, which says nothing
	if *officePage {
		planttest.Figures(b, "../../docs/plant-questions.md", "pages", fmt.Sprintf("%d runs of %d stations", runs, stations), []string{"painted, ms"}, all)
	}
}

// officePaths are the pages of an office, those of one unit about one that failed.
func officePaths(serial string) []string {
	of := url.QueryEscape(serial)
	return []string{
		"/", "/plant/stations", "/plant/compare", "/plant/due", "/plant/drift", "/plant/suspects", "/plant/life?serial=" + of,
		"/quality", "/quality/yield?by=station", "/quality/yield?by=jig", "/quality/causes", "/quality/units?verdict=fail", "/quality/charts", "/quality/distributions",
		"/quality/capability", "/quality/probes", "/quality/stops", "/unit?serial=" + of, "/jigs", "/returns", "/fails", "/products",
	}
}

// timePage looks at a page again and again, as the engineer.
func timePage(office *bed, path string, busy func() time.Duration) planttest.Timed {
	office.Helper()
	t := office.as(account.Engineer, "laptop", path)
	var answers, paints []time.Duration
	before := busy()
	for range planttest.Looks {
		_, err := chromedp.Run(t.ctx, chromedp.Navigate(strings.TrimSuffix(office.address, "/")+path))
		var raw string
		if err == nil {
			raw, err = chromedp.Run(t.ctx, chromedp.Evaluate[string](paintedAfter, chromedp.EvalAwaitPromise))
		}
		if err != nil { // the other pages are timed all the same
			office.Errorf("%s: %v", path, err)
			return planttest.Timed{Name: "`" + path + "`: does not come", More: []string{""}}
		}
		var ms [2]float64
		require.NoError(t, json.Unmarshal([]byte(raw), &ms))
		answers, paints = append(answers, milliseconds(ms[0])), append(paints, milliseconds(ms[1]))
	}
	one := planttest.Timed{Name: "`" + path + "`", Processors: (busy() - before) / planttest.Looks}
	one.Median, one.Most = planttest.Median(answers)
	painted, _ := planttest.Median(paints)
	one.More = []string{planttest.MS(painted)}
	office.Logf("%-40s %9s ms at the median, %9s at most, %9s of processors; painted after %9s", path, planttest.MS(one.Median), planttest.MS(one.Most), planttest.MS(one.Processors), one.More[0])
	return one
}

func milliseconds(ms float64) time.Duration { return time.Duration(ms * float64(time.Millisecond)) }
