package main

import (
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

// laneSays is what a lane's page says, as JSON.
type laneSays struct {
	Signal, Phase, Word, Line, Next, Note string
	Step, Count, Left, Prompt             string
	Findings                              []struct{ What, Value string }
}

func (c *crawler) lane() (says laneSays) {
	c.Helper()
	w := c.askAs("GET", "/lane/1", "application/json")
	require.Equal(c, 200, w.Code, w.Body)
	require.NoError(c, json.Unmarshal(w.Body.Bytes(), &says))
	return says
}

// somebody is a person at a bed, without a browser.
func (b *bed) somebody(role account.Role, lang string) *crawler {
	c := &crawler{TB: b.TB, bed: b, role: role, lang: lang}
	c.begin()
	return c
}

// A unit scanned, or under test, while the jig may not move: the page says why
// and what to do, in either language.
func TestLaneSaysWhyNothingMoves(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	lane := b.lanes().Lanes[0]
	english, german := b.somebody(account.Operator, "en"), b.somebody(account.Operator, "de")
	b.until(0, func(s station.State) bool { return s.Jig.Present })
	for n, c := range []struct {
		name, fault    string
		phase          station.Phase
		word           string
		line, next     string // English
		zeile, naechst string // German
	}{
		{"lid open when scanned", "jig opens interlock", station.Lid, "CLOSE LID",
			"The lid is open", "Take your hands out and close the lid. Then press start.",
			"Der Deckel ist offen", "Hände heraus, Deckel schließen"},
		{"emergency stop pressed when scanned", "jig emergency", station.Refused, "NOT TESTED",
			"The emergency stop is pressed: nothing moves", "release the emergency stop, then scan again",
			"Der Not-Halt ist gedrückt", "Not-Halt lösen"},
		{"lid opened during the test", "jig opens interlock for 200 ms at key 5", station.Ended, "STOPPED",
			"The lid was opened during the test", "Close the lid, then scan again. No attempt was used up",
			"Der Deckel wurde während der Prüfung geöffnet", "Deckel schließen"},
		{"emergency stop pressed during the test", "jig emergency for 200 ms at key 5", station.Ended, "STOPPED",
			"The emergency stop was pressed during the test", "release the emergency stop, then scan again. No attempt was used up",
			"Der Not-Halt wurde während der Prüfung gedrückt", "Not-Halt lösen"},
	} {
		t.Run(c.name, func(t *testing.T) {
			serial := b.product.Serial.Complete(n + 1)
			b.jigs[0].put(c.fault)
			lane.Scan(station.Scan{Serial: serial, Operator: "Abel"})
			b.until(0, func(s station.State) bool {
				return s.Unit.Serial == serial && s.Phase != station.Running && s.Phase != station.Storing
			})
			says, sagt := english.lane(), german.lane()
			assert.Equal(t, string(c.phase), says.Phase)
			assert.Equal(t, c.word, says.Word)
			assert.Equal(t, "look", says.Signal)
			assert.Contains(t, says.Line, c.line)
			assert.Contains(t, says.Next, c.next)
			assert.Contains(t, sagt.Line, c.zeile)
			assert.Contains(t, sagt.Next, c.naechst)
			assert.Empty(t, sagt.Note, "nothing in another language")
			lane.Stop()
			b.until(0, func(s station.State) bool { return !s.Phase.Busy() })
			b.jigs[0].put("") // the lid closed, the emergency stop released
		})
	}
	runs, err := b.store.Runs.Unit(t.Context(), b.product.Serial.Complete(2))
	require.NoError(t, err)
	assert.Empty(t, runs, "releasing the emergency stop started the unit that was scanned before")
}

// An exercise on a lane says in words what it does, how far it is and how long
// it takes; stopped, it does not say that nothing was found; and while it runs or
// is done it is not offered again.
func TestExerciseOnALane(t *testing.T) {
	b := makeBed(t, bedding{jigs: 2, pace: true})
	desk, german := b.somebody(account.Returns, "en"), b.somebody(account.Returns, "de")
	serial := b.product.Serial.Complete(1)
	c := b.returned(serial)
	lane := b.lanes().Lanes[0]
	for n := range 2 {
		b.until(n, func(s station.State) bool { return s.Jig.Present })
	}
	stage := func(p sequence.Purpose, e sequence.Exercising, until func(station.State) bool) {
		t.Helper()
		lane.Clear()
		now, err := b.store.Returns.Case(t.Context(), c.Number)
		require.NoError(t, err)
		r := &station.Return{Case: now, Purpose: p, Exercising: e}
		lane.Scan(station.Scan{Serial: serial, Operator: "Rosa", Return: r})
		b.until(0, until)
	}
	ended := func(s station.State) bool { return !s.Phase.Busy() }
	stage(sequence.FirstPress, sequence.Exercising{}, ended)
	stage(sequence.ReturnTest, sequence.Exercising{}, ended)
	require.Equal(t, station.Ended, lane.State().Phase)
	unit := "/unit?serial=" + serial
	offer := "Press each key 300 times and hold it"
	page := desk.page(unit)
	assert.Contains(t, page, offer)
	token := desk.formToken(page)
	again := url.Values{"token": {token}, "case": {fmt.Sprint(c.Number)}, "purpose": {"exercise"}}

	stage(sequence.Exercise, sequence.Exercising{Presses: 300, Hold: 2 * time.Second}, func(s station.State) bool { return s.Left > 0 })
	says, sagt := desk.lane(), german.lane()
	assert.Equal(t, "each key pressed many times", says.Step)
	assert.NotContains(t, sagt.Step, "⟦")
	assert.Equal(t, "0 of 20", says.Count)
	assert.Regexp(t, `^about \d+ min left$`, says.Left)
	page = desk.page(unit)
	assert.NotContains(t, page, offer, "it runs")
	assert.Contains(t, page, "Lane 1, jig SIM-0001: it is being tested")
	again.Set("lane", "2")
	code, answer := desk.post("/returns/stage", again)
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Contains(t, answer["say"], "on lane 1")
	assert.Empty(t, b.lanes().Lanes[1].State().Unit.Serial)

	lane.Stop()
	b.until(0, ended)
	says = desk.lane()
	assert.Equal(t, "STOPPED", says.Word)
	assert.Equal(t, "look", says.Signal)
	assert.NotContains(t, says.Line, "findings")
	assert.Contains(t, says.Line, "exercise")
	assert.Contains(t, says.Line, "does not count")
	assert.Contains(t, says.Next, "Make it again")
	assert.Contains(t, desk.page(unit), offer, "a stage that was stopped is still to be made")

	stage(sequence.Exercise, sequence.Exercising{Keys: []int{0}, Presses: 30}, ended)
	says = desk.lane()
	assert.Equal(t, "STORED", says.Word)
	assert.Contains(t, says.Line, "nothing found")
	assert.Contains(t, says.Line, "Not complete: only these keys were exercised: 1.")
	assert.NotContains(t, desk.page(unit), offer, "it is done")
	code, answer = desk.post("/returns/stage", again) // from a page that was loaded before
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Contains(t, answer["say"], "was made already")
	assert.Empty(t, b.lanes().Lanes[1].State().Unit.Serial)
}

// page is a page as HTML.
func (c *crawler) page(address string) string {
	c.Helper()
	w := c.ask("GET", address)
	require.Equal(c, http.StatusOK, w.Code, w.Body)
	return html.UnescapeString(w.Body.String())
}

// figures of a lane's shift.
type shiftSays struct {
	Tally struct {
		Units, First, Retest, Failed, Open int
		FirstPass                          string `json:"first_pass"`
		Takt, Counts                       string
	}
}

func (c *crawler) shift() (says shiftSays) {
	c.Helper()
	w := c.askAs("GET", "/lane/1", "application/json")
	require.NoError(c, json.Unmarshal(w.Body.Bytes(), &says))
	return says
}

// The shift at a lane counts production units, each once; its figures add up, and
// they are the same after the station was started again.
func TestShiftTallyAddsUpAndSurvivesARestart(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{
		change: func(o *stationOptions) {
			o.Twice, o.Shifts = time.Nanosecond, []string{time.Now().Add(-time.Hour).Format("15:04")} // no shift ends meanwhile
		},
		recipe: func(text string) string {
			return text + "\nreferences:\n  every: 24 h\n  within: 20 %\n  good: REF-G\n"
		},
	})
	operator := b.somebody(account.Operator, "en")
	lane := func() *station.Lane { return b.lanes().Lanes[0] }
	b.until(0, func(s station.State) bool { return s.Jig.Present })
	test := func(serial, fault string) {
		t.Helper()
		b.putAway("SIM-0001", serial)
		b.jigs[0].put(fault)
		before := lane().State().Verdict
		lane().Scan(station.Scan{Serial: serial, Operator: "Abel"})
		s := b.until(0, func(s station.State) bool {
			return !s.Phase.Busy() && (s.Phase == station.Refused || s.Verdict != nil && (before == nil || s.Verdict.ID != before.ID))
		})
		require.Equal(t, station.Ended, s.Phase, "%s: %+v", serial, s.Refusal)
	}
	serial := b.product.Serial.Complete
	test("REF-G", "") // a reference unit is no production
	for n := 1; n <= 3; n++ {
		test(serial(n), "")
	}
	test(serial(4), "key 7 open") // fails, then passes
	test(serial(4), "")
	test(serial(5), "key 8 open") // fails and stays so, elsewhere: a third one alike would stop the line
	test(serial(5), "key 8 open")
	test(serial(6), "key 7 open")                              // fails once, a retest is left
	test(serial(7), "tail reversed")                           // is not judged
	test(serial(8), "tail reversed")                           // is judged at the second try
	test(serial(8), "")                                        //
	test(serial(9), "jig opens interlock for 200 ms at key 5") // is stopped
	b.study(t)                                                 // eight runs of a gauge study
	c := b.returned(serial(1))
	b.jigs[0].put("key 7 open")
	lane().Scan(station.Scan{Serial: serial(1), Operator: "Rosa", Return: &station.Return{Case: c, Purpose: sequence.FirstPress}})
	b.until(0, func(s station.State) bool {
		return !s.Phase.Busy() && s.Verdict != nil && s.Verdict.Purpose == sequence.FirstPress
	})

	live := operator.shift()
	assert.Equal(t, 9, live.Tally.Units)
	assert.Equal(t, 4, live.Tally.First, "1, 2, 3, and 8, which was not judged before")
	assert.Equal(t, 1, live.Tally.Retest)
	assert.Equal(t, 2, live.Tally.Failed)
	assert.Equal(t, 2, live.Tally.Open)
	assert.Equal(t, live.Tally.Units, live.Tally.First+live.Tally.Retest+live.Tally.Failed+live.Tally.Open)
	assert.Equal(t, "57.1 %", live.Tally.FirstPass, "4 of the 7 that were judged for the first time")
	assert.Contains(t, live.Tally.Counts, "GCC-20")
	assert.Contains(t, live.Tally.Counts, "simulated")

	b.stop()
	other := b.product
	b.sameJigElsewhere(t, other)
	b.start()
	b.until(0, func(s station.State) bool { return s.Jig.Present })
	assert.Equal(t, live, operator.shift(), "counted from the records")
}

// sameJigElsewhere records runs that are not of this lane's count although they
// are of its jig: a real unit, another product, and a unit of the day before.
func (b *bed) sameJigElsewhere(t *testing.T, p *product.Product) {
	t.Helper()
	recent, err := b.store.Runs.Recent(t.Context(), 1000)
	require.NoError(t, err)
	i := slices.IndexFunc(recent, passedInProduction)
	pattern, err := b.store.Runs.Run(t.Context(), recent[i].ID)
	require.NoError(t, err)
	rev := station.RevisionOf(p)
	for n, change := range []func(*sequence.Run, *runs.Revision){
		func(r *sequence.Run, _ *runs.Revision) { r.Simulated = false },
		func(r *sequence.Run, v *runs.Revision) { r.Product, v.Code = "GCC-21", "GCC-21" },
		func(r *sequence.Run, _ *runs.Revision) { r.Started = r.Started.Add(-48 * time.Hour) },
		func(r *sequence.Run, _ *runs.Revision) { r.Jig.Serial = "SIM-0099" },
	} {
		run, as := pattern.Run, rev
		run.Serial, run.Attempt = p.Serial.Complete(60+n), 1
		change(&run, &as)
		_, err := b.store.Runs.Save(t.Context(), as, run)
		require.NoError(t, err)
	}
}
