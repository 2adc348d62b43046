package main

import (
	"fmt"
	"testing"

	"padjig/cmd/padjig/account"
)

// What opens over a page keeps nobody from using it, light and dark, on a laptop and in the
// hand: help, the choice of how pages look, the menu, a search and what it found, another
// product, and a form that was refused.
func TestPagesOpened(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	b.tested(b.product.Serial.Complete(1))
	page := b.as(account.Engineer, "laptop", "/lane/1")
	for _, opened := range []struct{ name, path, open, is string }{
		{"help", "/lane/1", "document.getElementById('help').showModal()", "document.getElementById('help').open"},
		{"look", "/lane/1", "document.querySelector('.drop > summary').click()", "document.querySelector('.dropped').checkVisibility()"},
		{"menu", "/fails", "document.getElementById('fold').click()", "document.querySelector('.top nav').checkVisibility()"},
		{"search", "/find?part=0000", "document.getElementById('find').focus()", "document.querySelector('main a')"},
		{"refused", "/shifts", "document.querySelector('form[action=\"/shifts\"] button').click()", "document.querySelector('.mistake')"},
	} {
		page.visit(opened.path)
		page.eval(opened.open)
		page.await(opened.is)
		for _, size := range []string{"laptop", "phone"} {
			page.resize(size)
			for _, theme := range pictureThemes {
				page.themed(theme)
				page.check(fmt.Sprintf("%s, %s, %s", opened.name, size, theme))
			}
		}
		page.resize("laptop")
		page.themed("")
	}
}
