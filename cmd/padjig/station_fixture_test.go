package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station/reach"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/results/fails"
	"padjig/results/releases/releasestest"
	"padjig/sequence"
)

// putAway does what an operator does before another unit is taken: those that failed on
// the jig go where fails go.
func (b *bed) putAway(jig, next string) {
	b.Helper()
	owed, err := b.store.Fails.On(b.Context(), jig, true)
	require.NoError(b, err)
	for _, o := range owed {
		if o.Serial != next {
			_, err := b.store.Fails.Place(b.Context(), o.Run, fails.Place{}, "Abel")
			require.NoError(b, err)
		}
	}
}

// withPassword opens a page for the engineer, who types name and password.
func (b *bed) withPassword(size, path string) *tab {
	b.Helper()
	return b.passwordOf(account.Engineer, size, path)
}

// passwordOf is a page of somebody who signed in with a password.
func (b *bed) passwordOf(role account.Role, size, path string) *tab {
	b.Helper()
	t := b.look(size, "/door?next="+path)
	t.tabTo("name")
	t.press(names[role])
	t.tabTo("password")
	t.press(engineersPassword)
	t.enter()
	t.await(fmt.Sprintf("location.pathname === %q && document.readyState === 'complete'", path))
	t.ready()
	return t
}

// calibrations gives a jig a history of drifting zeros and verifications.
func (b *bed) calibrations(jig string, months int) {
	for m := range months {
		day := time.Now().AddDate(0, m-months, 20)
		zero := sequence.Calibration{
			Kind: sequence.KindZero, Jig: sequence.JigName{Serial: jig}, Simulated: true, Operator: "Ines", Performed: day,
			Interval: 60 * 24 * time.Hour, Good: true,
		}
		verify := zero
		verify.Kind, verify.Box, verify.BoxSerial, verify.Certificate = sequence.KindVerify, "four resistors", "RB-7", "C-2026-118"
		verify.CertificateDue = day.AddDate(1, 0, 0)
		for c := 1; c <= 10; c++ {
			ohm := 0.02*float64(c) + 0.015*float64(m)*float64(c%3)
			zero.Readings = append(zero.Readings, reading(c, 0, 500, 0, ohm, 0.5))
		}
		for i, ref := range []float64{500, 5000, 50000} {
			certified := ref * 0.9
			verify.Readings = append(verify.Readings, reading(1, 2, ref, certified, certified*(0.0002*float64(m)-0.0004*float64(i)), certified*0.002))
		}
		for _, c := range []sequence.Calibration{zero, verify} {
			_, err := b.store.Care.SaveCalibration(b.Context(), c)
			require.NoError(b, err)
		}
	}
}

func reading(channel, mate int, ref, certified, deviation, limit float64) sequence.CalibrationReading {
	at := func(v float64) fixture.Resistance {
		return fixture.Resistance{Value: quantity.Ohm(v), U: quantity.Ohm(limit / 20)}
	}
	r := sequence.CalibrationReading{
		Channel: channel, Mate: mate, Reference: quantity.Ohm(ref), Measured: at(certified + deviation), Deviation: at(deviation), Limit: quantity.Ohm(limit), Good: true,
	}
	if mate > 0 {
		r.Resistor, r.Certified = "R1", at(certified)
	}
	return r
}

// The fixture engineer sees how a jig stands, records wear, and watches the line.
func TestPagesOfJigs(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{pace: true})
	b.calibrations("SIM-0001", 6)
	b.lanes().Lanes[0].Refresh()
	page := b.withPassword("station", "/jigs")
	assert.Contains(t, page.text("main"), "SIM-0001")
	page.state("jigs")
	page.visit("/jigs/1")
	assert.Equal(t, "4", page.eval("document.querySelectorAll('.drift svg').length"), "drift of channels and of ranges, what a reading is worth, and how far it lies off")
	page.state("jig")
	page.eval("document.getElementById('partlot').value = '7'")
	page.eval("document.querySelector('#wear form button').click()")
	page.await("document.querySelector('#wear table')?.innerText.includes('Ines')")
	page.eval("document.querySelector('form[action$=letgo] button').click()")
	page.await("document.querySelector('form[action$=letgo] button')?.value === 'yes'")
	other, err := reach.Jig(t.Context(), b.jigs[0].port, link.Options{}) // as the terminal does
	require.NoError(t, err)
	require.NoError(t, other.Close())
	page.eval("document.querySelector('form[action$=letgo] button').click()")
	page.await("document.querySelector('form[action$=letgo] button')?.value === ''")
	page.resize("phone")
	page.check("jig, phone")
	page.resize("station")
	page.visit("/jigs/1/traffic")
	lane := b.as(account.Operator, "small", "/lane/1")
	serial := b.product.Serial.Complete(1)
	lane.scan(serial)
	page.await("document.querySelectorAll('.frames p').length > 50")
	lane.shows("pass", serial)
	page.state("traffic")
	assert.Contains(t, page.text(".frames"), "▶")
}

// A product file is edited with its mistakes beside the line, kept as one types, tried,
// released and rolled back; the lane tests what was released, also after a restart with
// another file.
func TestPagesOfProducts(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	original, err := os.ReadFile(b.file)
	require.NoError(t, err)
	b.tested(b.product.Serial.Complete(7))
	page := b.withPassword("station", "/products")
	page.state("products")
	page.visit("/products/GCC-20/edit")
	typed := func(text string) {
		page.eval(fmt.Sprintf("(text => { text.value = %q; text.dispatchEvent(new Event('input')); })(document.getElementById('text'))", text))
	}
	d := strings.NewReplacer("contact resistance: at most 200 ohm", "contact resistance: at most 100 ohm", "revision: C", "revision: D").Replace(string(original))
	wrong := strings.NewReplacer("at most 100 ohm", "at most 100 parsec", "product: GCC-20", "product: GCC-20\nbogus: yes").Replace(d)
	typed(wrong)
	page.await("document.querySelectorAll('.mistakes li').length >= 2")
	assert.Contains(t, page.text(".mistakes"), "Line 4, column 1:")
	assert.Equal(t, "▶4", strings.TrimSpace(page.text(".gutter b")))
	page.await("document.getElementById('kept').textContent.startsWith('Kept')")
	page.eval("document.querySelectorAll('.mistakes a')[1].click()")
	assert.Equal(t, "100", page.eval("text.value.slice(text.selectionStart, text.selectionEnd)"), "a click goes there")
	page.eval("document.dispatchEvent(new KeyboardEvent('keydown', {key: 'F8', bubbles: true}))")
	assert.Equal(t, "bogus:", page.eval("text.value.slice(text.selectionStart, text.selectionEnd)"), "so does the keyboard")
	page.state("product-mistakes")

	// Nothing typed is lost: kept by the station, and in the window what it was not told yet.
	page.visit("/products/GCC-20/edit")
	assert.Equal(t, wrong, page.eval("text.value"))
	page.eval(fmt.Sprintf("sessionStorage.setItem('padjig.draft GCC-20 Ines', %q)", d))
	page.visit("/products/GCC-20/edit")
	page.await("document.getElementById('found').textContent === 'No mistakes.'")
	page.await("document.getElementById('kept').textContent.startsWith('Kept')")
	assert.Equal(t, d, page.eval("text.value"))
	assert.Contains(t, page.text("#beside"), "16 keys: contact resistance at most 200 → 100 ohm")
	page.state("product-changes")
	page.resize("phone")
	page.visit("/products/GCC-20/edit")
	assert.Equal(t, "true", page.eval("String(text.readOnly)"), "a small screen shows it only")
	page.check("product-edit, phone")
	page.resize("station")

	page.visit("/products/GCC-20/try")
	page.state("product-try")
	reason := func(why string) {
		page.eval(fmt.Sprintf("document.getElementById('reason').value = %q", why))
	}
	press := func(selector string) { page.eval(fmt.Sprintf("document.querySelector(%q).click()", selector)) }
	reason("customer wants 100 ohm")
	press("form[action$=release] button")
	page.await("document.querySelector('main').innerText.includes('Revision D is in force')")

	page.visit("/products/GCC-20/edit") // and the label once more, only smaller
	typed(strings.NewReplacer("at most 200 ohm", "at most 150 ohm", "revision: C", "revision: d").Replace(string(original)))
	page.await("document.querySelector('main').innerText.includes('revision label D is known with another definition')")
	assert.Contains(t, page.text("main"), "limits.closed_ohm[2] from 100 to 150")
	page.state("product-label-taken")

	lane := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	b.jigs[0].put("key 7 high 140 ohm") // good enough for C
	lane.scan(serial)
	lane.shows("fail", serial)
	assert.Equal(t, "D", lane.run1(lane.stored()).Revision)

	b.stop() // the file still says C: what was released holds
	b.start()
	lane.await("document.getElementById('gone').hidden && document.body.dataset.live === 'on' && !document.getElementById('jig').classList.contains('gone')")
	assert.Contains(t, lane.text(".serial"), "GCC-20 D")

	page.visit("/products/GCC-20/edit")
	typed(string(original))
	page.await("document.getElementById('kept').textContent.startsWith('Kept') && document.querySelector('main').innerText.includes('100 → 200 ohm')")
	page.visit("/products/GCC-20/try")
	reason("as it was before")
	page.eval(fmt.Sprintf("document.getElementById('from').value = %q", b.product.Serial.Complete(1)))
	press("form[action$=release] button")
	page.await("document.querySelector('main').innerText.includes('Waits for a second person')") // it lets more through
	page.state("product-proposed")
	second := b.passwordOf(account.Quality, "station", "/products/GCC-20")
	second.eval("document.querySelector('form[action$=approve] button').click()")
	second.await("document.querySelector('main').innerText.includes('Revision C is in force')")
	page.visit("/products/GCC-20")
	press("a[href*='try?back=']")
	page.await("document.querySelector('main').innerText.includes('Go back to D now') || document.querySelector('form[action$=release]')")
	page.state("product-back")
	reason("a hundred ohm after all")
	press("form[action$=release] button")
	page.await("document.querySelector('main').innerText.includes('Revision D is in force')")
	page.state("product-released")
	page.resize("phone")
	page.check("product, phone")
	page.resize("station")
	releases, err := b.store.Runs.Releases(context.Background(), "GCC-20")
	require.NoError(t, err)
	var labels []string
	for _, r := range releases {
		labels = append(labels, r.Label)
	}
	assert.Equal(t, "D C D", strings.Join(labels, " "))
	assert.True(t, releases[0].Back)

	// Another station on the same records releases: this one tests nothing older.
	text := strings.Replace(string(original), "revision: C", "revision: E", 1)
	require.NoError(t, releasestest.Release(context.Background(), b.store, text))
	serial = b.product.Serial.Complete(2)
	lane.scan(serial)
	lane.shows("look", serial)
	assert.Contains(t, lane.text("#line"), "revision D is not released; in force is E")
}

// The pages around the lanes, in both languages.
func TestPagesAround(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	door := b.look("station", "/door")
	door.state("door")
	door.resize("phone")
	door.check("door, phone")
	door.scan(account.NewBadge())
	door.await("document.getElementById('said').innerText.includes('belongs to nobody')")

	page := b.as(account.Operator, "station", "/lane/1")
	serial := b.product.Serial.Complete(1)
	b.jigs[0].put("key 7 open; lines C1 C2 leak 2 Mohm")
	page.scan(serial)
	page.shows("fail", serial)
	stored := page.stored()
	page.visit("/tag/" + stored)
	page.state("tag")
	page.visit("/codes")
	page.state("codes")
	page.visit("/nothing/here")
	page.state("error")
	page.visit("/lane/1")
	page.eval("document.querySelector('button[name=language][value=de]').click()")
	page.await("document.documentElement.lang === 'de' && document.readyState === 'complete'")
	page.ready()
	assert.Equal(t, "FEHLER", page.text("#word"))
	for _, size := range []string{"phone", "small", "big", "station"} {
		page.resize(size)
		assert.Less(t, page.lines("#word"), 1.5, "the word is broken on a %s", size)
	}
	page.state("lane-fail-german")
}
