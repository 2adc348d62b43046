package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results"
	"padjig/results/linesim"
	"padjig/sequence/product"
)

// studyPages are the pages of the quality engineer, each with an answer for a line.
var studyPages = []string{
	"/quality", "/quality/yield", "/quality/causes", "/quality/units?verdict=fail", "/quality/probes", "/quality/charts?revision=C", "/quality/charts?revision=C&chart=cusum",
	"/quality/charts?measure=failed&group=hour", "/quality/distributions?revision=C", "/quality/capability?revision=C&last=200",
	"/quality/compare?revision=C&last=100", "/quality/gauge", "/quality/lots?revision=C", "/quality/shift", "/quality/limits?revision=C&limit=120",
	"/quality/sampling?sequential=1", "/quality/retest",
}

// studyPictures are the pages that are shown in the manual, by what their pictures are called.
var studyPictures = map[string]string{
	"/quality": "overview", "/quality/yield": "yields", "/quality/causes": "pareto", "/quality/units?verdict=fail": "units", "/quality/probes": "probes",
	"/quality/charts?revision=C": "control-chart", "/quality/distributions?revision=C": "distributions",
	"/quality/capability?revision=C&last=200": "histogram", "/quality/compare?revision=C&last=100": "compare", "/quality/shift": "shift",
	"/quality/limits?revision=C&limit=120": "limits",
}

// reachable expects that nothing on the page keeps anybody from using it.
func (t *tab) reachable(where string) {
	t.Helper()
	assert.Empty(t, t.violations(), where)
}

// fill puts what a simulated line did into the records.
func (b *bed) fill(runs int) {
	b.Helper()
	require.NoError(b, simulateLine(b.Context(), b.store, b.product, runs))
}

func simulateLine(ctx context.Context, s *results.Store, p *product.Product, runs int) error {
	line := linesim.Line{Product: p, Runs: runs, Seed: 3, Begin: time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC), Zone: "Europe/Vienna"}
	entries, err := line.Entries(ctx)
	if err != nil {
		return err
	}
	return s.ImportSimulated(ctx, line.Seed, entries, nil)
}

// lineRecords is a file of records with 4000 runs of a simulated line, made once for all who look at a line's pages.
var lineRecords = sync.OnceValues(func() (content []byte, err error) {
	dir, err := os.MkdirTemp("", "padjig-line")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	path := filepath.Join(dir, "records.sqlite")
	p, err := product.Load(gcc)
	if err != nil {
		return nil, err
	}
	s, err := results.Open(context.Background(), path)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(simulateLine(context.Background(), s, p, 4000), s.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

// Every page in every state, on a laptop and on a big screen: nothing in the
// way of anybody, nothing cut off at the side.
func TestPagesOfStudies(t *testing.T) {
	t.Parallel()
	for _, state := range []struct {
		name string
		runs int
	}{{"empty", 0}, {"one-unit", 1}, {"all-passed", 12}, {"line", 0}} {
		t.Run(state.name, func(t *testing.T) {
			t.Parallel()
			b := makeBed(t, bedding{line: state.name == "line"})
			if state.runs > 0 {
				b.fill(state.runs)
			}
			page := b.as(account.Quality, "laptop", "/quality")
			for _, path := range studyPages {
				page.visit(path)
				page.reachable(path)
				sizes := []string{"laptop"}
				if state.name == "line" {
					sizes = []string{"big", "small", "phone", "laptop"}
				}
				for _, size := range sizes {
					page.resize(size)
					assert.Equal(t, "0", page.eval("Math.max(0, document.documentElement.scrollWidth - document.documentElement.clientWidth)"), "%s is wider than the %s", path, size)
				}
				if picture := studyPictures[path]; picture != "" && state.name == "line" {
					page.shot("study-" + picture)
				}
			}
		})
	}
}

// A choice is made with the keyboard alone, holds at once, and the address has it; tables
// are sorted and searched where they stand.
func TestStudyByKeyboard(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{line: true})
	page := b.as(account.Quality, "laptop", "/quality/yield")
	page.focus(".adding summary")
	page.enter()
	page.await("document.querySelector('.adding').open")
	page.press(kb.Tab)
	assert.Equal(t, "C", page.eval("document.activeElement.textContent"))
	page.enter()
	page.await("location.search.includes('revision=D&revision=C')")
	page.ready()
	assert.Contains(t, page.text("main"), "judge by different limits")
	page.focus(`.chip a[aria-label="Take off: Revision D"]`)
	page.enter()
	page.await("location.search.includes('revision=C') && !location.search.includes('revision=D')")
	page.ready()
	page.await("document.querySelector('.about').innerText.includes('Revision C')")
	assert.NotContains(t, page.text("main"), "judge by different limits")

	page.focus(`table[data-table="yield"] th:nth-child(2) a`)
	for _, order := range []string{"ascending", "descending"} {
		page.enter()
		page.await(`document.querySelector('th[aria-sort="` + order + `"]')`)
		assert.Equal(t, "true", page.eval(`(rows => rows.every((v, i) => i === 0 || (rows[i - 1] - v) * `+map[string]string{"ascending": "1", "descending": "-1"}[order]+
			` <= 0))([...document.querySelectorAll('table[data-table="yield"] td:nth-child(2)')].map(td => Number(td.dataset.v)))`), order)
	}
	assert.Equal(t, "true", page.eval("location.search.includes('sort=-yield.1')"), "it can be sent")

	page.visit("/quality/compare?revision=C&last=100")
	page.await("document.querySelector('.finder input')")
	page.eval(`(i => { i.value = 'vent'; i.dispatchEvent(new Event('input', {bubbles: true})); })(document.querySelector('.numbers .finder input'))`)
	page.await(`[...document.querySelectorAll('table[data-table="compare"] tbody tr')].filter(r => !r.hidden).length === 1`)
	page.await(`document.querySelector('.numbers .finder').innerText.includes('Rows: 1 of 20')`)

	page.visit("/quality/charts?revision=C&key=7")
	page.fillIn("reason", "first week, verified")
	page.enter()
	page.await("document.querySelector('main').innerText.includes('Limits frozen by')")
	assert.Contains(t, page.text("main"), "first week, verified")
}

// fillIn writes into a field at once, as by pasting: what is typed as fast as a
// test types counts as a scan.
func (t *tab) fillIn(id, text string) {
	t.Helper()
	t.eval(fmt.Sprintf("(document.getElementById(%q).value = %q, document.getElementById(%[1]q).focus())", id, text))
}

// A study is planned on a page and can be found again.
func TestStudyOfTheGaugeIsPlanned(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	page := b.as(account.Quality, "laptop", "/quality/gauge")
	page.await("document.getElementById('ask-parts.list')")
	page.fillIn("ask-parts.list", "GCC-000001-3\nGCC-000002-1")
	page.fillIn("ask-appraisers.list", "SIM-0001\nSIM-0002")
	page.focus(".recording button")
	page.enter()
	page.await("location.search === '?study=1'")
	page.ready()
	page.reachable("a study that has begun")
	assert.Contains(t, page.text("main"), "Next is reading 1")
	studies, err := b.store.Studies.Studies(t.Context())
	require.NoError(t, err)
	require.Len(t, studies, 1)
	assert.Equal(t, "Qiu", studies[0].By)
	assert.Len(t, studies[0].Plan, 12)
}

// On paper there are no menus, and what is simulated says so.
func TestStudyOnPaper(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{line: true})
	page := b.as(account.Quality, "laptop", "/quality/shift")
	_, err := chromedp.Call(page.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
	require.NoError(t, err)
	for selector, want := range map[string]string{".top": "false", ".sections": "false", ".bar": "false", ".asks": "false", ".simulated": "true", ".chart": "true"} {
		assert.Equal(t, want, page.eval("getComputedStyle(document.querySelector('"+selector+"')).display !== 'none'"), selector)
	}
}
