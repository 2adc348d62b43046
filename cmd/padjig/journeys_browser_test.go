package main

import (
	"cmp"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/fails"
	"padjig/results/releases/releasestest"
	"padjig/results/returns"
	"padjig/results/store"
)

// journey is something that people come to do, by keyboard and scanner alone, its steps and
// what it takes of hands and head.
type journey struct {
	*tab
	name  string
	steps []string
	hands hands
}

func (j *journey) step(words string, parts ...any) {
	j.steps = append(j.steps, fmt.Sprintf(words, parts...))
}

// at goes on at another page, where somebody else sits.
func (j *journey) at(page *tab) {
	j.tab, j.hands.at = page, ""
}

// scans is one step, however long the code is.
func (j *journey) scans(what, code string) {
	j.Helper()
	j.step("scan %s", what)
	j.hands.choose("S", 1)
	j.scan(code)
}

// writes types as people do, far slower than a scanner.
func (j *journey) writes(what, text string) {
	j.Helper()
	j.step("type %s", what)
	j.hands.goOn("K", len(text))
	for i, r := range text {
		j.key(time.Now().Add(time.Duration(i)*200*time.Millisecond), input.DispatchKeyEventParams{Key: string(r), Text: string(r)})
	}
}

// presses presses a key so often, once something has the focus.
func (j *journey) presses(what, key string, often int) {
	j.Helper()
	j.step("%s", what)
	j.hands.goOn("K", often)
	for range often {
		j.press(key)
	}
}

// sends presses Enter where somebody has written something.
func (j *journey) sends() {
	j.Helper()
	j.step("Enter")
	j.hands.goOn("K", 1)
	j.key(time.Now().Add(time.Minute), input.DispatchKeyEventParams{Key: "Enter", Code: "Enter", Text: "\r", WindowsVirtualKeyCode: 13})
}

// ctrl is the bit of that key in what a browser is sent.
const ctrl = 2

// sendsForm presses Ctrl+Enter, which are two keys, in a form.
func (j *journey) sendsForm() {
	j.Helper()
	j.step("Ctrl+Enter")
	j.hands.goOn("K", 2)
	j.key(time.Now().Add(time.Minute), input.DispatchKeyEventParams{Key: "Enter", Code: "Enter", WindowsVirtualKeyCode: 13, Modifiers: ctrl})
}

// goes presses Tab until something has the focus, and Enter: each is a step.
func (j *journey) goes(what, selector string) {
	j.Helper()
	j.to(what, selector)
	j.sends()
}

// to presses Tab until something has the focus; that is one step, however often.
func (j *journey) to(what, selector string) {
	j.Helper()
	for n := range 60 {
		j.press(kb.Tab)
		if j.eval(fmt.Sprintf("document.activeElement.matches(%q)", selector)) == "true" {
			j.step("Tab to %s", what)
			j.hands.choose("K", n+1)
			return
		}
	}
	require.Fail(j, "no Tab leads there", "%s, %s", what, selector)
}

// arrives waits until a page is there.
func (j *journey) arrives(path string) {
	j.Helper()
	j.await(fmt.Sprintf("location.pathname === %q && document.readyState === 'complete'", path))
	j.ready()
}

// before is how a journey went on the pages before these, counted once on 2026-11-29, by keyboard and
// scanner alone, in a browser or by reading them; or why it could not be made. What is not listed
// went as it does now.
var before = map[string]struct {
	steps int
	took  motions
	not   string // where it was not possible
	read  bool   // counted by reading alone
}{
	"A unit fails, is repaired, comes back and passes":       {steps: 10, took: "M S M S M S M S H M 10K M 7K M S"},
	"The lid was left open, is closed, and start is scanned": {steps: 2, took: "M S"},
	"A unit that came back is taken in":                      {steps: 7, took: "M S H M 17K M 3K M 17K"},
	"Its first press, without a photo":                       {steps: 7, took: "M 25K M 12K M 10K"},
	"Whoever is in charge of quality lifts a stop":           {steps: 3, took: "M S H M 13K"},
	"A new revision is written, tried, proposed, and approved by a second person": {steps: 24, read: true,
		took: "M 14K M 58K M 2K M 39K M 13K M 2K M 14K M 17K"},
	"Somebody finds a unit by a part of its number":     {not: "not possible on a page"},
	"The product is changed, and its first unit passes": {not: "not possible on a page"},
	"The bad jig is found, and one run behind it":       {not: "not possible on a page: no figure led to its units"},
}

// journal lists journeys, and what each takes now and took before.
type journal struct{ table, list strings.Builder }

func (l *journal) add(j *journey) error {
	took, err := j.hands.motions().time()
	if err != nil {
		return err
	}
	was := before[j.name]
	then := cmp.Or(was.not, "as now")
	if was.steps > 0 {
		before, err := was.took.time()
		if err != nil {
			return err
		}
		then = fmt.Sprintf("%d steps, %.1f s", was.steps, before.Seconds())
		if was.read {
			then += ", counted by reading"
		}
	}
	fmt.Fprintf(&l.table, "| %s | %d | %.1f | %s |\n", j.name, len(j.steps), took.Seconds(), then)
	fmt.Fprintf(&l.list, "\n**%s**, %d: %s. `%s`\n", j.name, len(j.steps), strings.Join(j.steps, "; "), j.hands.motions())
	return nil
}

func (l *journal) String() string {
	return fmt.Sprintf(`# Journeys

What people come to the pages for, by keyboard and scanner alone, and its steps. Made by a test in a browser:
`+"`go test ./cmd/padjig -run Journeys -update`"+`.

A step is what somebody would say they did: a scan, a way to a field however many Tabs it takes, a word that is typed, an
Enter. Seconds are those of somebody who knows the way and makes no mistake, by the keystroke-level model of Card, Moran
and Newell (Communications of the ACM 23 (1980) 396-410): a key K %.2f s (an average typist), making up one's mind M %.2f s
before each thing that is chosen, a hand from scanner to keys or back H %.1f s; and a scan S %.1f s, common practice, no
source. What the station and the jig take is not in them, nor what is done at the jig. Before: the pages of commit f9a8e91,
counted once on 2026-11-29 by going through them in a browser, or by reading them where that is said.

| journey | steps | s | before |
|---|--:|--:|---|
%s%s`, motionTimes["K"].Seconds(), motionTimes["M"].Seconds(), motionTimes["H"].Seconds(), motionTimes["S"].Seconds(), l.table.String(), l.list.String())
}

// travel makes a journey from a page on, and adds it to the journal.
func (l *journal) travel(page *tab, name string, way func(*journey)) {
	page.Helper()
	j, began := &journey{tab: page, name: name}, time.Now()
	way(j)
	page.Logf("%s: %d steps in %v: %s", name, len(j.steps), time.Since(began).Round(10*time.Millisecond), j.hands.motions())
	require.NoError(page, l.add(j))
}

// shiftBegins has a product ask for its reference units at the beginning of a shift.
var shiftBegins = strings.Replace(webtest.Demanding, "2 units", "500 units", 1)

// What people come to the pages for is done by keyboard and scanner alone, in so many steps:
// docs/journeys.md lists them.
func TestJourneysByKeyboardAndScanner(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{recipe: func(text string) string { return text + shiftBegins },
		change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	var list journal
	line := b.as(account.Operator, "station", "/lane/1")
	list.line(b, line)
	list.desk(b, line)
	list.stop(b, line)
	list.products(b, line)
	list.quality(t)
	const path = "../../docs/journeys.md"
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(list.String()), 0o644))
	}
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, list.String(), string(kept), "go test ./cmd/padjig -run Journeys -update")
}

// line is what people do who test units.
func (l *journal) line(b *bed, line *tab) {
	unit := b.product.Serial.Complete
	l.travel(line, "A shift begins with the reference units", func(j *journey) {
		assert.Contains(b, j.text("#lane"), "REF-G", "the lane asks for them")
		j.scans("the good unit", "REF-G")
		j.shows("pass", "REF-G")
		b.jigs[0].put("key 7 open")
		j.scans("the bad one", "REF-B")
		j.shows("pass", "REF-B")
		b.jigs[0].put("")
		j.scans("the first unit", unit(1))
		j.shows("pass", unit(1))
	})
	l.travel(line, "A unit passes", func(j *journey) {
		j.scans("the unit", unit(2))
		j.shows("pass", unit(2))
	})
	l.travel(line, "A unit fails, is tagged and put in the fail place", func(j *journey) {
		b.jigs[0].put("key 7 open")
		j.scans("the unit", unit(3))
		j.shows("fail", unit(3))
		id, err := store.ParseID(j.stored())
		require.NoError(b, err)
		j.scans("its tag", fails.TagCode(id))
		j.scans("the fail place", fails.Place{}.Code())
		j.await("document.getElementById('state').dataset.signal === 'idle'")
		owed, err := b.store.Fails.On(b.Context(), "SIM-0001", true)
		require.NoError(b, err)
		assert.Empty(b, owed)
	})
	l.travel(line, "The next unit after a fail passes", func(j *journey) {
		b.jigs[0].put("")
		j.scans("the unit", unit(4))
		j.shows("pass", unit(4))
	})
	l.travel(line, "The lid was left open, is closed, and start is scanned", func(j *journey) {
		b.jigs[0].jig.Lid(true)
		j.scans("the unit", unit(5))
		j.await("document.getElementById('state').dataset.serial === '" + unit(5) + "' && document.getElementById('state').dataset.signal !== 'pass'")
		j.step("close the lid")
		b.jigs[0].jig.Lid(false)
		j.await("document.getElementById('state').dataset.phase === 'armed'")
		j.scans("start", lane.CommandPrefix+"BEGIN")
		j.shows("pass", unit(5))
	})
	l.travel(line, "A unit fails, is repaired, comes back and passes", func(j *journey) {
		b.jigs[0].put("key 7 open")
		j.scans("the unit", unit(6))
		j.shows("fail", unit(6))
		id, err := store.ParseID(j.stored())
		require.NoError(b, err)
		j.scans("its tag", fails.TagCode(id))
		j.scans("the fail place", fails.Place{}.Code())
		j.at(b.as(account.Returns, "laptop", "/returns"))
		j.scans("the unit at the desk", unit(6))
		j.arrives("/unit")
		j.to("what was done", "#did")
		j.presses("arrow down", kb.ArrowDown, 1)
		j.sendsForm()
		j.await("document.querySelector('.now').innerText.includes('test it again')")
		reworks, err := b.store.Returns.Reworks(b.Context(), unit(6))
		require.NoError(b, err)
		if assert.Len(b, reworks, 1) {
			assert.Equal(b, returns.Place{Kind: returns.AtKey, Name: "7"}, reworks[0].Place, "where it failed")
		}
		b.jigs[0].put("")
		j.at(line)
		j.scans("the unit at the lane", unit(6))
		j.shows("pass", unit(6))
	})
}

// desk is what people do who find units, and take in what comes back.
func (l *journal) desk(b *bed, line *tab) {
	l.travel(b.as(account.Engineer, "laptop", "/fails"), "Somebody finds a unit by a part of its number", func(j *journey) {
		j.step("press /")
		j.hands.choose("K", 1)
		j.press("/")
		j.await("document.activeElement.id === 'find'")
		j.writes("a part of the number", "00003")
		j.sends()
		j.arrives("/unit")
		assert.Contains(b, j.text("main"), b.product.Serial.Complete(3))
	})
	line.visit("/fails") // the lane's screen is busy elsewhere: the desk may have the jig
	desk := b.as(account.Returns, "laptop", "/returns")
	unit := b.product.Serial.Complete(1)
	l.travel(desk, "A unit that came back is taken in", func(j *journey) {
		j.scans("the unit", unit)
		j.arrives("/unit")
		j.to("the complaint", "#complaint")
		j.presses("arrow down", kb.ArrowDown, 1)
		j.to("what is seen", "[name=condition]")
		j.presses("space", " ", 1)
		j.sendsForm()
		j.await("document.querySelector('main').innerText.includes('Case 1')")
		j.ready()
	})
	l.travel(desk, "Its first press, without a photo", func(j *journey) {
		j.to("why there is no photo", "#nophoto")
		j.writes("the reason", "camera broken")
		j.sends()
		j.await("document.querySelector('input[name=purpose]')?.value === 'first press'")
		j.ready()
		j.goes("the button", "form[action='/returns/stage'] button")
		j.await("document.querySelector('input[name=purpose]')?.value === 'return test' && !document.getElementById('casejig')")
		c, err := b.store.Returns.CaseOf(b.Context(), unit)
		require.NoError(b, err)
		assert.Len(b, c.Stages, 1)
		assert.Empty(b, b.lanes().Lanes[0].State().Unit.Serial, "the jig is anybody's again")
	})
	line.visit("/lane/1")
}

// stop is what it takes to have a line go on that stopped itself.
func (l *journal) stop(b *bed, line *tab) {
	for n := range 2 { // with the one that was repaired three in a row
		n += 11
		b.putAway("SIM-0001", b.product.Serial.Complete(n))
		b.jigs[0].put("key 7 open")
		line.scan(b.product.Serial.Complete(n))
		line.shows("fail", b.product.Serial.Complete(n))
	}
	line.await("document.getElementById('halt') !== null")
	b.putAway("SIM-0001", "")
	line.eval("document.getElementById('clear').click()")
	line.await("document.getElementById('word').innerText === 'LINE STOPPED'")
	l.travel(b.look("station", "/door?next=/lane/1"), "Whoever is in charge of quality lifts a stop", func(j *journey) {
		j.scans("the badge", b.badges[account.Quality])
		j.arrives("/lane/1")
		j.goes("the reason", "#lift button[value=material]")
		j.await("document.getElementById('halt') === null && document.getElementById('word').innerText === 'SCAN'")
	})
}

// products is a change of product at a lane, and a new revision of one.
func (l *journal) products(b *bed, line *tab) {
	text, err := os.ReadFile(b.file)
	require.NoError(b, err)
	other := strings.NewReplacer("product: GCC-20", "product: GCC-24", shiftBegins, "").Replace(string(text))
	require.NoError(b, releasestest.Release(b.Context(), b.store, other))
	l.travel(line, "The product is changed, and its first unit passes", func(j *journey) {
		b.jigs[0].put("")
		j.eval("globalThis.before = true") // the page comes anew
		j.scans("the product", control.CodeOf(control.ProductBegins, "GCC-24"))
		j.await("!globalThis.before && document.querySelector('.unit').innerText.includes('GCC-24') && document.readyState === 'complete'")
		j.ready()
		j.scans("the first unit", b.product.Serial.Complete(20))
		j.shows("pass", b.product.Serial.Complete(20))
	})
	l.travel(b.withPassword("laptop", "/products"), "A new revision is written, tried, proposed, and approved by a second person", func(j *journey) {
		j.goes("the product", "main a[href='/products/GCC-24']")
		j.arrives("/products/GCC-24")
		j.goes("its text", "main a[href='/products/GCC-24/edit']")
		j.arrives("/products/GCC-24/edit")
		j.to("the text", "#text")
		j.presses("to the revision", kb.ArrowDown, 4)
		j.presses("to its end", kb.End, 1)
		j.presses("take it off", kb.Backspace, 1)
		j.writes("the new one", "D")
		j.presses("to the limit", kb.ArrowDown, 27)
		j.presses("to its end", kb.End, 1)
		j.presses("to the number", kb.ArrowLeft, 4)
		j.presses("take it off", kb.Backspace, 3)
		j.writes("another", "250")
		j.await("document.querySelector('#beside').innerText.includes('250')")
		j.goes("what it would have done", "main a[href='/products/GCC-24/try']")
		j.arrives("/products/GCC-24/try")
		j.to("the reason", "#reason")
		j.writes("it", "agreed with the customer")
		j.to("from which number on", "#from")
		j.writes("it", b.product.Serial.Complete(500))
		j.sends()
		j.arrives("/products/GCC-24")
		j.at(b.passwordOf(account.Quality, "laptop", "/products"))
		j.goes("the product, as the second person", "main a[href='/products/GCC-24']")
		j.arrives("/products/GCC-24")
		j.goes("the approval", "form[action$=approve] button")
		j.await("!document.getElementById('open') && document.readyState === 'complete'")
		assert.Contains(b, j.text("main"), "D")
	})
}

// quality is how the jig is found that fails good units, down to one run.
func (l *journal) quality(t *testing.T) {
	b := makeBed(t, bedding{})
	b.fill(9000)
	l.travel(b.as(account.Quality, "laptop", "/quality"), "The bad jig is found, and one run behind it", func(j *journey) {
		assert.Contains(b, j.text(".looks"), "J-0042", "the jig is named")
		j.goes("what needs attention at one jig", ".looks a[href^='/quality/causes']")
		j.arrives("/quality/causes")
		j.goes("the chart", "main a.c-spot")
		j.arrives("/quality/units")
		j.goes("a unit", "tbody a[href^='/unit']")
		j.arrives("/unit")
		j.goes("its run", "tr:target a")
		j.await("location.pathname.startsWith('/tag/') && document.readyState === 'complete'")
	})
}

// What is typed too slowly for a scan presses nothing with its Enter, and Ctrl+Enter sends the
// form of a field where it has one button; an Enter of a person presses what has the focus.
func TestPagesASlowScanPressesNothing(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	serial := b.product.Serial.Complete(1)
	c, err := b.store.Returns.OpenCase(t.Context(), serial, b.product.Code,
		returns.Intake{Received: time.Now(), Complaint: "key dead", Conditions: []string{returns.NothingVisible}, By: "Rosa"})
	require.NoError(t, err)
	require.NoError(t, b.store.Returns.SayNoPhoto(t.Context(), c, returns.NoPhoto{Reason: "the camera is broken", By: "Rosa"}))
	page := b.as(account.Returns, "laptop", "/returns")
	page.visit("/unit?serial=" + serial)
	assert.Equal(t, "true", page.eval("document.activeElement.matches('.now h2')"), "it begins at what is next")
	const form = "document.querySelector('form[action=\"/returns/stage\"]')"
	page.press(kb.Tab)
	assert.Equal(t, "true", page.eval("document.activeElement.form === "+form), "one Tab leads to its button")
	at := time.Now()
	for _, r := range serial {
		at = at.Add(100 * time.Millisecond)
		page.key(at, input.DispatchKeyEventParams{Key: string(r), Text: string(r)})
	}
	enter := input.DispatchKeyEventParams{Key: "Enter", Code: "Enter", Text: "\r", WindowsVirtualKeyCode: 13}
	page.key(at.Add(100*time.Millisecond), enter)
	assert.Equal(t, "undefined", page.eval("String("+form+".dataset.sent)"), "nothing moves")
	page.key(at.Add(time.Minute), enter)
	page.await("document.querySelector('input[name=purpose]')?.value === 'return test'")
}
