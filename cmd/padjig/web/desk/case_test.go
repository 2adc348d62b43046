package desk_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/report/returned"
	"padjig/results/runs"
	"padjig/sequence"
)

// states are those of the steps of a case, in their order.
func states(v lifeSays) (all []string) {
	for _, s := range v.Steps {
		all = append(all, s.State)
	}
	return all
}

// The steps along the top say what is done, what is next and what is not made; the step that is next
// is the one the terminal says.
func TestTheStepsOfACase(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		said := func() lifeSays {
			v := lifeOf(h, serial)
			c, err := h.Store.Returns.CaseOf(h.Context(), serial)
			require.NoError(h, err)
			life, err := returned.Of(h.Context(), h.Store, c)
			require.NoError(h, err)
			assert.Equal(h, life.Next().Say, v.Next, "as padjig returns show says it")
			assert.LessOrEqual(h, strings.Count(h.Page("returns", desk.UnitAddress(serial)), `<button class="button">`), 1, "one thing to do")
			return v
		}
		h.Post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "dirty")
		assert.Equal(h, []string{"done", "now", "later", "later", "later", "later", "later"}, states(said()))
		c, err := h.Store.Returns.CaseOf(h.Context(), serial)
		require.NoError(h, err)
		h.Post("returns", "/returns/nophoto", "case", fmt.Sprint(c.Number), "reason", "the camera is broken")
		assert.Equal(h, []string{"done", "done", "now", "later", "later", "later", "later"}, states(said()))
		h.Stage(c, sequence.FirstPress)
		assert.Equal(h, []string{"done", "done", "done", "now", "later", "later", "later"}, states(said()))
		h.Stage(c, sequence.ReturnTest)
		v := said()
		assert.Equal(h, []string{"done", "done", "done", "done", "now", "later", "later"}, states(v))
		assert.Equal(h, "exercise", v.Stage.Purpose)
		assert.Equal(h, "nothing found", v.Steps[3].Says)

		h.Post("returns", "/returns/rework", "serial", serial, "did", "dried")
		v = said()
		assert.Equal(h, []string{"done", "done", "done", "now", "free", "later", "later"}, states(v), "what was reworked is tested again")
		code, _ := h.Stage(c, sequence.ReturnTest)
		assert.Equal(h, 200, code)
		assert.Equal(h, "exercise", said().Stage.Purpose)

		h.Post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "burnt")
		v = said()
		assert.Equal(h, []string{"done", "done", "done", "done", "refused", "refused", "now"}, states(v))
		assert.Equal(h, "visible damage (burnt) ended electrical testing of case 1", v.Steps[4].Says)
		h.Lang = "de"
		assert.Contains(h, h.Page("returns", desk.UnitAddress(serial)), "sichtbarer Schaden (verbrannt) hat das elektrische Prüfen von Fall 1 beendet")
	})
}

// A stage is made, followed and stopped on the page of the unit, and then the jig is given back; a
// lane that cannot be had says why.
func TestAJigIsTakenFromTheCase(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		serial, other := h.Unit(1), h.Unit(2)
		h.Came(serial)
		h.Post("operator", "/scan", "text", other, "lane", "2")
		h.Until(2, func(s station.State) bool { return s.Phase == station.Running })
		v := lifeOf(h, serial)
		require.Len(h, v.Stage.Jigs, 2)
		assert.Empty(h, v.Stage.Jigs[0].Refused)
		assert.Equal(h, "not free, "+other+" is in hand", v.Stage.Jigs[1].Refused)

		begin := func() {
			status, said := h.Post("returns", "/returns/stage", "case", "1", "lane", "1", "purpose", "first press")
			require.Equal(h, 200, status, said.Say)
		}
		begin()
		h.Until(1, func(s station.State) bool { return s.Phase == station.Running && s.Done > 2 })
		watch := h.Listen("returns", "/returns/case/1/live")
		assert.Contains(h, watch.Event("lane"), "it is being tested")
		assert.Contains(h, watch.Event("progress"), `"count":"`)
		status, said := h.Post("operator", "/scan", "text", h.Unit(3), "lane", "1")
		assert.Equal(h, 409, status, "the desk has the lane: %s", said.Say)
		status, _ = h.Post("operator", "/returns/stop", "case", "1")
		assert.Equal(h, 403, status)
		h.Post("returns", "/returns/stop", "case", "1")
		assert.Contains(h, watch.Event("fresh"), "/unit?serial=")
		h.Until(1, func(s station.State) bool { return s.Phase == station.Ready })
		v = lifeOf(h, serial)
		assert.Equal(h, "now", v.Steps[2].State, "what was stopped does not count")
		assert.Equal(h, "the last try does not count: aborted", v.Steps[2].Note)
		status, said = h.Post("operator", "/scan", "text", h.Unit(3), "lane", "1")
		assert.Equal(h, 200, status, "the jig is given back: %s", said.Say)
		h.Settled(h.Unit(3))

		begin() // and the browser goes: the stage is made all the same
		watch = h.Listen("returns", "/returns/case/1/live")
		watch.Event("lane")
		watch.Leave()
		h.Settled(serial)
		v = lifeOf(h, serial)
		assert.Equal(h, "done", v.Steps[2].State)
		require.NotNil(h, v.InJig)
		assert.Contains(h, v.InJig.Say, "still shows what came of it")
		h.Post("returns", "/returns/giveback", "case", "1")
		assert.Equal(h, station.Ready, h.Lanes[0].State().Phase)
	})
}

// A stage that a program began and never finished, since it was killed, stands on the page as that and
// is to be made again.
func TestAStageThatWasNeverFinished(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		c := h.Came(serial)
		begun, err := h.Store.Runs.Begin(h.Context(), station.RevisionOf(h.Product), runs.Start{
			Serial: serial, Purpose: sequence.FirstPress, Case: c.ID.String(), Jig: sequence.JigName{Serial: "SIM-0001"}, Simulated: true,
			Actuation: sequence.Mechanical, Operator: "Rosa", Started: time.Now(),
		}, func(runs.History) error { return nil })
		require.NoError(h, err)
		v := lifeOf(h, serial)
		assert.Empty(h, v.Steps[2].Note, "it goes on")
		assert.Equal(h, "It is being tested now, on jig SIM-0001 by Rosa, not at this station.", v.InJig.Say)
		assert.Nil(h, v.Stage)
		begun.LetGo() // as the end of a process does
		v = lifeOf(h, serial)
		assert.Equal(h, "now", v.Steps[2].State)
		assert.Equal(h, "begun and not finished: once; what was read then is not known", v.Steps[2].Note)
		require.NotNil(h, v.Stage)
		assert.Equal(h, "first press", v.Stage.Purpose)
	})
}

// The table of keys marks the worst reading of each key that was found at fault, and is sorted by the
// address.
func TestTheKeysOfACaseAreSorted(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		h.Test(serial)
		h.Put("key 7 filmed 2 kohm for 1 presses")
		c := h.Came(serial)
		h.Stage(c, sequence.FirstPress)
		h.Stage(c, sequence.ReturnTest)
		first := func(sort string) string {
			page := h.Page("returns", desk.UnitAddress(serial)+"&sort="+sort)
			_, body, _ := strings.Cut(page, `class="scroll keytable"`)
			_, body, _ = strings.Cut(body, "<tbody><tr><td")
			cell, _, _ := strings.Cut(body[strings.Index(body, ">")+1:], "</td>")
			return cell
		}
		assert.Equal(h, "1", first("nonsense"), "as on the pad")
		assert.Equal(h, "7", first("-first_press_ohm"))
		assert.NotEqual(h, "7", first("first_press_ohm"))
		page := h.Page("returns", desk.UnitAddress(serial)+"&sort=-first_press_ohm")
		assert.Contains(h, page, `aria-sort="descending"`)
		assert.Regexp(h, `<td class="num marked">2[,.]?0\d\d`, page, "the film of the first press is the worst, and stays")
		assert.Contains(h, page, "Went away:")
	})
}

// What a form of the desk lacks is said at its field: of a rework, and of an end that the records speak against.
func TestMistakesOfTheDeskStandAtTheirFields(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		h.Came(serial)
		page := h.Page("returns", desk.UnitAddress(serial))
		for field, form := range map[string][]string{
			"note": {"did", "other"}, "at": {"did", "contact cleaned"}, "lot": {"did", "dome replaced", "at", "key 7"},
		} {
			w := h.Send("returns", "/returns/rework", "application/json", append(form, "serial", serial)...)
			assert.Equal(h, 422, w.Code)
			assert.Contains(h, w.Body.String(), `"field": "`+field+`"`)
			assert.Regexp(h, `(select|input) id="did[a-z]+" name="`+field+`"`, page, "the form has it")
		}
		assert.Contains(h, page, `<option value="key MIST">key MIST</option>`, "places are those of the product")
		h.Lang = "de"
		w := h.Send("returns", "/returns/rework", "application/json", "serial", serial, "did", "dome replaced", "at", "key 7")
		assert.Contains(h, w.Body.String(), "„Schnappscheibe ersetzt“ setzt ein Teil ein (Schnappscheibe): sein Los nennen")
		h.Lang = "en"
		w = h.Send("returns", "/returns/dispose", "application/json", "case", "1", "code", "not reproduced", "disposal", "scrapped")
		assert.Equal(h, 422, w.Code)
		for _, code := range []string{"no exercise", "good unit scrapped"} {
			assert.Contains(h, w.Body.String(), `"field": "answer `+code+`"`)
			assert.Contains(h, page, `name="answer `+code+`"`, "the form has it")
		}
	})
}

// Nothing of a case is English on a German page but what people wrote.
func TestACaseInGerman(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		h.Test(serial)
		h.Post("returns", "/returns/rework", "serial", serial, "did", "dome replaced", "at", "key 7", "lot", "D-17", "note", "with care")
		h.Put("key 7 high 640 ohm")
		c := h.Came(serial)
		h.Stage(c, sequence.FirstPress)
		h.Stage(c, sequence.ReturnTest)
		diagnosed(h, c)
		h.Lang = "de"
		page := h.Page("returns", desk.UnitAddress(serial))
		for _, says := range []string{
			"Schnappscheibe ersetzt, Taste 7, Schnappscheibe aus Los D-17 (with care), von returns",
			"bestanden auf Vorrichtung SIM-0001, Versuch 1",
			"eine Taste tot, aufgenommen von Rosa",
			"Kontakt verschmutzt", "Taste 7 (R3-C1)",
			"ging mit Lauf 1, ", "ein Fehler wurde gefunden, zuerst durch: erster Druck",
			"Als Nächstes:</span> entscheiden, was daraus wird",
		} {
			assert.Contains(h, page, says)
		}
		_, main, _ := strings.Cut(page, "<main")
		for _, english := range []string{"tested", "on jig", "taken in by", "came back", "contact dirty", "clean the contact", "closed with", "left with run", `lang="en"`} {
			assert.NotContains(h, strings.ReplaceAll(main, `value="contact`, ""), english)
		}
	})
}

// A mistake at a field that is folded away is shown, without a script too.
func TestAMistakeThatIsFoldedAwayIsShown(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		h.Came(serial)
		form := url.Values{"token": {door.FormToken("token of returns")}, "case": {"1"}, "code": {"not reproduced"}, "disposal": {"scrapped"}, "reason": {"it works"}}
		w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Method: http.MethodPost, Path: "/returns/dispose", Role: "returns", Form: form, Header: map[string]string{
			"Referer": "http://" + webtest.OurHost + desk.UnitAddress(serial), "Accept": "text/html"}})
		assert.Equal(h, 422, w.Code)
		page := w.Body.String()
		assert.Contains(h, page, `class="against" open`)
		assert.Contains(h, page, "there was no exercise, and many a fault shows only there. Say why all the same.")
		assert.Contains(h, page, `value="it works"`, "what was typed stays")
	})
}
