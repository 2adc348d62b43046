package main

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/legible"
	"padjig/cmd/padjig/station"
)

// frameSizes are those of a station's screens.
var frameSizes = []string{"small", "station", "laptop", "big"}

// measure is how a lane's page lies on the screen: what sticks out, is cut off or lies over
// something else; where what must not move is; how high capital letters are, in pixels.
type measure struct {
	Wrong  []string
	Places map[string][4]float64
	Word   float64   // of the word
	Causes []float64 // of the line and of each cause
	Tight  string    // how much smaller than readable, empty for not
}

// measuring is the script of a measure.
const measuring = `
globalThis.boxOf = e => { const r = e.getBoundingClientRect(); return [r.x, r.y, r.width, r.height].map(v => Math.round(v * 10) / 10); };
globalThis.placesNow = () => Object.fromEntries([['word', '.head'], ['sign', '.head .sign'], ['pad', '.pad .body'], ['tally', '.tally dl']]
  .map(([name, at]) => [name, document.querySelector(at)]).filter(([, e]) => e && e.checkVisibility()).map(([name, e]) => [name, boxOf(e)]));
globalThis.placesSeen = [];
document.addEventListener('shown', () => { const s = document.getElementById('state'); if (s) placesSeen.push([s.dataset.phase, innerWidth, placesNow()]); });
globalThis.capOf = e => {
  const s = getComputedStyle(e), c = new OffscreenCanvas(1, 1).getContext('2d');
  c.font = s.fontWeight + ' ' + s.fontSize + ' ' + s.fontFamily;
  return c.measureText('H').actualBoundingBoxAscent;
};
globalThis.measured = () => {
  const wrong = [], name = e => e.tagName.toLowerCase() + (e.id ? '#' + e.id : '.' + (e.getAttribute('class') || '')) + ' "' + e.textContent.trim().slice(0, 30) + '"';
  const root = document.documentElement;
  if (root.scrollHeight > innerHeight) wrong.push('the page is ' + (root.scrollHeight - innerHeight) + ' px too high');
  if (document.body.scrollHeight > innerHeight) wrong.push('the body is ' + (document.body.scrollHeight - innerHeight) + ' px too high');
  if (root.scrollWidth > innerWidth) wrong.push('the page is ' + (root.scrollWidth - innerWidth) + ' px too wide');
  const within = (r, o, slack) => r.left >= o.left - slack && r.right <= o.right + slack && r.top >= o.top - slack && r.bottom <= o.bottom + slack;
  for (const e of document.querySelectorAll('main *')) {
    if (!e.checkVisibility() || e.closest('.away, .pad') || ![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
    if (getComputedStyle(e).display !== 'inline' && e.scrollWidth > e.clientWidth + 1) wrong.push(name(e) + ' is cut off at the side');
    const size = parseFloat(getComputedStyle(e).fontSize), range = document.createRange();
    range.selectNodeContents(e);
    const room = e.closest('.lift form, .say, .head, .doing, .serial, .jigline, .tally dl > div, .entry, #gone, .panel, .tally, .simulated')?.getBoundingClientRect();
    for (const r of range.getClientRects()) {
      if (!within(r, {left: 0, top: 0, right: innerWidth, bottom: innerHeight}, 1)) wrong.push(name(e) + ' is outside of the screen');
      if (room && !within(r, room, 1 + 0.16 * size)) wrong.push(name(e) + ' is outside of its place by ' + JSON.stringify([r.left - room.left, room.right - r.right, r.top - room.top, room.bottom - r.bottom].map(Math.round)));
    }
  }
  for (const place of ['.words', '.say', '.unit', 'main', '.doing', '.entry', '.reasons', '.jigline']) for (const p of document.querySelectorAll(place)) {
    const all = [...p.children].filter(e => e.checkVisibility() && getComputedStyle(e).position !== 'absolute' && e.getBoundingClientRect().height && e.getBoundingClientRect().width);
    for (const [i, a] of all.entries()) for (const b of all.slice(i + 1)) {
      const x = a.getBoundingClientRect(), y = b.getBoundingClientRect();
      if (x.left < y.right - 1 && y.left < x.right - 1 && x.top < y.bottom - 1 && y.top < x.bottom - 1) wrong.push(name(a) + ' lies over ' + name(b));
    }
  }
  for (const key of document.querySelectorAll('.pad .key')) {
    if (!key.checkVisibility()) continue;
    const cap = key.querySelector('.cap').getBoundingClientRect(), cross = key.querySelector('.cross').getBoundingClientRect();
    for (const text of key.querySelectorAll('text')) {
      if (!text.textContent) continue;
      const r = text.getBoundingClientRect(), h = r.height, letters = {left: r.left, right: r.right, top: r.top + 0.2 * h, bottom: r.bottom - 0.2 * h};
      if (!within(letters, cap, 1)) wrong.push(name(text) + ' is outside of its key');
      if (cross.width && letters.left < cross.right && cross.left < letters.right && letters.top < cross.bottom && cross.top < letters.bottom) wrong.push('the cross covers ' + name(text));
    }
  }
  const target = 24 * Math.hypot(innerWidth, innerHeight) / 609.6;
  for (const e of document.querySelectorAll('main :is(a, button, input:not([type=hidden]))')) {
    const r = e.getBoundingClientRect();
    if (e.checkVisibility() && (r.height < target - 1 || r.width < target - 1)) wrong.push(name(e) + ' is too small for a glove: ' + boxOf(e));
  }
  const say = document.querySelectorAll(document.querySelector('.findings') ? '.findings li' : '#lane #line, #gone:not([hidden]) .line');
  const word = document.querySelector('#gone:not([hidden]) .word') || document.getElementById('word');
  return {Wrong: wrong, Places: placesNow(), Word: capOf(word), Causes: [...say].filter(e => e.checkVisibility()).map(capOf), Tight: document.getElementById('say')?.dataset.tight || ''};
};`

// measure measures the page as it is.
func (t *tab) measure() (m measure) {
	t.Helper()
	// A page behind another hears of its size with its next picture only.
	const ask = "globalThis.measured ? (dispatchEvent(new Event('resize')), JSON.stringify(measured())) : ''"
	said := t.eval(ask)
	if said == "" {
		t.eval("(0, eval)(" + fmt.Sprintf("%q", measuring) + ")")
		said = t.eval(ask)
	}
	require.NoError(t, json.Unmarshal([]byte(said), &m))
	return m
}

// framed looks at a state of a lane at every size of a station: nothing scrolls, is cut off
// or lies over something else, and the word is read from where people stand, and the first
// cause unless it is compact: where a stop is said beside a verdict.
func (t *tab) framed(name string, compact bool) {
	t.Helper()
	for _, size := range frameSizes {
		t.resize(size)
		m := t.measure()
		assert.Empty(t, m.Wrong, "%s, %s", name, size)
		s := sizes[size]
		need := legible.Height(3000, legible.Least) * math.Hypot(float64(s[0]), float64(s[1])) / 609.6
		assert.GreaterOrEqual(t, m.Word, need, "%s, %s: the word", name, size)
		if !compact {
			require.NotEmpty(t, m.Causes, name)
			assert.GreaterOrEqual(t, m.Causes[0], need, "%s, %s: the cause", name, size)
		}
	}
	t.resize("small") // where there is least room for larger text
	t.eval("document.documentElement.dataset.text = 'largest'")
	t.eval("document.querySelector('.split dd')?.childNodes.forEach(n => { if (n.nodeType === 3 && n.data.trim()) n.data = ' 99.9 s ' })") // or whatever the machine takes
	assert.Empty(t, t.measure().Wrong, "%s, small, largest text", name)
	t.eval("document.documentElement.dataset.text = 'normal'")
	t.shot(name)
}

// A lane's page is one frame in every state, at every size of a station, in both languages
// and for those who may lift and override: nothing scrolls, nothing is cut off, nothing
// moves when the verdict comes, and word and cause can be read from three metres.
func TestPagesLaneIsOneFrame(t *testing.T) {
	t.Parallel()
	var leave atomic.Bool
	b := makeBed(t, bedding{change: func(o *stationOptions) {
		o.Twice = time.Nanosecond
		lay := o.Load
		o.Load = func(lane int, serial string) {
			if !leave.Load() {
				lay(lane, serial)
			}
		}
	}})
	page := b.as(account.Operator, "station", "/lane/1")
	german, decides := b.as(account.Operator, "station", "/lane/1"), b.as(account.Quality, "station", "/lane/1")
	german.eval("document.querySelector('button[name=language][value=de]').click()")
	german.await("document.documentElement.lang === 'de' && document.readyState === 'complete'")
	german.ready()
	tabs := map[string]*tab{"en": page, "de": german, "quality": decides}
	decided := []string{"again", "owed", "stopping", "stopped"} // who decides has more to touch then
	page.measure()                                              // what it shows is followed from here on
	all := func(name string, compact bool) {
		t.Helper()
		at := fmt.Sprintf("document.getElementById('state').dataset.signal === %q && document.getElementById('state').dataset.serial === %q && document.getElementById('state').dataset.phase === %q",
			page.eval("document.getElementById('state').dataset.signal"), page.eval("document.getElementById('state').dataset.serial"), page.eval("document.getElementById('state').dataset.phase"))
		for who, tab := range tabs {
			if who == "quality" && !slices.Contains(decided, name) {
				continue // it sees what operators see
			}
			tab.await(at)
			tab.framed("frame-"+name+"-"+who, compact || who == "quality")
		}
		page.resize("station")
	}
	n := 0
	test := func(fault string) string {
		t.Helper()
		n++
		b.jigs[0].put(fault)
		before := page.stored()
		page.scan(b.product.Serial.Complete(n))
		page.await(fmt.Sprintf("document.getElementById('state').dataset.stored && document.getElementById('state').dataset.stored !== %q", before))
		return b.product.Serial.Complete(n)
	}
	word := func(w string) {
		t.Helper()
		page.await(fmt.Sprintf("document.getElementById('word')?.innerText.replaceAll('\\n', ' ') === %q", w))
	}
	all("ready", false)
	b.jigs[0].unplug()
	word("NO JIG")
	all("no-jig", false)
	b.jigs[0].plug()
	word("SCAN")
	page.scan("GCC-0")
	word("NOT TESTED")
	all("refused", false)
	first := test("")
	word("PASS")
	all("pass", false)
	page.scan(first)
	word("NOT TESTED")
	all("again", false)
	test("tail reversed")
	word("RESEAT")
	all("reseat", false)
	leave.Store(true)
	n++
	page.scan(b.product.Serial.Complete(n))
	word("TAKE OUT")
	all("take-out", false)
	b.jigs[0].jig.Reseat()
	leave.Store(false)
	page.await("document.getElementById('state').dataset.phase === 'armed'")
	all("armed", false)
	page.eval("document.getElementById('start').click()")
	page.await("document.getElementById('state').dataset.stored !== ''")
	test("jig opens interlock for 300 ms at key 5")
	word("STOPPED")
	all("lid-opened", false)
	test("key 7 open")
	word("FAIL")
	all("fail", false)
	page.scan(b.product.Serial.Complete(n + 1))
	word("TAG FIRST")
	all("owed", false)
	b.putAway("SIM-0001", "")
	b.lanes().Lanes[0].Refresh()
	test("key 7 open; key HEAT high 640 ohm; lines C1 C2 leak 2 Mohm; key OK bounces 14 ms on closing; key 1 high 900 ohm; key MIST open")
	word("FAIL")
	assert.GreaterOrEqual(t, page.eval("String(document.querySelectorAll('.findings li').length)"), "6")
	all("fail-of-six", false)
	b.putAway("SIM-0001", "")
	b.lanes().Lanes[0].Refresh()
	test("key 7 open")
	word("FAIL")
	page.await("document.getElementById('halt')")
	all("stopping", true)
	decides.eval("document.getElementById('lift-open').click()")
	decides.framed("frame-lifting", true)
	page.eval("document.getElementById('clear').click()")
	word("LINE STOPPED")
	all("stopped", false)

	// Nothing moved on the screen that went through all of it, at whatever moment it was asked.
	type seen struct {
		phase  string
		places map[string][4]float64
	}
	var raw [][]json.RawMessage
	require.NoError(t, json.Unmarshal([]byte(page.eval("JSON.stringify(placesSeen.filter(p => p[1] === 1280))")), &raw))
	require.Greater(t, len(raw), 10)
	var before *seen
	phases := map[string]bool{}
	for _, r := range raw {
		var now seen
		require.NoError(t, json.Unmarshal(r[0], &now.phase))
		require.NoError(t, json.Unmarshal(r[2], &now.places))
		phases[now.phase] = true
		if before != nil {
			assert.Equal(t, before.places, now.places, "from %s to %s", before.phase, now.phase)
		}
		before = &now
	}
	assert.True(t, phases[string(station.Running)] && phases[string(station.Ended)], "%v", phases)

	b.stop()
	for who, tab := range tabs {
		tab.await("!document.getElementById('gone').hidden")
		tab.framed("frame-gone-"+who, false)
	}
}
