package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results/answers/ratio"
)

// BenchmarkFirstPage compares the first page of each role, in a browser that has nothing of it yet, with a page of one word
// that a server in the same process gives from memory: in turn, each from asking to when its largest part is painted.
func BenchmarkFirstPage(b *testing.B) {
	bed := makeBed(b, bedding{})
	word := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		_, _ = fmt.Fprint(w, "<!doctype html><title>word</title><p>word")
	}))
	defer word.Close()
	for _, role := range account.Roles {
		b.Run(string(role), func(b *testing.B) {
			requests, bytes := bed.firstSight(role)
			page := bed.look("laptop", "/door")
			page.scan(bed.badges[role])
			page.await("location.pathname !== '/door' && document.readyState === 'complete'")
			page.ready()
			first := page.eval("location.href")
			var pairs ratio.Pairs
			for b.Loop() {
				pairs.Take(func() time.Duration { return page.painted(first) }, func() time.Duration { return page.painted(word.URL) })
			}
			pairs.Report(b, "page", "word")
			b.ReportMetric(requests, "requests")
			b.ReportMetric(bytes/1000, "kB")
		})
	}
}

// painted empties the browser, goes to an address and gives when the largest part of the page was painted.
func (t *tab) painted(address string) time.Duration {
	t.Helper()
	_, err := chromedp.Call(t.ctx, network.ClearBrowserCache, cdp.Empty{})
	require.NoError(t, err)
	_, err = chromedp.Run(t.ctx, chromedp.Navigate(address))
	require.NoError(t, err)
	raw, err := chromedp.Run(t.ctx, chromedp.Evaluate[string](paintedAfter, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	var ms [2]float64
	require.NoError(t, json.Unmarshal([]byte(raw), &ms))
	return milliseconds(ms[1])
}
