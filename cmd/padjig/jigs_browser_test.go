package main

import (
	"bytes"
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command/simulated"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/webtest"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/results/answers/gauge"
	"padjig/results/care"
	"padjig/results/studies"
	"padjig/sequence"
)

// keepJigs puts so many jigs into the records, with something to do at some of them.
func (b *bed) keepJigs(many int) {
	b.Helper()
	for i := range many {
		jig := sequence.JigName{Serial: fmt.Sprintf("J-%04d", 41+i), Model: "bench-64", Firmware: "2.3.1"}
		for m := range 6 {
			day := time.Now().AddDate(0, 0, 14*(m-5)-i)
			c := sequence.Calibration{Kind: sequence.KindZero, Jig: jig, Operator: "Ines", Performed: day, Interval: 4 * sequence.ZeroInterval, Good: true,
				Readings: []sequence.CalibrationReading{{Channel: 1, Reference: 500, Limit: 2, Good: true}}}
			_, err := b.store.Care.SaveCalibration(b.Context(), c)
			require.NoError(b, err)
			c.Kind, c.Interval, c.Box, c.BoxSerial, c.Certificate = sequence.KindVerify, sequence.VerifyInterval, "RB-1", "RB-1-0007", "DEMO-2026-0418"
			c.CertificateDue = day.AddDate(1, 0, 0)
			r := sequence.CalibrationReading{Channel: 1, Mate: 2, Resistor: "D", Reference: 500, Limit: 0.5, Good: true}
			r.Certified.Value, r.Deviation.Value = 500, quantity.Ohm(0.003*float64(m*i))
			if i%9 == 4 && m == 5 {
				r.Deviation.Value, r.Good, c.Good, c.Reason = -2.6, false, false, "out of tolerance: range 500 ohm by -0.52 %"
			}
			r.Measured.Value = r.Certified.Value + r.Deviation.Value
			c.Readings = []sequence.CalibrationReading{r}
			_, err = b.store.Care.SaveCalibration(b.Context(), c)
			require.NoError(b, err)
		}
		if i%4 == 1 {
			require.NoError(b, b.store.Care.SaveWear(b.Context(), care.WearEvent{Jig: jig.Serial, Part: care.Nest, Warn: 90000, Block: 100000, By: "Ines"}))
		}
	}
}

// Thirty jigs look right at every size; the fixture engineer zeroes, verifies and tests
// reference units on the page, and one who comes back finds the work where it was.
func TestPagesKeepJigs(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{recipe: func(text string) string { return text + webtest.Demanding }, change: func(o *stationOptions) {
		o.Boxes, o.Lock = []string{"../../testdata/boxes/rb-1.yaml"}, 0
	}})
	b.keepJigs(30)
	put := func(what, rest string) { require.NoError(t, b.jigs[0].LayStandard(b.jigs[0].jig, what, rest)) }
	page := b.as(account.Engineer, "station", "/jigs")
	page.everySize("jigs")
	page.visit("/jigs?show=trouble&order=drift")
	assert.Contains(t, page.text("main"), "J-0045")

	page.visit("/jigs/1")
	page.everySize("jig-never")
	b.jigs[0].jig.Lid(true)
	page.visit("/jigs/1/do/zero")
	page.everySize("guide-zero")
	page.begin("/jigs/1/zero")
	page.await("document.querySelector('.guide').innerText.includes('Closing it is the start')")
	page.visit("/jigs/1/do/zero") // the page was lost: it goes on where it was
	assert.Contains(t, page.text(".guide"), "Closing it is the start")
	page.state("guide-zero-lid")
	put(simulated.Plug, "channel 4 adds 0.5 ohm")
	b.jigs[0].jig.Lid(false)
	page.await("document.querySelector('.guide').innerText.includes('is zeroed')")
	page.everySize("guide-zero-done")

	put(simulated.Box, "../../testdata/boxes/rb-1.yaml")
	page.visit("/jigs/1/do/verify")
	page.everySize("guide-verify")
	page.begin("/jigs/1/verify")
	page.await("document.querySelector('.guide').innerText.includes('is verified')")
	page.everySize("guide-verify-done")

	b.jigs[0].put("")
	page.visit("/jigs/1/do/references")
	page.await("document.querySelector('.lid').innerText.includes('The lid is closed')")
	page.everySize("guide-references")
	page.begin("/jigs/1/reference")
	page.await("document.querySelector('.guide').innerText.includes('REF-G shows what it must')")
	page.everySize("guide-references-done")
	assert.Contains(t, page.text("#start"), "REF-B", "the next one is named")
	page.visit("/jigs/1")
	page.everySize("jig-kept")
	page.eval("document.getElementById('measuring').scrollIntoView()")
	page.shot("jig-channels")
	page.focus("#main .sorter") // of the history of calibrations: with the keyboard alone
	for _, order := range []string{"ascending", "descending"} {
		page.enter()
		page.await("document.querySelector('#main th[aria-sort=" + order + "] .sorter') === document.activeElement")
	}
	page.visit("/jig/suspects?serial=J-0045&simulated=false")
	page.everySize("suspects")
}

// A gauge study is measured at its page: the next reading is named, and the lid is shown.
func TestPagesMeasureAStudy(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	study := studies.Study{Across: studies.AcrossOperators, Parts: []string{b.product.Serial.Complete(1), b.product.Serial.Complete(2)},
		Appraisers: []string{"Ines", "Qiu"}, Repeats: 2, By: "Qiu", Seed: 5}
	var err error
	study.Plan, err = gauge.PlanStudy(2, 2, 2, 5)
	require.NoError(t, err)
	_, err = b.store.Studies.PlanStudy(t.Context(), station.RevisionOf(b.product), study)
	require.NoError(t, err)
	page := b.as(account.Engineer, "station", "/jigs/1/study/1")
	page.await("document.querySelector('#start')")
	page.everySize("guide-study")
	page.begin("/jigs/1/study/1")
	page.await("document.querySelectorAll('.guidelist li.done').length === 1 && document.querySelector('#start')")
	page.everySize("guide-study-one")
}

// begin sends the form of a guide, and waits until the page has come again.
func (t *tab) begin(action string) {
	t.Helper()
	t.eval("globalThis.before = true")
	t.submit(fmt.Sprintf("form[action='%s']", action))
	t.await("!globalThis.before && document.readyState === 'complete'")
	t.ready()
}

// everySize looks at a page at every size: nothing sticks out at the side.
func (t *tab) everySize(name string) {
	t.Helper()
	for _, size := range []string{"phone", "small", "station"} {
		t.resize(size)
		assert.Equal(t, "0", t.wider(), "%s is wider than the %s", name, size)
	}
	t.state(name)
}

// Paused, nothing moves; what is saved is a recording that the terminal reads again.
func TestPagesTraffic(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	page := b.as(account.Engineer, "station", "/jigs/1/traffic")
	page.eval("URL.createObjectURL = blob => (globalThis.saved = blob, '#')")
	b.lanes().Lanes[0].Scan(station.Scan{Serial: b.product.Serial.Complete(1), Operator: "Abel"})
	page.await("document.querySelectorAll('.frames p').length > 20")
	page.eval("document.getElementById('pause').click()")
	before := page.eval("document.querySelector('.frames').innerHTML.length + ' ' + document.querySelector('.frames').scrollTop")
	b.lanes().Lanes[0].Scan(station.Scan{Serial: b.product.Serial.Complete(2), Operator: "Abel"})
	page.await("/Held still; came since: [1-9]/.test(document.getElementById('frames-said').textContent)")
	assert.Equal(t, before, page.eval("document.querySelector('.frames').innerHTML.length + ' ' + document.querySelector('.frames').scrollTop"))
	page.everySize("traffic-paused")
	page.eval("document.getElementById('type').value = 'routine', document.getElementById('type').dispatchEvent(new Event('input', {bubbles: true}))")
	assert.Equal(t, "routine", page.eval("[...new Set([...document.querySelectorAll('.frames p:not([hidden])')].map(p => p.dataset.type))].join()"))
	page.eval("document.getElementById('save').click()")
	page.eval("saved.text().then(text => globalThis.text = text)")
	page.await("globalThis.text")
	text := page.eval("text")
	assert.True(t, link.IsRecording(bytes.NewReader([]byte(text))), "%.300s", text)
	path := b.dir + "/traffic.txt"
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	var out bytes.Buffer
	cmd := newRoot()
	cmd.SetArgs([]string{"jig", "talk", "--recording", path})
	cmd.SetOut(&out)
	require.NoError(t, cmd.ExecuteContext(t.Context()))
	assert.Contains(t, out.String(), "results")
}
