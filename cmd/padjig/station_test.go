package main

import (
	_ "embed"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/results/fails"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// axe is the library that checks accessibility (testdata/axe, under the MPL).
//
//go:embed testdata/axe/axe.min.js
var axe string

// violations are what axe-core finds wrong with the page as it is.
func (t *tab) violations() string {
	t.Helper()
	if t.eval("typeof axe") == "undefined" {
		_, err := chromedp.Run(t.ctx, chromedp.Evaluate[chromedp.Void](axe))
		require.NoError(t, err)
	}
	found, err := chromedp.Run(t.ctx, chromedp.Evaluate[string](`axe.run(document).then(found => found.passes.length < 10 ? 'axe looked at nothing' :
		found.violations.map(v => v.id + ': ' + v.help + '\n' + v.nodes.map(n => '  ' + n.target + ' ' + n.failureSummary).join('\n')).join('\n'))`,
		chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	return found
}

// signals are what the page shows for each outcome.
var signals = map[sequence.Outcome]string{
	sequence.Pass: "pass", sequence.Fail: "fail", sequence.Reseat: "reseat", sequence.Aborted: "look", sequence.Incomplete: "look",
	sequence.HarnessGood: "harness",
}

// A lot of twenty, each unit with a fault of its own or good, goes through with
// nothing but scans, at both sizes of a station.
func TestPagesLot(t *testing.T) {
	t.Parallel()
	for _, size := range []string{"station", "small"} {
		t.Run(size, func(t *testing.T) {
			t.Parallel()
			b := makeBed(t, bedding{change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
			page := b.as(account.Operator, size, "/lane/1")
			units := append([]planted{}, lot...)
			for len(units) < 20 {
				units = append(units, planted{Wants: []want{passes}})
			}
			for n, u := range units {
				page.unit(b.product.Serial.Complete(n+1), u)
			}
			assert.Equal(t, "20", page.text("#units"))
			good := 0
			for _, u := range units {
				failed := slices.ContainsFunc(u.Wants, func(w want) bool { return w.Outcome == sequence.Fail })
				if !failed && u.Wants[len(u.Wants)-1].Outcome == sequence.Pass {
					good++ // also after a reseat, which says nothing of a unit
				}
			}
			assert.Equal(t, fmt.Sprint(good), page.text("#passed"))
			assert.Equal(t, "20", page.eval("['passed', 'retest', 'failed', 'open'].reduce((sum, id) => sum + Number(document.getElementById(id).textContent), 0)"))
		})
	}
}

// unit tests a unit as often as its plan says and compares page, plan and record.
func (p *tab) unit(serial string, u planted) {
	p.Helper()
	for i, want := range u.Wants {
		if i == 0 {
			p.bed.jigs[0].put(u.Fault)
		} else {
			p.bed.jigs[0].put(u.Later)
		}
		before := p.stored()
		p.scan(serial)
		p.await(fmt.Sprintf("document.getElementById('state').dataset.serial === %q && document.getElementById('state').dataset.stored && "+
			"document.getElementById('state').dataset.stored !== %q", serial, before))
		assert.Equal(p, signals[want.Outcome], p.eval("document.getElementById('state').dataset.signal"), "%s, planted %q", serial, u.Fault)
		run := p.run1(p.stored())
		assert.Empty(p, want.Differs(run), "%s, planted %q", serial, u.Fault)
		if want.Key != "" {
			assert.Contains(p, p.text(".findings"), "Key "+want.Key)
			assert.Contains(p, p.eval(fmt.Sprintf("document.getElementById('key-%d').className.baseVal", p.bed.product.Key(want.Key))), "bad")
		}
	}
	if u.Wants[len(u.Wants)-1].Outcome == sequence.Fail {
		p.place()
	}
}

// place puts the unit whose fail stands where it goes, as an operator does: place and tag
// are scanned at the lane, which is ready then.
func (p *tab) place() {
	p.Helper()
	id, err := store.ParseID(p.stored())
	require.NoError(p, err)
	p.scan(fails.Place{}.Code())
	p.scan(fails.TagCode(id))
	p.shows("idle", "")
}

// stored is the id of the run the page shows, empty for none.
func (p *tab) stored() string {
	p.Helper()
	return p.eval("document.getElementById('state')?.dataset.stored ?? ''")
}

func (p *tab) run1(id string) runs.Stored {
	p.Helper()
	parsed, err := store.ParseID(id)
	require.NoError(p, err)
	run, err := p.bed.store.Runs.Run(p.Context(), parsed)
	require.NoError(p, err)
	return run
}

// A station whose jig joins lines and presses nothing passes no unit: its lane
// shows a look of its own, counts nothing, and keeps nothing from being tested.
func TestPagesHarnessGood(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Press, o.Twice = "electrical", time.Nanosecond }})
	page := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	b.jigs[0].put("key 7 open")
	page.scan(serial)
	page.shows("harness", serial)
	assert.Equal(t, "HARNESS GOOD", page.text("#word"))
	assert.Contains(t, page.text("#next"), "no pass and no attempt")
	assert.Equal(t, "0", page.text("#units"))
	assert.Equal(t, "0", page.text("#passed"))
	assert.Equal(t, "false", page.eval("document.getElementById('key-0').className.baseVal.includes('good')"))
	page.state("lane-harness")
	page.eval("document.querySelector('button[name=language][value=de]').click()")
	page.await("document.documentElement.lang === 'de' && document.readyState === 'complete'")
	page.ready()
	assert.Equal(t, "KABELBAUM GUT", page.text("#word"))
	page.state("lane-harness-german")
	h, err := b.store.Runs.History(t.Context(), serial)
	require.NoError(t, err)
	assert.Zero(t, h.Of(b.product.Code, true).Judged)
	page.visit("/unit/" + serial)
	page.state("unit-harness")
}

// What a scanner gets wrong does nothing: half a label, one twice, another one
// during a test; whatever has the focus meanwhile.
func TestPagesSlipsOfTheScanner(t *testing.T) {
	b := makeBed(t, bedding{pace: true, slow: true})
	page := b.as(account.Operator, "station", "/lane/1")
	serial, other := b.product.Serial.Complete(1), b.product.Serial.Complete(2)

	page.scan(serial[:7])
	page.shows("look", serial[:7])
	assert.Equal(t, "NOT TESTED", page.text("#word"))
	page.state("lane-refused")
	page.eval("document.querySelector('.top button').focus()")
	page.scan(serial)
	page.shows("run", serial)
	page.scan(serial)
	page.await("document.getElementById('note')?.innerText.includes('scanned twice')")
	page.scan(other)
	page.await("document.getElementById('note')?.innerText.includes('scanned during a test')")
	page.shows("pass", serial)
	page.scan(serial)
	page.await("document.getElementById('note')?.innerText.includes('scanned twice')")
	page.shows("pass", serial)

	for _, n := range []string{serial, other, serial[:7]} {
		runs, err := b.store.Runs.Unit(t.Context(), n)
		require.NoError(t, err)
		assert.Len(t, runs, map[string]int{serial: 1}[n], n)
	}
}

// Half a scan that never ended is forgotten when the next one begins.
func TestPagesHalfScan(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	page := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	page.press("GCC-0")
	// The time between two scans passes on the page's clock.
	page.await("(globalThis.t0 ??= performance.now(), performance.now() - t0 > 300)")
	page.scan(serial)
	page.shows("pass", serial)
	assert.Equal(t, "", page.eval("document.getElementById('typed').value"))
}

// Everything can be done with the keyboard alone, slowly.
func TestPagesKeyboardOnly(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	page := b.look("small", "/door")
	page.tabTo("name")
	page.press(names[account.Engineer])
	page.tabTo("password")
	page.press(engineersPassword)
	page.enter()
	page.await("location.pathname === '/lane/1' && document.readyState === 'complete'")
	page.ready()
	page.tabTo("typed")
	serial := b.product.Serial.Complete(1)
	for _, r := range serial { // a person: each key after the page has seen the one before, and then some
		page.press(string(r))
		page.await("(globalThis.t1 = globalThis.t1 ?? performance.now(), performance.now() - t1 > 80)")
		page.eval("globalThis.t1 = undefined")
	}
	page.enter()
	page.shows("pass", serial)
	page.tabTo("clear")
	page.enter()
	page.shows("idle", "")
}

// tabTo moves the focus with the tabulator until it is on an element.
func (p *tab) tabTo(id string) {
	p.Helper()
	for range 40 {
		if p.eval("document.activeElement?.id") == id {
			return
		}
		p.press("\t")
	}
	p.Fatalf("the tabulator never reaches %s", id)
}

func TestPagesTwoJigsAtOnce(t *testing.T) {
	b := makeBed(t, bedding{jigs: 2, pace: true, slow: true})
	first, second := b.as(account.Operator, "station", "/lane/1"), b.as(account.Operator, "small", "/lane/2")
	b.jigs[1].put("key HEAT high 640 ohm")
	one, two := b.product.Serial.Complete(1), b.product.Serial.Complete(2)
	first.scan(one)
	second.scan(two)
	first.shows("run", one)
	second.shows("run", two)
	overview := b.as(account.Quality, "station", "/")
	overview.focus("#lane-link-1")
	first.shows("pass", one)
	second.shows("fail", two)
	overview.await("document.querySelectorAll('.signal-pass, .signal-fail').length === 2")
	assert.Equal(t, "lane-link-1", overview.eval("document.activeElement.id"), "what changes at a lane keeps the focus")
	overview.state("lanes")
	tested := []runs.Stored{first.run1(first.stored()), second.run1(second.stored())}
	three := b.product.Serial.Complete(3)
	overview.scan(three)
	overview.await("document.querySelectorAll('.taker:not(:disabled)').length === 2")
	for _, size := range []string{"phone", "small", "station"} {
		overview.resize(size)
		overview.check("lanes-choose, " + size)
	}
	overview.shot("lanes-choose")
	first.visit("/fails") // whose screen is not the jig's any more
	overview.scan(control.CodeOf(control.JigBegins, "SIM-0001"))
	overview.await("location.pathname === '/lane/1' && document.readyState === 'complete'")
	overview.await("document.getElementById('serial').innerText === '" + three + "'")
	assert.Less(t, tested[1].Started.Sub(tested[0].Started), tested[0].Duration, "both at the same time")
	assert.Equal(t, "SIM-0002", tested[1].Jig.Serial)
}

// Sixteen lanes stand beside one another on a laptop and below one another on a phone; what is scanned there goes to the jig that is chosen of them.
func TestPagesSixteenLanes(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{jigs: 16})
	for n := range 16 {
		b.until(n, func(s station.State) bool { return s.Jig.Present })
	}
	page := b.as(account.Operator, "laptop", "/")
	page.await("document.querySelectorAll('.lane-card').length === 16")
	for _, size := range []string{"phone", "laptop", "station"} {
		page.resize(size)
		assert.Equal(t, "true", page.eval("String(document.documentElement.scrollWidth <= innerWidth)"), "nothing lies beside a %s", size)
		page.check("lanes-sixteen, " + size)
	}
	page.state("lanes-sixteen")
	serial := b.product.Serial.Complete(1)
	page.scan(serial)
	page.await("document.querySelectorAll('.taker:not(:disabled)').length === 16")
	page.resize("phone")
	page.check("lanes-sixteen-choose, phone")
	page.scan(control.CodeOf(control.JigBegins, "SIM-0011"))
	page.await("location.pathname === '/lane/11' && document.readyState === 'complete'")
	b.until(10, func(s station.State) bool { return s.Phase == station.Ended && s.Unit.Serial == serial })
}

func TestPagesJigUnplugged(t *testing.T) {
	b := makeBed(t, bedding{pace: true, slow: true})
	page := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	page.scan(serial)
	page.await("document.querySelectorAll('.key.good').length >= 3")
	b.jigs[0].unplug()
	page.shows("look", serial)
	page.await("document.getElementById('jig').classList.contains('gone')")
	assert.Equal(t, "STOPPED", page.text("#word"))
	page.state("lane-unplugged")
	page.scan(b.product.Serial.Complete(2))
	page.await("document.getElementById('line').innerText.includes('does not answer')")
	b.jigs[0].plug()
	page.await("!document.getElementById('jig').classList.contains('gone')")
	page.scan(serial)
	page.shows("pass", serial)
	runs, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	require.Len(t, runs, 2)
	assert.Equal(t, sequence.Aborted, runs[0].Outcome)
	assert.Equal(t, 1, runs[1].Attempt, "what was interrupted took no attempt")
}

func TestPagesReloadedInTheMiddle(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{hand: true, product: "vent-6.yaml"}) // which is in its middle as long as nobody presses a key
	page := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	page.scan(serial)
	for n := range b.product.Keys {
		page.pressed(n)
		if n == 2 {
			page.visit("/lane/1")
			page.await("document.querySelectorAll('.key.good').length === 3")
		}
	}
	page.shows("pass", serial)
	assert.Len(t, page.run1(page.stored()).Keys, len(b.product.Keys))
}

func TestPagesServerRestarted(t *testing.T) {
	b := makeBed(t, bedding{pace: true, slow: true})
	page := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	page.scan(serial)
	page.await("document.querySelectorAll('.key.good').length >= 3")
	b.stop()
	page.await("!document.getElementById('gone').hidden")
	page.state("lane-lost")
	b.start()
	page.await("document.getElementById('gone').hidden && document.body.dataset.live === 'on'")
	page.shows("idle", "")
	page.await("!document.getElementById('jig').classList.contains('gone')")
	page.scan(serial)
	page.shows("pass", serial)
	runs, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	require.Len(t, runs, 2)
	assert.Equal(t, sequence.Aborted, runs[0].Outcome, "the unit that was in the jig")
}

func TestPagesTwoBrowsers(t *testing.T) {
	b := makeBed(t, bedding{pace: true, slow: true})
	holds, watches := b.as(account.Operator, "station", "/lane/1"), b.as(account.Engineer, "phone", "/lane/1")
	one, two := b.product.Serial.Complete(1), b.product.Serial.Complete(2)
	holds.scan(one)
	watches.shows("run", one)
	watches.await("document.querySelectorAll('.key.good').length >= 3")
	watches.check("lane-running, phone")
	holds.shows("pass", one)
	watches.shows("pass", one)
	watches.scan(two)
	watches.await("document.getElementById('said').innerText.includes('Another screen has control of this lane: Abel')")
	watches.shows("pass", one)
	watches.scan("PJC0HERE")
	holds.await("document.getElementById('state').dataset.held === 'Ines'")
	watches.scan(two)
	holds.shows("pass", two)
	runs, err := b.store.Runs.Unit(t.Context(), two)
	require.NoError(t, err)
	require.Len(t, runs, 1)
	assert.Equal(t, "Ines", runs[0].Operator)
}

// A verdict left alone is hidden; scanning the unit in the jig brings it back.
func TestPagesIdleLock(t *testing.T) {
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Lock = time.Second }})
	page := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	page.scan(serial)
	page.shows("lock", serial)
	page.state("lane-locked")
	assert.NotContains(t, page.text("#state"), "PASS")
	page.scan(serial)
	page.shows("pass", serial)
	runs, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	assert.Len(t, runs, 1, "it was looked up, not tested again")
}

// Only who may decides otherwise than padjig, with a reason, and it is recorded.
func TestPagesOverride(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	serial := b.product.Serial.Complete(1)
	page := b.as(account.Operator, "station", "/lane/1")
	page.scan(serial)
	page.shows("pass", serial)
	page.scan(serial)
	page.shows("look", serial)
	assert.Equal(t, "null", page.eval("document.getElementById('reason')"))
	page.scan(b.badges[account.Quality])
	page.await("document.querySelector('.who b')?.innerText === 'Qiu' && document.readyState === 'complete'")
	page.ready()
	page.scan("PJC0HERE")
	page.state("lane-override")
	page.eval("document.getElementById('reason').value = 'customer asked for a second report'")
	page.eval("document.getElementById('override').click()")
	page.shows("pass", serial)
	overrides, err := b.store.Accounts.Overrides(t.Context(), 10)
	require.NoError(t, err)
	require.Len(t, overrides, 1)
	assert.Equal(t, []string{"Qiu", "passed already", serial, "SIM-0001"},
		[]string{overrides[0].By, overrides[0].What, overrides[0].Serial, overrides[0].Jig})
	runs, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	assert.Len(t, runs, 2)
}

// A person presses the keys: the page says what to do and which keys are left.
func TestPagesHandPressed(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{hand: true, product: "vent-6.yaml"})
	page := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	page.scan(serial)
	page.await("document.getElementById('prompt')?.innerText.includes('press each framed key')")
	assert.Equal(t, "0 of 6", page.text("#count"))
	const prompt = "document.getElementById('prompt')?.innerText"
	for n, key := range b.product.Keys {
		require.NoError(t, b.jigs[0].jig.Hand(n, true))
		page.await(fmt.Sprintf("%s === %q && document.querySelector('#key-%d').classList.contains('held')", prompt, key.Label+": let go.", n))
		if n == 2 {
			page.states("lane-hand-held")
		}
		require.NoError(t, b.jigs[0].jig.Hand(n, false), key.Label)
		if n == len(b.product.Keys)-1 {
			break // the rest goes by itself
		}
		page.await(fmt.Sprintf("%s === %q && document.querySelector('#key-%d').classList.contains('good')", prompt, "Next: "+b.product.Keys[n+1].Label+", or any framed key.", n))
		assert.Equal(t, fmt.Sprintf("%d of 6", n+1), page.text("#count"))
		assert.Equal(t, fmt.Sprint(n+1), page.eval("document.querySelector('.key.next').id.replace('key-', '')"), "the key that is next is marked")
		if n == 2 {
			page.states("lane-hand")
		}
	}
	page.shows("pass", serial)
}

// pressed presses a key of a pad in the lane's jig by hand, when a hand is asked for, until it counted; after the last
// one the rest goes by itself.
func (t *tab) pressed(n int) {
	t.Helper()
	t.await("/framed key/.test(document.getElementById('prompt')?.innerText)")
	require.NoError(t, t.bed.jigs[0].jig.Hand(n, true))
	t.await(fmt.Sprintf("document.querySelector('#key-%d').classList.contains('held')", n))
	require.NoError(t, t.bed.jigs[0].jig.Hand(n, false))
	if n < len(t.bed.product.Keys)-1 {
		t.await(fmt.Sprintf("document.querySelector('#key-%d').classList.contains('good')", n))
	}
}

// states looks at a page's state at every size.
func (t *tab) states(name string) {
	t.Helper()
	for _, size := range []string{"phone", "big", "station"} {
		t.resize(size)
		t.check(name + ", " + size)
	}
	t.shot(name)
}

// Every signal of the lane's page at every size, for the eyes and for the
// checks of accessibility.
func TestPagesSignals(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{pace: true, slow: *screens != "", change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	n := 0
	for _, size := range []string{"station", "small", "phone"} {
		page := b.as(account.Operator, size, "/lane/1")
		page.scan("PJC0HERE")
		page.shows("idle", "")
		look := page.check
		if size == "station" {
			look = page.state
		}
		look("lane-ready")
		for _, c := range []struct{ name, fault, signal string }{
			{"pass", "", "pass"}, {"fail", "key 7 open; key OK bounces 14 ms on closing", "fail"}, {"reseat", "tail reversed", "reseat"},
		} {
			n++
			serial := b.product.Serial.Complete(n)
			b.jigs[0].put(c.fault)
			page.scan(serial)
			if c.name == "pass" {
				page.shows("run", serial)
				page.await("document.querySelectorAll('.key.good').length >= 8")
				look("lane-running")
			}
			page.shows(c.signal, serial)
			look("lane-" + c.name)
			if c.signal == "fail" {
				page.place()
			}
		}
		page.scan("PJC0NEXT")
		page.shows("idle", "")
	}
}
