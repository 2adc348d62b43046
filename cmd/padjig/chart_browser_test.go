package main

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
)

// middle is where an element lies in the window.
func (t *tab) middle(expression string) (x, y float64) {
	t.Helper()
	at := strings.Fields(t.eval(fmt.Sprintf("(e => { e.scrollIntoView({ block: 'center' }); const r = e.getBoundingClientRect(); "+
		"return (r.x + r.width / 2) + ' ' + (r.y + r.height / 2) })(%s)", expression)))
	require.Len(t, at, 2)
	x, err := strconv.ParseFloat(at[0], 64)
	require.NoError(t, err)
	y, err = strconv.ParseFloat(at[1], 64)
	require.NoError(t, err)
	return x, y
}

func (t *tab) mouse(kind input.DispatchMouseEventType, x, y float64) {
	t.Helper()
	p := input.DispatchMouseEventParams{Type: kind, X: x, Y: y}
	if kind != input.DispatchMouseEventTypeMouseMoved {
		p.Button, p.ClickCount = input.MouseButtonLeft, 1
	}
	_, err := chromedp.Call(t.ctx, input.DispatchMouseEvent, p)
	require.NoError(t, err)
}

func (t *tab) click(x, y float64) {
	t.Helper()
	t.mouse(input.DispatchMouseEventTypeMouseMoved, x, y)
	t.mouse(input.DispatchMouseEventTypeMousePressed, x, y)
	t.mouse(input.DispatchMouseEventTypeMouseReleased, x, y)
}

// point is the nth mark of the first chart, and how many it has.
func point(n int) string {
	return fmt.Sprintf("document.querySelectorAll('#control0 a.c-spot')[%d]", n)
}

const points = "document.querySelectorAll('#control0 a.c-spot').length"

// A chart says what its table says, shows a part of itself, and leads to the units and from
// them to their runs: with a pointer, and with the keyboard alone.
func TestPagesChartsAnswer(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{line: true})
	const chart = "/quality/charts?revision=C&key=7"
	page := b.as(account.Quality, "laptop", "/quality")
	page.visit(chart)
	page.await(points + " > 20")
	row := func(n int) []string { // of the table: value and first run
		return strings.Split(page.eval(fmt.Sprintf("[...[...document.querySelectorAll('.numbers tbody')].map(b => b.rows[%d]).find(r => r?.cells.length > 9).cells].map(c => c.textContent).join('|')", n)), "|")
	}

	x, y := page.middle(point(9))
	page.mouse(input.DispatchMouseEventTypeMouseMoved, x+3, y-4) // near it is enough
	page.await("!document.querySelector('.c-tip').hidden")
	cells, told := row(9), page.text(".c-tip")
	require.Greater(t, len(cells), 9, cells)
	assert.Contains(t, told, cells[1], "the unit it begins with")
	assert.Contains(t, told, cells[6]+" ohm, n "+cells[5], "value, unit and n are those of the table")
	assert.Contains(t, told, "LCL "+cells[7])
	page.state("charts-told")

	// A part is an address; the limits stay, and the browser's way back leads to the whole.
	all, limit := page.eval(points), page.eval("[...document.querySelectorAll('#control0 text')].find(t => t.textContent.startsWith('UCL')).textContent")
	fromX, fromY := page.middle(point(4))
	toX, _ := page.middle(point(12))
	page.mouse(input.DispatchMouseEventTypeMouseMoved, fromX-4, fromY+20)
	page.mouse(input.DispatchMouseEventTypeMousePressed, fromX-4, fromY+20)
	page.mouse(input.DispatchMouseEventTypeMouseMoved, (fromX+toX)/2, fromY+20)
	page.mouse(input.DispatchMouseEventTypeMouseMoved, toX+4, fromY+20)
	page.await("document.querySelector('#control0 .c-chosen-part')")
	page.mouse(input.DispatchMouseEventTypeMouseReleased, toX+4, fromY+20)
	page.await("location.search.includes('part=') && " + points + " === 9")
	assert.Equal(t, limit, page.eval("[...document.querySelectorAll('#control0 text')].find(t => t.textContent.startsWith('UCL')).textContent"))
	assert.Contains(t, page.text(".figures"), "Shown are 9 of "+all)
	address := page.eval("location.pathname + location.search")
	page.state("charts-part")
	page.eval("history.back()")
	page.await("!location.search.includes('part=') && " + points + " == " + all)
	page.visit(address) // as sent to somebody else
	page.await(points + " === 9")

	// A point leads to its units, and these to their runs.
	page.visit(chart)
	page.await(points + " > 20")
	x, y = page.middle(point(9))
	page.click(x+2, y+2)
	page.await("location.pathname === '/quality/units'")
	page.await("document.querySelectorAll('.numbers tbody tr').length === 5")
	page.state("charts-units")
	page.eval("document.querySelector('.numbers tbody a').click()")
	page.await("location.pathname === '/unit'")

	// The same with the keyboard alone.
	page.visit(chart)
	page.await("document.querySelector('#control0 a.c-spot[tabindex=\"0\"]')")
	assert.Equal(t, "1", page.eval("document.querySelectorAll('#control0 [tabindex=\"0\"]').length"), "a chart is one stop of the tab key")
	page.focus("#control0 a.c-spot[tabindex='0']")
	for range 4 {
		page.press(kb.ArrowRight)
	}
	page.await("document.activeElement === " + point(4))
	assert.Contains(t, page.text(".c-tip"), row(4)[1])
	assert.Contains(t, page.eval("document.activeElement.getAttribute('aria-label')"), row(4)[6]+" ohm")
	page.eval("document.activeElement.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', shiftKey: true, bubbles: true }))")
	page.eval("document.activeElement.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', shiftKey: true, bubbles: true }))")
	page.await("document.querySelector('#control0 .c-chosen-part')")
	page.enter()
	page.await("location.search.includes('part=') && " + points + " === 3")
	page.await("document.activeElement === " + point(0))
	page.press(kb.Escape)
	page.await("!location.search.includes('part=') && " + points + " == " + all)
	page.await("document.activeElement === " + point(0))
	page.press(kb.ArrowRight)
	page.enter()
	page.await("location.pathname === '/quality/units'")

	// A phone has a drawing of its own, whose text can be read.
	page.resize("phone")
	for _, path := range []string{chart, "/quality/causes", "/quality/yield", "/quality/distributions?revision=C"} {
		page.visit(path)
		page.await("document.querySelector('.chart text')")
		small := page.eval(`Math.min(...[...document.querySelectorAll('.chart')].filter(s => s.getClientRects().length)
			.flatMap(s => [...s.querySelectorAll('text')].map(t => parseFloat(getComputedStyle(t).fontSize) * s.getScreenCTM().a)))`)
		size, err := strconv.ParseFloat(small, 64)
		require.NoError(t, err)
		assert.GreaterOrEqual(t, size, 11.0, "%s: the smallest text of a chart on a phone", path)
		assert.Equal(t, "0", page.eval("document.documentElement.scrollWidth - document.documentElement.clientWidth"), "%s: a phone's window grows with what sticks out", path)
		assert.Equal(t, "false", page.eval("document.querySelector('label.fold').getBoundingClientRect().width > innerWidth / 2"), "%s: the menu of the head is its own", path)
		page.reachable(path)
		page.shot("charts" + strings.NewReplacer("/", "-", "?", "-", "&", "-", "=", "").Replace(path))
	}
}
