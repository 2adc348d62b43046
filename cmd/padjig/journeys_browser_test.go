package main

import (
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
	"padjig/results/fails"
	"padjig/results/store"
)

// journey is something that people come to do, by keyboard and scanner alone, and its steps.
type journey struct {
	*tab
	steps []string
}

func (j *journey) step(words string, parts ...any) {
	j.steps = append(j.steps, fmt.Sprintf(words, parts...))
}

// scans is one step, however long the code is.
func (j *journey) scans(what, code string) {
	j.Helper()
	j.step("scan %s", what)
	j.scan(code)
}

// writes types as people do, far slower than a scanner.
func (j *journey) writes(what, text string) {
	j.Helper()
	j.step("type %s", what)
	for i, r := range text {
		j.key(time.Now().Add(time.Duration(i)*200*time.Millisecond), input.DispatchKeyEventParams{Key: string(r), Text: string(r)})
	}
}

// goes presses Tab until something has the focus, and Enter: each is a step.
func (j *journey) goes(what, selector string) {
	j.Helper()
	j.to(what, selector)
	j.step("Enter")
	j.enter()
}

// to presses Tab until something has the focus.
func (j *journey) to(what, selector string) {
	j.Helper()
	for range 60 { // how many depends on the menu of whoever it is
		j.press(kb.Tab)
		if j.eval(fmt.Sprintf("document.activeElement.matches(%q)", selector)) == "true" {
			j.step("Tab to %s", what)
			return
		}
	}
	require.Fail(j, "no Tab leads there", "%s, %s", what, selector)
}

// What people come to the pages for is done by keyboard and scanner alone, in so many steps:
// docs/journeys.md lists them.
func TestJourneysByKeyboardAndScanner(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	var list strings.Builder
	list.WriteString("# Journeys\n\nWhat people come to the pages for, by keyboard and scanner alone, and its steps. Made by a test in a browser:\n" +
		"`go test ./cmd/padjig -run Journeys -update`.\n")
	travel := func(page *tab, name string, way func(*journey)) {
		t.Helper()
		j, began := &journey{tab: page}, time.Now()
		way(j)
		t.Logf("%s: %d steps in %v", name, len(j.steps), time.Since(began).Round(10*time.Millisecond))
		fmt.Fprintf(&list, "\n**%s**, %d: %s.\n", name, len(j.steps), strings.Join(j.steps, "; "))
	}
	line := b.as(account.Operator, "station", "/lane/1")
	first, second := b.product.Serial.Complete(1), b.product.Serial.Complete(2)
	travel(line, "A unit passes", func(j *journey) {
		j.scans("the unit", first)
		j.shows("pass", first)
	})
	travel(line, "A unit fails, is tagged and put in the fail place", func(j *journey) {
		b.jigs[0].put("key 7 open")
		j.scans("the unit", second)
		j.shows("fail", second)
		id, err := store.ParseID(j.stored())
		require.NoError(t, err)
		j.scans("its tag", fails.TagCode(id))
		j.scans("the fail place", fails.Place{}.Code())
		j.await("document.getElementById('state').dataset.signal === 'idle'")
		owed, err := b.store.Fails.On(t.Context(), "SIM-0001", true)
		require.NoError(t, err)
		assert.Empty(t, owed)
	})
	travel(line, "The next unit after a fail passes", func(j *journey) {
		b.jigs[0].put("")
		j.scans("the unit", b.product.Serial.Complete(3))
		j.shows("pass", b.product.Serial.Complete(3))
	})
	travel(b.as(account.Engineer, "laptop", "/fails"), "Somebody finds a unit by a part of its number", func(j *journey) {
		j.step("press /")
		j.press("/")
		j.await("document.activeElement.id === 'find'")
		j.writes("a part of the number", "00003")
		j.step("Enter")
		j.key(time.Now().Add(time.Minute), input.DispatchKeyEventParams{Key: "Enter", Code: "Enter", Text: "\r", WindowsVirtualKeyCode: 13})
		j.await("['/find', '/unit'].includes(location.pathname) && document.readyState === 'complete'")
		if j.eval("location.pathname") == "/find" {
			j.ready()
			j.goes("the unit", "main a[href^='/unit']")
			j.await("location.pathname === '/unit' && document.readyState === 'complete'")
		}
		assert.Contains(t, j.text("main"), b.product.Serial.Complete(3))
	})
	travel(line, "The lid was left open, and is closed", func(j *journey) {
		serial := b.product.Serial.Complete(4)
		b.jigs[0].jig.Lid(true)
		j.scans("the unit", serial)
		j.await("document.getElementById('state').dataset.serial === '" + serial + "' && document.getElementById('state').dataset.signal !== 'pass'")
		j.step("close the lid")
		b.jigs[0].jig.Lid(false)
		j.shows("pass", serial)
	})
	travel(b.as(account.Returns, "laptop", "/returns"), "A unit that came back is taken in", func(j *journey) {
		j.scans("the unit", first)
		j.await("location.pathname === '/unit' && document.readyState === 'complete'")
		j.ready()
		j.to("the complaint", "#complaint")
		j.step("arrow down")
		j.press(kb.ArrowDown)
		j.to("what is seen", "[name=condition]")
		j.step("space")
		j.press(" ")
		j.goes("the button", "form[action='/returns/intake'] button")
		j.await("document.querySelector('main').innerText.includes('Case 1')")
	})
	for n := 5; n <= 7; n++ {
		b.putAway("SIM-0001", b.product.Serial.Complete(n))
		b.jigs[0].put("key 7 open")
		line.scan(b.product.Serial.Complete(n))
		line.shows("fail", b.product.Serial.Complete(n))
	}
	line.await("document.getElementById('halt')")
	b.putAway("SIM-0001", "")
	line.eval("document.getElementById('clear').click()")
	line.await("document.getElementById('word').innerText === 'LINE STOPPED'")
	travel(b.as(account.Quality, "station", "/lane/1"), "Whoever is in charge of quality lifts a stop", func(j *journey) {
		j.step("scan the badge")
		j.goes("the reason", "#lift button[value=material]")
		j.await("document.getElementById('halt') === null && document.getElementById('word').innerText === 'SCAN'")
	})
	const path = "../../docs/journeys.md"
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(list.String()), 0o644))
	}
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, list.String(), string(kept), "go test ./cmd/padjig -run Journeys -update")
}
