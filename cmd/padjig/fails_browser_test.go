package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results/fails"
	"padjig/results/store"
)

// After a fail the lane says what to do in order, at one glance and in both languages;
// the next unit waits; a screen at the fail place that follows no lane takes place and
// tag, and the lane is ready without a hand on it.
func TestPagesOfAFail(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	lane := b.as(account.Operator, "station", "/lane/1")
	first, second := b.product.Serial.Complete(1), b.product.Serial.Complete(2)
	b.jigs[0].put("key 7 open; lines C1 C2 leak 2 Mohm; key HEAT high 640 ohm")
	lane.scan(first)
	lane.shows("fail", first)
	lane.await("document.querySelectorAll('#steps li').length === 3")
	id, err := store.ParseID(lane.stored())
	require.NoError(t, err)
	lane.fits("lane-fail-steps")
	b.jigs[0].put("")
	lane.scan(second)
	lane.shows("look", second)
	assert.Contains(t, lane.text("#line"), first)
	assert.Contains(t, lane.text("#steps"), first)
	lane.fits("lane-waits-for-fail")
	lane.eval("document.querySelector('button[name=language][value=de]').click()")
	lane.await("document.documentElement.lang === 'de' && document.readyState === 'complete'")
	lane.ready()
	lane.fits("lane-waits-for-fail-german")

	shelf := b.as(account.Operator, "station", "/fails")
	assert.Contains(t, shelf.text("main"), first)
	shelf.state("fails-owed")
	shelf.scan(fails.Place{}.Code())
	shelf.await("document.getElementById('said').innerText.includes('scan its tag')")
	shelf.scan(second)
	shelf.await("document.getElementById('said').innerText.includes('no tag')")
	shelf.scan(fails.TagCode(id))
	shelf.await("document.querySelector('main').innerText.includes('Every unit that failed lies where it should')")
	shelf.state("fails-placed")
	lane.await("document.getElementById('state').dataset.signal === 'idle'")
	lane.scan(second)
	lane.shows("pass", second)
}

// A tag on paper: of one defect on one sheet of A6, on a label and on A4, and of many on
// as many as it takes. A scan prints it, and the screen comes back to its lane.
func TestPagesOfATagOnPaper(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	lane := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	b.jigs[0].put("key 7 high 640 ohm")
	lane.scan(serial)
	lane.shows("fail", serial)
	tag := "/tag/" + lane.stored()
	lane.visit(tag)
	lane.state("tag-of-one")
	for _, paper := range []struct {
		name       string
		wide, high float64 // mm
		most       int
	}{{"A4", 210, 297, 1}, {"A6", 105, 148, 1}, {"label", 62, 100, 3}} {
		pages := lane.printed(paper.name, paper.wide, paper.high)
		assert.LessOrEqual(t, pages, paper.most, paper.name)
		assert.GreaterOrEqual(t, pages, 1, paper.name)
	}
	lane.visit("/lane/1")
	lane.eval("globalThis.before = true") // goes with the page: it was away, however briefly
	lane.scan("PJC0PRINT")
	lane.await("location.pathname === '/lane/1' && !globalThis.before")
}

// printed prints the page on paper of a size in millimetres, and counts the sheets. PRINTS
// keeps them in a folder.
func (t *tab) printed(name string, wide, high float64) int {
	t.Helper()
	const inch = 25.4
	pdf, err := chromedp.Run(t.ctx, chromedp.Action[[]byte](func(ctx context.Context, target *chromedp.Target) ([]byte, error) {
		out, err := cdp.Call(ctx, target, page.PrintToPDF, page.PrintToPDFParams{
			PaperWidth: wide / inch, PaperHeight: high / inch,
		})
		return out.Data, err
	}))
	require.NoError(t, err)
	if to := os.Getenv("PRINTS"); to != "" {
		require.NoError(t, os.WriteFile(filepath.Join(to, name+".pdf"), pdf, 0o644))
	}
	return bytes.Count(pdf, []byte("/Type /Page")) - bytes.Count(pdf, []byte("/Type /Pages"))
}
