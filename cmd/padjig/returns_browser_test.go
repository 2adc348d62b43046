package main

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image"
	"image/png"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results/returns"
)

// A unit leaves the line, comes back with a dead key, and goes through its case
// on the pages: looked up, taken in, photographed, pressed gently, tested,
// explained, decided, printed.
func TestReturnsOnThePages(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	serial := b.product.Serial.Complete(1)
	line := b.as(account.Operator, "station", "/lane/1")
	line.scan(serial)
	line.shows("pass", serial)
	line.visit("/tag/" + line.eval("document.getElementById('state').dataset.stored")) // nobody watches the lane any more

	desk := b.as(account.Returns, "laptop", "/returns")
	desk.reachable("no case")
	desk.shot("returns-empty")
	desk.scan(serial)
	desk.await("location.pathname === '/unit'")
	desk.ready()
	desk.reachable("a unit without a case")
	desk.shot("unit")
	assert.Contains(t, desk.text("main"), "passed")
	desk.choose("complaint", "key dead")
	desk.eval("document.querySelector('[name=condition]').checked = true")
	desk.submit("form[action='/returns/intake']")
	desk.await("document.querySelector('main').innerText.includes('Case 1')")
	desk.ready()
	desk.reachable("a case that has begun")
	desk.shot("case-begun")
	desk.photo("dirty tail")
	desk.await("document.querySelector('.photos img')?.naturalWidth > 0")

	b.jigs[0].put("key 7 open")
	for i, purpose := range []string{"first press", "return test"} {
		assert.Equal(t, purpose, desk.eval("document.querySelector('input[name=purpose]').value"))
		desk.submit("form[action='/returns/stage']")
		desk.await(fmt.Sprintf("document.querySelectorAll('.way .done').length === %d", 4+i)) // what it found is explained at once
		assert.Equal(t, "/unit", desk.eval("location.pathname"), "nobody is sent to a lane")
		desk.ready()
		c, err := b.store.Returns.CaseOf(t.Context(), serial)
		require.NoError(t, err)
		assert.Len(t, c.Stages, i+1)
	}
	desk.reachable("a case with its findings")
	desk.shot("case-explained")
	main := desk.text("main")
	for _, says := range []string{"What may have happened", "a key dead", "SIMULATED", "decide what becomes of it"} {
		assert.Contains(t, main, says)
	}
	assert.Contains(t, desk.eval("document.querySelector('.c-pad').textContent"), "› –", "a key that never closed has no reading")

	desk.choose("code", "not reproduced")
	desk.choose("disposal", "scrapped")
	desk.submit("form[action='/returns/dispose']")
	desk.await("document.querySelector('main').innerText.includes('found a fault')")
	desk.visit("/unit?serial=" + serial)
	desk.submit("form[action='/returns/dispose']")
	assert.Contains(t, desk.text("main"), "Close the case", "nothing is chosen, so nothing is sent")
	desk.choose("code", "confirmed")
	desk.choose("disposal", "scrapped")
	desk.submit("form[action='/returns/dispose']")
	desk.await("document.querySelector('.about')?.innerText.includes('Confirmed')")
	desk.ready()
	desk.shot("case-closed")
	c, err := b.store.Returns.CaseOf(t.Context(), serial)
	require.NoError(t, err)
	assert.Equal(t, returns.Confirmed, c.Disposition().Code)
	assert.Equal(t, "Rosa", c.Disposition().By)
	assert.NotEmpty(t, c.Diagnoses)

	_, err = chromedp.Run(desk.ctx, chromedp.Navigate(b.address+"returns/report/1"))
	require.NoError(t, err)
	desk.await("document.querySelector('.sheet') && getComputedStyle(document.querySelector('.sheet')).display !== 'inline'")
	assert.Contains(t, desk.text("body"), serial)
	desk.shot("report")
	assert.Equal(t, "0", desk.eval("[...document.images].filter(i => !i.naturalWidth).length"), "the photos are there")
}

// choose chooses something of a list that has nothing chosen.
func (t *tab) choose(list, value string) {
	t.Helper()
	t.await("document.getElementById('" + list + "')")
	assert.Empty(t, t.eval("document.getElementById('"+list+"').value"), list)
	t.eval("document.getElementById('" + list + "').value = '" + value + "'")
}

// submit sends a form as its button does.
func (t *tab) submit(selector string) {
	t.Helper()
	t.await("document.readyState === 'complete' && document.querySelector(\"" + selector + " button\")")
	t.eval("document.querySelector(\"" + selector + " button\").focus()")
	t.enter()
}

// photo puts a picture of one colour into the form and sends it.
func (t *tab) photo(note string) {
	t.Helper()
	var picture bytes.Buffer
	require.NoError(t, png.Encode(&picture, image.NewRGBA(image.Rect(0, 0, 40, 30))))
	t.eval(fmt.Sprintf(`(() => {
		const bytes = Uint8Array.from(atob(%q), c => c.charCodeAt(0));
		const list = new DataTransfer();
		list.items.add(new File([bytes], 'tail.png', {type: 'image/png'}));
		document.getElementById('photo').files = list.files;
		document.getElementById('photonote').value = %q;
	})()`, base64.StdEncoding.EncodeToString(picture.Bytes()), note))
	t.submit("form[action='/returns/photo']")
}

// The fullest case there is shows everything and cuts nothing off.
func TestReturnsFullCase(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	c := crowded(t, b.store, b.product)
	desk := b.as(account.Returns, "laptop", "/returns")
	desk.reachable("a case in the list")
	for _, size := range []string{"laptop", "big", "small", "phone"} {
		desk.resize(size)
		for name, path := range map[string]string{"full": "/unit?serial=" + c.Serial, "list": "/returns?older=14", "found": "/returns?customer=valley&sort=-received",
			"ohms": "/returns/ohms", "keys": "/unit?serial=" + c.Serial + "&sort=-change_ohm#keys"} {
			desk.visit(path)
			desk.reachable(name + ", " + size)
			assert.Equal(t, "0", desk.eval("Math.max(0, document.documentElement.scrollWidth - document.documentElement.clientWidth)"), "%s, %s", name, size)
			if size == "laptop" {
				desk.shot("case-" + name)
			}
		}
	}
}
