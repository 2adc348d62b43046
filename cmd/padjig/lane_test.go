package main

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/bench"
	"padjig/sequence"
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
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.twice = time.Nanosecond }})
	lane := b.lanes().lanes[0]
	english, german := b.somebody(account.Operator, "en"), b.somebody(account.Operator, "de")
	b.until(0, func(s bench.State) bool { return s.Jig.Present })
	for n, c := range []struct {
		name, fault    string
		phase          bench.Phase
		word           string
		line, next     string // English
		zeile, naechst string // German
	}{
		{"lid open when scanned", "jig opens interlock", bench.Lid, "CLOSE LID",
			"The lid is open", "Take your hands out and close the lid: closing it starts the test", "Der Deckel ist offen", "Hände heraus, Deckel schließen"},
		{"emergency stop pressed when scanned", "jig emergency", bench.Refused, "NOT TESTED",
			"The emergency stop is pressed: nothing moves", "release the emergency stop, then scan again", "Der Not-Halt ist gedrückt", "Not-Halt lösen"},
		{"lid opened during the test", "jig opens interlock for 200 ms at key 5", bench.Ended, "STOPPED",
			"The lid was opened during the test", "Close the lid, then scan again. No attempt was used up", "Der Deckel wurde während der Prüfung geöffnet", "Deckel schließen"},
		{"emergency stop pressed during the test", "jig emergency for 200 ms at key 5", bench.Ended, "STOPPED",
			"The emergency stop was pressed during the test", "release the emergency stop, then scan again. No attempt was used up", "Der Not-Halt wurde während der Prüfung gedrückt", "Not-Halt lösen"},
	} {
		t.Run(c.name, func(t *testing.T) {
			serial := b.product.Serial.Complete(n + 1)
			b.jigs[0].put(c.fault)
			lane.Scan(bench.Scan{Serial: serial, Operator: "Abel"})
			b.until(0, func(s bench.State) bool {
				return s.Unit.Serial == serial && s.Phase != bench.Running && s.Phase != bench.Storing
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
			b.jigs[0].put("")
			lane.Stop()
			b.until(0, func(s bench.State) bool { return !s.Phase.Busy() })
		})
	}
	t.Run("releasing the emergency stop starts nothing", func(t *testing.T) {
		for n := range 4 {
			runs, err := b.store.Unit(t.Context(), b.product.Serial.Complete(n+1))
			require.NoError(t, err)
			for _, r := range runs {
				assert.Equal(t, sequence.Aborted, r.Outcome, r.Serial)
			}
		}
	})
}
