package main

import (
	"bufio"
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"net/http"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/results/answers/ratio"
)

// The first page of each role, with everything it needs, is small, and so is what comes over
// the line for it.
func TestPagesFirstBytes(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	for _, role := range account.Roles {
		requests, bytes := b.firstSight(role)
		t.Logf("%s: %.0f requests, %.1f kB with style and scripts", role, requests, bytes/1000)
		assert.Greater(t, requests, 5.0, "something was counted")
		assert.Greater(t, bytes, 10_000.0, "something was counted")
		assert.Less(t, bytes, 100_000.0, role)
	}
}

var verdictsMeasured = flag.Int("verdicts", 200, "verdicts that BenchmarkEventToScreen measures")

// BenchmarkEventToScreen tells how long it takes from a change at the lane - for a verdict,
// from when it is in the records - to the picture of it, while a jig at its real speed
// tests -verdicts units: median and worst of the verdicts, and both as a ratio to those of changes
// of the same run in which nothing is to be seen. The first units warm everything up and do
// not count. Beside it stands what the first page of each role takes in an empty browser:
// requests, and bytes as they come over the line.
func BenchmarkEventToScreen(b *testing.B) {
	const warm = 20
	units := *verdictsMeasured
	for b.Loop() {
		bed := makeBed(b, bedding{pace: true})
		page := bed.as(account.Operator, "station", "/lane/1")
		lags := map[string][]float64{}
		var pairs ratio.Pairs // a verdict, and the changes beside it of which nothing is to be seen
		for n := range warm + units {
			serial := bed.product.Serial.Complete(n + 1)
			page.eval("padjigLags.length = 0")
			page.scan(serial)
			page.shows("pass", serial)
			page.await("padjigLags.some(l => l[0] === 'pass')")
			var seen []struct {
				Kind string
				Ms   float64
			}
			require.NoError(b, json.Unmarshal([]byte(page.eval("JSON.stringify(padjigLags.splice(0).map(([kind, ms]) => ({kind, ms})))")), &seen))
			stands, of := false, map[string][]float64{} // what else changes while a verdict stands is none
			for _, l := range seen {
				if n < warm || l.Kind == "pass" && stands {
					continue
				}
				stands = stands || l.Kind == "pass"
				lags[l.Kind] = append(lags[l.Kind], l.Ms)
				of[l.Kind] = append(of[l.Kind], l.Ms)
			}
			if nothing := of["nothing"]; len(of["pass"]) == 1 && len(nothing) > 0 {
				slices.Sort(nothing)
				pairs.Add(milliseconds(of["pass"][0]), milliseconds(nothing[len(nothing)/2]))
			}
		}
		verdicts, nothing := lags["pass"], lags["nothing"]
		require.GreaterOrEqual(b, len(verdicts), units)
		require.NotEmpty(b, nothing)
		slices.Sort(verdicts)
		slices.Sort(nothing)
		middle, worst := func(ms []float64) float64 { return ms[len(ms)/2] }, func(ms []float64) float64 { return ms[len(ms)-1] }
		pairs.Report(b, "verdict", "nothing")
		b.ReportMetric(float64(len(verdicts)), "verdicts")
		b.ReportMetric(middle(verdicts), "ms-median")
		b.ReportMetric(worst(verdicts), "ms-worst")
		b.ReportMetric(middle(nothing), "ms-nothing-median")
		b.ReportMetric(worst(verdicts)/worst(nothing), "x-nothing-worst")
		for _, role := range account.Roles {
			requests, bytes := bed.firstSight(role)
			b.ReportMetric(requests, "requests-"+string(role))
			b.ReportMetric(bytes/1000, "kB-"+string(role))
		}
	}
}

// firstSight is what the first page of a role takes, after the door, in a browser that has
// nothing yet: requests without the stream, and bytes over the line with their headers.
func (b *bed) firstSight(role account.Role) (requests, bytes float64) {
	b.Helper()
	page := b.look("laptop", "/door")
	page.scan(b.badges[role])
	page.await("location.pathname !== '/door' && document.readyState === 'complete'")
	page.ready()
	first := page.eval("location.pathname + location.search")
	_, err := chromedp.Call(page.ctx, network.ClearBrowserCache, cdp.Empty{})
	require.NoError(b, err)
	page.visit(first)
	took := strings.Fields(page.eval("(all => all.length + ' ' + all.reduce((sum, e) => sum + e.transferSize, 0))" +
		"([...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')])"))
	require.Len(b, took, 2)
	requests, err = strconv.ParseFloat(took[0], 64)
	require.NoError(b, err)
	bytes, err = strconv.ParseFloat(took[1], 64)
	require.NoError(b, err)
	return requests, bytes
}

var shiftUnits = flag.Int("shiftunits", 120, "units of the shift whose memory is measured")

// A shift's units leave no memory behind: the heap after a quarter of them and
// after all of them, with a browser's stream open, differ by little, whatever
// their number.
func TestPagesShiftsMemory(t *testing.T) {
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	lane := b.lanes().Lanes[0]
	events := b.watch("/lane/1/live?screen=test")
	changes, stop := lane.Subscribe()
	defer stop()
	for !lane.State().Jig.Present {
		<-changes
	}
	var early uint64
	for n := 1; n <= *shiftUnits; n++ {
		serial := b.product.Serial.Complete(n)
		lane.Scan(station.Scan{Serial: serial, Operator: "Abel"})
		for s := lane.State(); s.Phase != station.Ended || s.Unit.Serial != serial; s = lane.State() {
			require.NotEqual(t, station.Refused, s.Phase, "%v", s.Refusal)
			<-changes
		}
		if n == *shiftUnits/4 {
			early = heap()
		}
	}
	late := heap()
	t.Logf("%d units, %d events sent: heap %d kB after a quarter, %d kB after all", *shiftUnits, events.Load(), early/1000, late/1000)
	// What a unit leaves behind may be noise of pools and caches, not a record of it.
	assert.Less(t, int64(late)-int64(early), int64(250_000), "bytes")
}

func heap() uint64 {
	runtime.GC()
	runtime.GC() // what finalizers held
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// watch opens a stream as a browser does and counts its events.
func (b *bed) watch(path string) *atomic.Int64 {
	token := "a token of this test"
	require.NoError(b, b.store.Accounts.StartSession(b.Context(), sha256.Sum256([]byte(token)), names[account.Operator], "badge"))
	r, err := http.NewRequestWithContext(b.Context(), http.MethodGet, strings.TrimSuffix(b.address, "/")+path, nil)
	require.NoError(b, err)
	r.AddCookie(&http.Cookie{Name: "padjig", Value: token})
	answer, err := http.DefaultClient.Do(r)
	require.NoError(b, err)
	require.Equal(b, "text/event-stream", answer.Header.Get("Content-Type"), fmt.Sprint(answer.Status))
	count, over := new(atomic.Int64), make(chan struct{})
	go func() {
		defer close(over)
		lines := bufio.NewScanner(answer.Body)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			if strings.HasPrefix(lines.Text(), "event: ") {
				count.Add(1)
			}
		}
	}()
	b.Cleanup(func() { _ = answer.Body.Close(); <-over })
	return count
}
