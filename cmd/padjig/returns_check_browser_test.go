package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
)

// staged brings a unit with a fault through the first press and the return test
// of its case, and shows its page.
func (t *tab) staged(serial, fault string) {
	t.Helper()
	t.bed.jigs[0].put(fault)
	t.visit("/unit?serial=" + serial)
	t.choose("complaint", "key dead")
	t.eval("document.querySelector('[name=condition]').checked = true")
	t.submit("form[action='/returns/intake']")
	t.await("document.querySelector('main').innerText.includes('Case 1')")
	t.eval("document.getElementById('nophoto').value = 'the camera is broken'")
	t.submit("form[action='/returns/nophoto']")
	t.await("document.querySelector('main').innerText.includes('There is no photo')")
	for _, purpose := range []string{"first press", "return test"} {
		t.await("document.querySelector('.takes input[name=purpose]')?.value === '" + purpose + "'")
		t.submit("form[action='/returns/stage']")
	}
	t.await("document.querySelectorAll('.way .done').length === 5")
	t.visit("/unit?serial=" + serial)
}

// The check that would tell most is a button at the diagnosis: the jig does it,
// and the page shows what that changes. Nothing is stored, and nothing
// moves while the lid is open.
func TestReturnsNextCheck(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	serial := b.product.Serial.Complete(1)
	desk := b.as(account.Returns, "laptop", "/returns")
	desk.staged(serial, "key 7 high 640 ohm")
	runs, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	desk.reachable("a check for the jig")
	stood := b.lanes().Lanes[0].State().Phase
	desk.submit("form[action='/returns/check']")
	desk.await("document.getElementById('came')")
	desk.reachable("what came of a check")
	desk.shot("case-next-check")
	assert.Contains(t, desk.text("#came"), "7")
	assert.Contains(t, desk.text("main"), "Nothing of this is stored")
	was, is := desk.eval("document.querySelector('#shifts tbody td:nth-child(2)').textContent"), desk.eval("document.querySelector('#shifts tbody td:nth-child(3)').textContent")
	assert.NotEqual(t, was, is, "the check moved the likeliest cause")
	again, err := b.store.Runs.Unit(t.Context(), serial)
	require.NoError(t, err)
	assert.Len(t, again, len(runs), "no run of it")
	assert.Equal(t, stood, b.lanes().Lanes[0].State().Phase, "it stands as it stood")

	desk.visit("/returns/check?case=1")
	desk.reachable("a check before it is done")
	b.jigs[0].put("jig opens interlock")
	desk.submit("form[action='/returns/check']")
	desk.await("document.querySelector('main').innerText.includes('The lid is open. Close it')")
}
