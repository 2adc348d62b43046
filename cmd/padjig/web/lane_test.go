package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/bench"
	"padjig/fixture/jigsim"
	"padjig/fixture/wire"
	"padjig/results/care"
	"padjig/sequence"
)

const demanding = `
references:
  every: 8 h or 2 units
  within: 20 %
  good: REF-G
  bad:
    REF-B: key open at 7
`

// says is what the first lane's page says, to an operator.
func (h *house) says() (v laneView) {
	h.Helper()
	require.Equal(h, http.StatusOK, h.get("operator", "/lane/1", &v))
	h.page("operator", "/lane/1")
	return v
}

// What a lane finds is said with one signal and one word, with what was found and
// what to do; only a pass is green, and only what is stored is said.
func TestALaneSaysWhatItFound(t *testing.T) {
	for _, c := range []struct {
		fault, signal, word string
		findings            int
		next                string
	}{
		{"", "pass", "PASS", 0, ""},
		{"key 7 open", "fail", "FAIL", 1, ""},
		{"key 7 high 640 ohm; lines C1 C2 leak 2 Mohm", "fail", "FAIL", 2, ""},
		{"tail reversed", "reseat", "RESEAT", 0, ""},
		{"jig opens interlock for 200 ms at key 5", "look", "STOPPED", 0, "No attempt was used up"},
		{"key 1 open; jig emergency for 200 ms at key 5", "look", "STOPPED", 1, "attempt"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			at(t, 1, "", func(h *house) {
				h.put(c.fault)
				st := h.test(h.unit(1))
				for _, h.lang = range []string{"de", "en"} {
					h.page("operator", "/lane/1")
				}
				v := h.says()
				assert.Equal(h, c.signal, v.Signal)
				assert.Equal(h, c.word, v.Word)
				assert.GreaterOrEqual(h, len(v.Findings), c.findings)
				assert.Contains(h, v.Next, c.next)
				assert.Equal(h, st.Verdict.ID.String(), v.Stored)
				assert.True(h, v.Simulated)
				assert.Equal(h, "GCC-20 C", v.Product)
				assert.Equal(h, c.signal == "fail", v.Tag)
				assert.Equal(h, 1, v.Tally.Units)
				assert.True(h, v.Clear)
				assert.False(h, v.Stop)
				tag := "/tag/" + v.Stored
				h.page("operator", tag)
				var onTag tagView
				require.Equal(h, http.StatusOK, h.get("operator", tag, &onTag))
				assert.Equal(h, h.unit(1), onTag.Serial)
				assert.Equal(h, len(v.Findings), len(onTag.Findings))
			})
		})
	}
}

// Why a unit is not tested is said, with what to do, and not as a verdict.
func TestALaneSaysWhyNot(t *testing.T) {
	for name, c := range map[string]struct {
		more   string
		before func(*house)
		serial string // empty: the first unit
		line   string
	}{
		"misread":       {serial: "GCC-0", line: "GCC-0"},
		"passed":        {before: func(h *house) { h.test(h.unit(1)) }, line: "passed"},
		"came back":     {before: func(h *house) { h.came(h.unit(1)) }, line: "came back"},
		"reference due": {more: demanding, line: "REF-G"},
		"emergency":     {before: func(h *house) { h.put("jig emergency") }, line: "emergency stop"},
		"no jig": {before: func(h *house) {
			h.ports.Unplug("sim/SIM-0001")
			h.until(1, func(s bench.State) bool { return !s.Jig.Present })
		}, line: "does not answer"},
		"used up": {before: func(h *house) {
			h.put("key 7 open")
			h.test(h.unit(1))
			h.test(h.unit(1))
		}, line: "used up its attempts"},
		"worn": {before: func(h *house) {
			require.NoError(h, h.site.Store.Care.SaveWear(h.Context(), care.WearEvent{Jig: "SIM-0001", Part: "nest", Warn: 1, Block: 1, By: "Ines"}))
			h.test(h.unit(2))
		}, line: "nest"},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, 1, c.more, func(h *house) {
				if c.before != nil {
					c.before(h)
				}
				serial := c.serial
				if serial == "" {
					serial = h.unit(1)
				}
				h.test(serial)
				for _, h.lang = range []string{"de", "en"} {
					h.page("operator", "/lane/1")
				}
				v := h.says()
				assert.Equal(h, "look", v.Signal)
				assert.Equal(h, "NOT TESTED", v.Word)
				assert.Contains(h, v.Line, c.line)
				assert.NotEmpty(h, v.Next)
				assert.Empty(h, v.Stored)
			})
		})
	}
}

// What a lane waits for is said before anybody scans: a jig, somebody at the
// terminal, what is due.
func TestALaneSaysWhatItWaitsFor(t *testing.T) {
	at(t, 1, "", func(h *house) {
		assert.Equal(h, []string{"idle", "SCAN"}, []string{h.says().Signal, h.says().Word})
		h.ports.Unplug("sim/SIM-0001")
		h.until(1, func(s bench.State) bool { return !s.Jig.Present })
		v := h.says()
		assert.Equal(h, "look", v.Signal)
		assert.False(h, v.Jig.Present)
		assert.Contains(h, v.Jig.Say, "SIM-0001")
		h.ports.Plug("sim/SIM-0001", h.jigs[0])
		h.until(1, func(s bench.State) bool { return s.Jig.Present })
		h.site.Lanes[0].LetGo(h.Context())
		assert.Equal(h, "look", h.says().Signal)
		assert.Contains(h, h.says().Line, "SIM-0001")
	})
	at(t, 1, demanding, func(h *house) {
		v := h.says()
		assert.Equal(h, "look", v.Signal)
		assert.Contains(h, v.Line, "REF-G")
		require.Len(h, v.Conditions, 2)
		assert.True(h, v.Conditions[0].Blocks)
		h.test("REF-G")
		assert.Equal(h, "pass", h.says().Signal)
		h.test("REF-B") // its fault is not there
		v = h.says()
		assert.Equal(h, "look", v.Signal)
		assert.Contains(h, v.Note, "must fail for")
	})
}

// A unit that is under test shows how far it is, and a verdict that was left
// alone shows nothing of it.
func TestALaneWhileItWorks(t *testing.T) {
	at(t, 1, "", func(h *house) {
		h.put("jig opens interlock")
		h.post("operator", "/scan", "text", h.unit(1), "lane", "1")
		h.until(1, func(s bench.State) bool { return s.Phase == bench.Lid })
		v := h.says()
		assert.Equal(h, "CLOSE LID", v.Word)
		assert.True(h, v.Stop)
		h.put("")
		h.until(1, func(s bench.State) bool { return s.Phase == bench.Running && s.Done > 2 })
		v = h.says()
		assert.Equal(h, "run", v.Signal)
		assert.NotEmpty(h, v.Step)
		assert.Equal(h, len(h.product.Keys), v.Total)
		assert.Positive(h, v.Done)
		assert.Empty(h, v.Stored)
		code, _ := h.post("quality", "/lane/1/stop", "screen", "another") // anybody may
		assert.Equal(h, http.StatusOK, code)
		h.settled(h.unit(1))
		assert.Equal(h, "STOPPED", h.says().Word)
		code, _ = h.post("operator", "/lane/1/next")
		assert.Equal(h, http.StatusOK, code)
		assert.Equal(h, "SCAN", h.says().Word)
	})
}

// Barcodes do what they say; a page that is no lane's looks a unit up for those
// who may, and nothing is done for nobody.
func TestScans(t *testing.T) {
	at(t, 2, "", func(h *house) {
		for name, c := range map[string]struct {
			role   string
			form   []string
			status int
			wants  answer // as far as it is not empty
		}{
			"a command that is none":     {"operator", []string{"text", "PJC0FLY", "lane", "1"}, 422, answer{Say: "FLY"}},
			"stop without a lane":        {"operator", []string{"text", "PJC0STOP"}, 422, answer{}},
			"stop at a lane":             {"operator", []string{"text", "PJC0STOP", "lane", "1"}, 200, answer{}},
			"next at no lane":            {"operator", []string{"text", "PJC0NEXT", "lane", "3"}, 404, answer{}},
			"here":                       {"operator", []string{"text", "PJC0HERE", "lane", "2"}, 200, answer{}},
			"sound":                      {"operator", []string{"text", "PJC0SOUND"}, 200, answer{Do: "sound"}},
			"a unit for the desk":        {"returns", []string{"text", "GCC-1/2", "next", "/returns"}, 200, answer{Go: "/unit?serial=GCC-1%2F2"}},
			"a unit for an operator":     {"operator", []string{"text", "GCC-1", "next", "/codes"}, 422, answer{Say: "GCC-1"}},
			"a unit on the page of all":  {"returns", []string{"text", "GCC-1", "next", "/"}, 422, answer{Say: "GCC-1"}},
			"a unit at no lane":          {"operator", []string{"text", "GCC-1", "lane", "x"}, 404, answer{}},
			"a badge of nobody":          {"operator", []string{"text", account.NewBadge()}, 403, answer{}},
			"a scan that lay in a queue": {"operator", []string{"text", "GCC-1", "lane", "1", "heard", "946684800000"}, 409, answer{Say: "GCC-1"}},
		} {
			time.Sleep(time.Minute)
			status, got := h.post(c.role, "/scan", c.form...)
			assert.Equal(h, c.status, status, name)
			assert.Contains(h, got.Say, c.wants.Say, name)
			assert.Equal(h, c.wants.Go, got.Go, name)
			assert.Equal(h, c.wants.Do, got.Do, name)
		}
		w := fetch(h.T, h.handler, asking{method: "POST", path: "/scan", form: map[string][]string{"text": {h.unit(1)}, "lane": {"1"}}})
		assert.Equal(h, http.StatusForbidden, w.Code, "nobody is signed in")
		assert.Empty(h, h.site.Lanes[0].State().Unit.Serial)
		status, got := h.post("operator", "/scan", "text", "PJC0LEFT")
		assert.Equal(h, http.StatusOK, status)
		assert.Equal(h, "/door", got.Go)
		assert.Equal(h, http.StatusUnauthorized, h.get("operator", "/lane/1", nil))
	})
}

// One screen has control of a lane; another is told whose it is, may take it, and
// may stop whatever it is.
func TestControlOfALane(t *testing.T) {
	at(t, 1, "", func(h *house) {
		first := h.listen("operator", "/lane/1/live?screen=a")
		first.event("lane")
		status, _ := h.post("operator", "/scan", "text", h.unit(1), "lane", "1", "screen", "a")
		assert.Equal(h, http.StatusOK, status)
		h.settled(h.unit(1))
		for _, form := range [][]string{{"text", h.unit(2)}, {"text", "PJC0NEXT"}} {
			status, got := h.post("engineer", "/scan", append(form, "lane", "1", "screen", "b")...)
			assert.Equal(h, http.StatusConflict, status)
			assert.Contains(h, got.Say, "operator")
		}
		assert.Equal(h, bench.Ended, h.site.Lanes[0].State().Phase)
		var v laneView
		h.get("engineer", "/lane/1?screen=b", &v)
		assert.Equal(h, "operator", v.Held)
		status, _ = h.post("engineer", "/lane/1/here", "screen", "b")
		assert.Equal(h, http.StatusOK, status)
		first.leave()
		status, _ = h.post("engineer", "/scan", "text", h.unit(2), "lane", "1", "screen", "b")
		assert.Equal(h, http.StatusOK, status)
		h.settled(h.unit(2))
		status, _ = h.post("operator", "/scan", "text", h.unit(3), "lane", "1", "screen", "a")
		assert.Equal(h, http.StatusOK, status, "who had it has gone")
		h.settled(h.unit(3))
	})
}

// Only who may decides otherwise than padjig, for a reason, of the unit that was
// refused; it is kept before the unit is tested.
func TestOverrides(t *testing.T) {
	at(t, 1, "", func(h *house) {
		h.test(h.unit(1))
		h.test(h.unit(1))
		require.Equal(h, bench.Refused, h.site.Lanes[0].State().Phase)
		reason := "customer asks for a report"
		for name, c := range map[string]struct {
			role, serial, reason string
			more                 []string
			status               int
		}{
			"an operator":         {"operator", h.unit(1), reason, nil, 403},
			"without a reason":    {"quality", h.unit(1), "retest ", nil, 422},
			"of another unit":     {"quality", h.unit(2), reason, nil, 422},
			"that lay in a queue": {"quality", h.unit(1), reason, []string{"heard", "1"}, 409},
		} {
			status, _ := h.post(c.role, "/lane/1/override", append([]string{"serial", c.serial, "reason", c.reason}, c.more...)...)
			assert.Equal(h, c.status, status, name)
		}
		kept, err := h.site.Store.Accounts.Overrides(h.Context(), 10)
		require.NoError(h, err)
		assert.Empty(h, kept)
		assert.False(h, h.says().Override)
		var v laneView
		h.get("quality", "/lane/1", &v)
		assert.True(h, v.Override)
		status, _ := h.post("quality", "/lane/1/override", "serial", h.unit(1), "reason", reason)
		assert.Equal(h, http.StatusOK, status)
		s := h.settled(h.unit(1))
		assert.Equal(h, 2, s.Verdict.Attempt)
		assert.Equal(h, sequence.Pass, s.Verdict.Outcome)
		kept, err = h.site.Store.Accounts.Overrides(h.Context(), 10)
		require.NoError(h, err)
		require.Len(h, kept, 1)
		assert.Equal(h, []string{"quality", reason, h.unit(1), "SIM-0001"}, []string{kept[0].By, kept[0].Reason, kept[0].Serial, kept[0].Jig})
		status, _ = h.post("quality", "/lane/1/override", "serial", h.unit(1), "reason", reason)
		assert.Equal(h, 422, status, "it is a verdict now")
	})
}

// A live page is told how the lane stands, key by key while a test runs, and
// that the station is there when nothing happens; it ends with the station.
func TestLiveLanes(t *testing.T) {
	at(t, 2, "", func(h *house) {
		one, all, frames := h.listen("operator", "/lane/1/live"), h.listen("operator", "/lanes/live"), h.listen("engineer", "/jigs/1/traffic/live")
		assert.True(h, contains(one.event("lane"), "SCAN"))
		all.event("card")
		h.test(h.unit(1))
		assert.True(h, contains(one.event("progress"), `"total":`))
		assert.True(h, contains(frames.event("rows"), "html"))
		var last string
		for last = one.event("lane"); !contains(last, "PASS"); last = one.event("lane") {
			assert.False(h, contains(last, `class=\"word\" id=\"word\"\u003eFAIL`))
		}
		for !contains(all.event("card"), "PASS") {
		}
		time.Sleep(3 * stillThere)
		one.event("still")
		h.site.End()
		for range one.lines { // until it ends
		}
		nobody := h.listen("nobody", "/lane/1/live")
		for line := range nobody.lines {
			assert.NotContains(h, line, "event:")
		}
	})
}

// The page of all lanes shows each; where there is one lane it is that one.
func TestAllLanes(t *testing.T) {
	at(t, 2, "", func(h *house) {
		h.test(h.unit(1))
		assert.Contains(h, h.page("quality", "/"), "PASS")
		var v lanesView
		h.get("quality", "/", &v)
		require.Len(h, v.Lanes, 2)
		assert.Equal(h, []string{"pass", "idle"}, []string{v.Lanes[0].Signal, v.Lanes[1].Signal})
		assert.Equal(h, 404, h.get("operator", "/lane/3", nil))
		assert.Equal(h, 404, h.get("operator", "/lane/x", nil))
		assert.Equal(h, 404, h.get("operator", "/tag/x", nil))
		assert.Equal(h, 404, h.get("operator", "/tag/00dc6acf-ac00-7c2f-bae3-31b858e0ab3a", nil))
		h.page("operator", "/codes")
	})
	at(t, 1, "", func(h *house) {
		w := fetch(h.T, h.handler, asking{path: "/", role: "operator"})
		assert.Equal(h, "/lane/1", w.Header().Get("Location"))
	})
}

// A stage of a returns case shows as what it is: good is not passed, stopped has
// found nothing out, and a bad seat says nothing of the unit.
func TestALaneSaysWhatAStageFound(t *testing.T) {
	for _, c := range []struct {
		fault, signal, word string
		findings            int
	}{
		{"", "idle", "STORED", 0},
		{"key 7 high 640 ohm", "idle", "STORED", 1},
		{"tail reversed", "reseat", "RESEAT", 0},
		{"jig opens interlock for 200 ms at key 5", "look", "STOPPED", 0},
		{"jig silent for 10 s at key 5", "look", "STOPPED", 0},
	} {
		t.Run(c.fault, func(t *testing.T) {
			at(t, 1, "", func(h *house) {
				back := h.came(h.unit(1))
				h.stage(back, sequence.FirstPress)
				h.put(c.fault)
				h.stage(back, sequence.ReturnTest)
				for _, h.lang = range []string{"de", "en"} {
					h.page("operator", "/lane/1")
				}
				v := h.says()
				assert.Equal(h, []string{c.signal, c.word}, []string{v.Signal, v.Word})
				assert.Contains(h, v.Line, h.site.text.say("en", "purpose.return-test"))
				assert.Len(h, v.Findings, c.findings)
				assert.Zero(h, v.Tally.Units)
				assert.False(h, v.Tag)
			})
		})
	}
}

// A person who presses the keys sees which are left, which one to let go, and
// when to take the hands off.
func TestALanePressedByHand(t *testing.T) {
	at(t, 0, "", func(h *house) {
		id := jigsim.Defaults()
		id.Features &^= wire.FeatureMechanical
		id.Actuators, id.Together = 0, 0
		h.lanes(id)
		h.post("operator", "/scan", "text", h.unit(1), "lane", "1")
		asks := func(code sequence.AskCode) laneView {
			h.until(1, func(s bench.State) bool { return s.Ask.Code == code })
			return h.says()
		}
		classes := func(v laneView) (count map[string]int) {
			count = map[string]int{}
			for _, k := range v.Pad.Keys {
				count[k.Class]++
			}
			return count
		}
		v := asks(sequence.AskEachKey)
		assert.Equal(h, map[string]int{"ask": 20}, classes(v))
		assert.NotEmpty(h, v.Prompt)
		for key := range h.product.Keys {
			require.NoError(h, h.jigs[0].Hand(key, true))
			v = asks(sequence.AskLetGo)
			assert.Equal(h, 1, classes(v)["held"])
			assert.Contains(h, v.Prompt, h.product.Keys[key].Label)
			require.NoError(h, h.jigs[0].Hand(key, false))
			if key == len(h.product.Keys)-1 {
				break
			}
			v = asks(sequence.AskNext)
			assert.Equal(h, 1, classes(v)["ask next"])
			assert.Equal(h, key+1, classes(v)["good"])
		}
		assert.Equal(h, sequence.Pass, h.settled(h.unit(1)).Verdict.Outcome)
		assert.Equal(h, "PASS", h.says().Word)
	})
}

// Records that cannot be read are the station's fault and said as that, on pages
// and to scripts.
func TestRecordsThatCannotBeRead(t *testing.T) {
	at(t, 1, demanding, func(h *house) {
		c := h.came(h.unit(1))
		for _, table := range []string{"reference_check", "wear_event", "calibration", "run", "release", "return_photo", "return_case"} {
			h.spoil("ALTER TABLE " + table + " RENAME TO gone_" + table)
		}
		for _, path := range []string{"/jigs", "/jigs/1", "/products", "/products/GCC-20", unitAddress(h.unit(1)), "/returns", "/tag/" + c.ID.String(),
			"/returns/report/1", "/returns/check?case=1", "/returns/ohms?case=1"} {
			assert.Equal(h, http.StatusInternalServerError, h.get("engineer", path, nil), path)
			w := fetch(h.T, h.handler, asking{path: path, role: "engineer"})
			assert.Contains(h, w.Body.String(), "The station could not do it", path)
		}
		for path, form := range map[string][]string{
			"/jigs/1/wear":             {"part", "nest"},
			"/products/GCC-20/release": {"text", h.text, "reason", "as it was before"},
			"/products/GCC-20/back":    {"seq", "1", "reason", "as it was before"},
			"/returns/intake":          {"serial", h.unit(2), "complaint", "key dead"},
			"/returns/dispose":         {"case", "1", "code", "confirmed"},
			"/returns/stage":           {"case", "1", "lane", "1", "purpose", "first press"},
		} {
			status, said := h.post("engineer", path, form...)
			assert.Equal(h, http.StatusInternalServerError, status, path)
			assert.Contains(h, said.Say, "The station could not do it", path)
		}
	})
}
