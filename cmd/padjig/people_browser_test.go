package main

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/account"
)

// Lots are scanned into their field at the line, the plan and the accounts are set, and
// what is refused stands at its field; all of it on a phone too.
func TestPagesOfPeople(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	page := b.withPassword("station", "/lots")
	page.eval("document.getElementById('dome-1').focus()")
	page.scan("D-2612")
	page.await("document.querySelector('tbody')?.innerText.includes('D-2612')")
	page.state("lots")
	page.visit("/shifts")
	page.eval("(() => { document.getElementById('name-0').value = 'early'; document.getElementById('begins-0').value = '06:00'; document.querySelector('form[action=\"/shifts\"] button').click(); })()")
	page.await("document.querySelectorAll('.mistake').length >= 2")
	assert.Contains(t, page.text("main"), "is no time of day")
	page.state("shifts-refused")
	page.eval("(() => { document.getElementById('zone').value = 'Europe/Vienna'; document.getElementById('ends-0').value = '14:00'; document.getElementById('reason').value = 'one shift a day'; document.querySelector('form[action=\"/shifts\"] button').click(); })()")
	page.await("document.querySelector('main').innerText.includes('one shift a day')")
	page.state("shifts")
	page.visit("/accounts")
	page.state("accounts")
	page.eval("document.querySelector('form[action$=badge] button').click()")
	page.await("document.querySelector('.sheet svg') !== null")
	page.state("badge")
	page.resize("phone")
	for _, path := range []string{"lots", "shifts", "accounts"} {
		page.visit("/" + path)
		page.check(path + ", phone")
	}
	returns := b.as(account.Returns, "station", "/lots") // Abel has no badge any more
	assert.NotContains(t, returns.text("main"), "Shift plan")
}
