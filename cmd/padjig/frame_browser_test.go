package main

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results/returns"
)

// What all pages share, in a real browser. A refused form stays as it is, with what was typed;
// each message stands at its field and the first has the focus, and the messages of a try
// before are gone.
func TestFrameOnThePages(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	serial := b.product.Serial.Complete(1)

	desk := b.as(account.Returns, "laptop", "/unit?serial="+serial)
	desk.choose("complaint", "other")
	desk.eval("document.getElementById('customer').value = 'Tomato & Sons'")
	desk.eval("document.body.same = true")
	desk.submit("form[action='/returns/intake']")
	desk.await("document.querySelectorAll('.mistake').length === 2")
	assert.Equal(t, "intext", desk.eval("document.activeElement.id"))
	assert.Equal(t, "mistake-text", desk.eval("document.activeElement.getAttribute('aria-describedby')"))
	assert.Equal(t, "true", desk.eval("document.activeElement.getAttribute('aria-invalid')"))
	assert.Equal(t, "true", desk.eval("!!document.querySelector('fieldset > .mistake')"), "choices have one message for all")
	assert.Equal(t, "true Tomato & Sons /unit", desk.eval("[document.body.same, document.getElementById('customer').value, location.pathname].join(' ')"))
	desk.reachable("a form that was refused")
	desk.shot("form-refused")
	desk.eval("document.getElementById('intext').value = 'it smells of basil'")
	desk.submit("form[action='/returns/intake']")
	desk.await("document.querySelectorAll('.mistake').length === 1 && document.activeElement.name === 'condition'")
	assert.Equal(t, "null", desk.eval("document.getElementById('intext').getAttribute('aria-invalid')"))
	desk.eval("document.querySelector('[name=condition]').checked = true")
	desk.submit("form[action='/returns/intake']")
	desk.await("document.querySelector('main').innerText.includes('Case 1')")
	desk.ready()

	// Whoever is at no fault that can be named at a field is told at the head of the form, and
	// what was typed is still there, the password too.
	door := b.look("phone", "/door")
	door.eval("document.getElementById('name').value = 'Ines', document.getElementById('password').value = 'wrong'")
	door.submit("form[action='/door']")
	door.await("document.querySelector('form .mistake[role=alert]') === document.activeElement")
	assert.Equal(t, "Ines wrong", door.eval("document.getElementById('name').value + ' ' + document.getElementById('password').value"))
	door.reachable("a door that stays shut")
	door.shot("door-refused")
	door.eval("document.getElementById('password').value = '" + engineersPassword + "'")
	door.submit("form[action='/door']")
	door.await("location.pathname !== '/door'")

	// Dark pages, by choice in this browser, are as easy to read as light ones.
	line := b.as(account.Engineer, "station", "/lane/1")
	line.scan(serial)
	line.shows("look", serial)                                    // it came back
	for _, size := range []string{"small", "station", "laptop"} { // a menu of many entries folds, and unfolded covers what is below
		line.resize(size)
		assert.Equal(t, "true", line.eval("document.querySelector('.top').offsetHeight < 70"), "the menu takes two rows, %s", size)
		line.eval("document.getElementById('fold').click()")
		assert.Equal(t, "true", line.eval("document.querySelector('.top').offsetHeight < 70 && document.querySelector('nav').checkVisibility()"), size)
		line.eval("document.getElementById('fold').click()")
	}
	line.resize("station")
	line.eval("document.querySelector('.drop').open = true")
	line.shot("menu-display")
	line.eval("document.querySelector('button[value=dark]').click()")
	line.await("document.documentElement.dataset.theme === 'dark'")
	for _, path := range []string{"/lane/1", "/unit?serial=" + serial, "/jigs/1", "/products/GCC-20", "/nowhere"} {
		line.visit(path)
		line.reachable("dark " + path)
	}
	line.visit("/fails") // an address that is none keeps nothing
	line.eval("document.querySelector('button[value=auto]').click()")
	line.await("document.documentElement.dataset.theme === 'auto'")

	// Help, the field that finds units and a folded menu by keyboard; nothing is wider than its screen.
	line.visit("/fails")
	line.press("?")
	line.await("document.getElementById('help').open")
	assert.Contains(t, line.text("#help"), "Units that failed and that nobody has put away yet")
	line.reachable("help")
	line.shot("help")
	line.press(kb.Escape)
	line.await("!document.getElementById('help').open")
	line.visit("/fails")
	line.press("/")
	line.await("document.activeElement.id === 'find'")
	_, err := b.store.Returns.OpenCase(t.Context(), b.product.Serial.Complete(2), b.product.Code, // one alone is not listed
		returns.Intake{Received: time.Now(), Complaint: "key dead", Conditions: []string{returns.NothingVisible}, By: "Rosa"})
	require.NoError(t, err)
	line.eval("document.activeElement.value = '00000'")
	line.enter()
	line.await("location.pathname === '/find' && document.readyState === 'complete'")
	line.ready()
	assert.Contains(t, line.text("main"), serial)
	line.state("units-found")
	line.scan(b.product.Serial.Complete(9) + "/?") // no scan opens help
	line.await("location.pathname === '/unit'")
	assert.Equal(t, "false", line.eval("document.getElementById('help').open"))
	phone := b.as(account.Engineer, "phone", "/fails")
	for _, path := range []string{"/help", "/door", "/nowhere", "/find?part=0000"} {
		phone.visit(path)
		for _, size := range []string{"small", "phone"} {
			phone.resize(size)
			assert.Equal(t, "0", phone.eval("Math.max(0, document.documentElement.scrollWidth - document.documentElement.clientWidth)"), "%s is wider than the %s", path, size)
		}
		if path == "/help" {
			phone.shot("help-all")
		}
	}
	assert.Equal(t, "none", phone.eval("getComputedStyle(document.querySelector('nav')).display"))
	phone.eval("document.getElementById('fold').click()")
	assert.Equal(t, "block", phone.eval("getComputedStyle(document.querySelector('nav')).display"))
	phone.reachable("an unfolded menu")
	phone.shot("menu")
}
