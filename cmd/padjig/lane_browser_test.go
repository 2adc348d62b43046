package main

import (
	"fmt"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/sequence"
)

// console is what a page told the browser's console: exceptions, errors,
// warnings, and what the policy refused.
type console struct {
	mu   sync.Mutex
	said []string
}

func (t *tab) console() *console {
	t.Helper()
	c := &console{}
	require.NoError(t, chromedp.Listen(t.ctx, func(ev any) {
		c.mu.Lock()
		defer c.mu.Unlock()
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			c.said = append(c.said, fmt.Sprint("exception: ", e.ExceptionDetails.Text, " ", e.ExceptionDetails.URL))
		case *runtime.EventConsoleAPICalled:
			c.said = append(c.said, fmt.Sprint("console: ", e.Type))
		case *log.EventEntryAdded:
			c.said = append(c.said, fmt.Sprint(e.Entry.Level, ": ", e.Entry.Text, " ", e.Entry.URL))
		}
	}))
	return c
}

func (c *console) all() []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.said
}

// One page of each sort tells the browser's console nothing.
func TestPagesConsole(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{jigs: 2})
	b.aLittleOfEverything(t)
	page := b.as(account.Engineer, "station", "/")
	console := page.console()
	for _, path := range []string{
		"/", "/lane/1", "/codes", "/quality", "/quality/charts?revision=C", "/quality/gauge?study=1", "/jigs", "/jigs/1",
		"/jigs/1/traffic", "/products", "/products/GCC-20", "/returns", "/unit?serial=GCC-000001-3", "/returns/check?case=1",
	} {
		page.visit(path)
		assert.Empty(t, console.all(), path)
		assert.Equal(t, "0", page.wider(), "%s is wider than the screen", path)
	}
	page.eval("setTimeout(() => { throw new Error('on purpose') })")
	page.await("new Promise(done => setTimeout(() => done(true)))")
	assert.NotEmpty(t, console.all(), "the console is heard")
}

// wider is by how much a page sticks out at the side.
func (t *tab) wider() string {
	t.Helper()
	return t.eval("Math.max(0, document.documentElement.scrollWidth - document.documentElement.clientWidth)")
}

// lines is how many lines an element takes.
func (t *tab) lines(selector string) float64 {
	t.Helper()
	lines, err := strconv.ParseFloat(t.eval(fmt.Sprintf("(e => e.getBoundingClientRect().height / parseFloat(getComputedStyle(e).fontSize))(document.querySelector(%q))", selector)), 64)
	require.NoError(t, err)
	return lines
}

// fits looks at the lane's page at every size: nothing sticks out at the side.
func (t *tab) fits(name string) {
	t.Helper()
	for _, size := range []string{"phone", "small", "big", "station"} {
		t.resize(size)
		assert.Equal(t, "0", t.wider(), "%s is wider than the %s", name, size)
		if t.eval("document.documentElement.lang") == "de" {
			assert.Less(t, t.lines("#word"), 1.5, "%s: the word is broken on a %s", name, size)
		}
		t.check(name + ", " + size)
	}
	t.shot(name)
	higher := t.eval("Math.max(0, document.documentElement.scrollHeight - innerHeight)")
	assert.Equal(t, "0", higher, "%s is higher than the station's screen", name)
}

// What keeps a unit waiting, what stopped it, and how far an exercise is, as they
// stand on the page.
func TestPagesOfWhatALaneSays(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{pace: true})
	lane := b.lanes().Lanes[0]
	page := b.as(account.Operator, "station", "/lane/1")
	page.fits("lane-waits")
	serial := b.product.Serial.Complete(1)
	b.jigs[0].put("jig opens interlock")
	page.scan(serial)
	page.await("document.getElementById('word')?.innerText === 'CLOSE LID'")
	page.fits("lane-lid")
	b.jigs[0].put("jig opens interlock for 300 ms at key 5") // closes the lid, and opens it while a key is pressed
	page.await("document.getElementById('start') && document.getElementById('state').dataset.phase === 'armed'")
	page.fits("lane-armed")
	page.eval("document.getElementById('start').click()")
	page.await("document.getElementById('line').innerText.includes('The lid was opened during the test')")
	page.fits("lane-lid-opened")

	c := b.returned(serial)
	b.jigs[0].put("")
	stage := func(p sequence.Purpose) {
		lane.Clear()
		r := &station.Return{Case: c, Purpose: p, Exercising: sequence.Exercising{Presses: 300, Hold: 2 * time.Second}}
		lane.Scan(station.Scan{Serial: serial, Operator: "Rosa", Return: r})
	}
	for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest} {
		stage(p)
		b.until(0, func(s station.State) bool { return s.Phase == station.Ended && s.Verdict.Purpose == p })
	}
	page.await("document.getElementById('word')?.innerText === 'STORED'")
	stage(sequence.Exercise)
	page.await("document.getElementById('left')?.innerText.includes('min left')")
	page.fits("lane-exercise")
	desk := b.as(account.Returns, "laptop", "/unit?serial="+serial)
	assert.Contains(t, desk.text("main"), "Lane 1, jig SIM-0001: it is being tested")
	desk.state("unit-being-tested")
	desk.visit("/returns") // the page of the case takes what a stage told, and gives the jig back
	page.scan("PJC0STOP")
	page.await("document.getElementById('line')?.innerText.includes('does not count')")
	page.fits("lane-exercise-stopped")
	page.eval("document.querySelector('button[name=language][value=de]').click()")
	page.await("document.documentElement.lang === 'de' && document.readyState === 'complete'")
	page.ready()
	assert.Equal(t, "ABGEBROCHEN", page.text("#word"))
	page.fits("lane-exercise-stopped-german")
}

// A unit that is left in the jig: the page asks for it to be taken out, at every size and in
// both languages, and the next one is tested when that was done.
func TestPagesAskForTheUnitInTheJig(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Load = nil }}) // nobody changes units
	page := b.as(account.Operator, "station", "/lane/1")
	first, second := b.product.Serial.Complete(1), b.product.Serial.Complete(2)
	page.scan(first)
	page.await("document.getElementById('word')?.innerText === 'PASS'")
	page.scan(second)
	page.await("document.getElementById('word')?.innerText === 'TAKE OUT'")
	assert.Contains(t, page.text("main"), first, "which unit is in the jig")
	page.fits("lane-take-out")
	page.eval("document.querySelector('button[name=language][value=de]').click()")
	page.await("document.documentElement.lang === 'de' && document.readyState === 'complete'")
	page.ready()
	page.fits("lane-take-out-german")
	b.jigs[0].jig.Reseat()
	page.await("document.getElementById('state').dataset.phase === 'armed'")
	page.eval("document.getElementById('start').click()")
	page.await("document.getElementById('word')?.innerText === 'GUT'")
	b.until(0, func(s station.State) bool { return s.Phase == station.Ended && s.Unit.Serial == second })
}
