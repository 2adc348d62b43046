package lane_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/note"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/wire"
	"padjig/results/care"
	"padjig/results/returns"
	"padjig/sequence"
)

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
			webtest.At(t, 1, "", func(h *webtest.House) {
				h.Put(c.fault)
				st := h.Test(h.Unit(1))
				for _, h.Lang = range []string{"de", "en"} {
					h.Page("operator", "/lane/1")
				}
				v := h.Says()
				assert.Equal(h, c.signal, v.Signal)
				assert.Equal(h, c.word, v.Word)
				assert.GreaterOrEqual(h, len(v.Findings), c.findings)
				assert.Contains(h, v.Next, c.next)
				assert.Equal(h, st.Verdict.ID.String(), v.Stored)
				assert.True(h, v.Simulated)
				assert.Equal(h, "GCC-20 C", v.Product)
				assert.Equal(h, c.findings > 0, v.Tag, "what was found goes with the unit")
				assert.Equal(h, c.findings > 0, len(v.Steps) == 3, "and then into the fail place")
				assert.Equal(h, 1, v.Tally.Units)
				assert.True(h, v.Clear)
				assert.False(h, v.Stop)
				tag := "/tag/" + v.Stored
				h.Page("operator", tag)
				var onTag lane.TagView
				require.Equal(h, http.StatusOK, h.Get("operator", tag, &onTag))
				assert.Equal(h, h.Unit(1), onTag.Serial)
				assert.Equal(h, len(v.Findings), len(onTag.Findings))
			})
		})
	}
}

// Why a unit is not tested is said, with what to do, and not as a verdict.
func TestALaneSaysWhyNot(t *testing.T) {
	for name, c := range map[string]struct {
		more   string
		before func(*webtest.House)
		serial string // empty: the first unit
		line   string
	}{
		"misread":       {serial: "GCC-0", line: "GCC-0"},
		"passed":        {before: func(h *webtest.House) { h.Test(h.Unit(1)) }, line: "passed"},
		"came back":     {before: func(h *webtest.House) { h.Came(h.Unit(1)) }, line: "came back"},
		"reference due": {more: webtest.Demanding, line: "REF-G"},
		"emergency":     {before: func(h *webtest.House) { h.Put("jig emergency") }, line: "emergency stop"},
		"no jig": {before: func(h *webtest.House) {
			h.Ports.Unplug("sim/SIM-0001")
			h.Until(1, func(s station.State) bool { return !s.Jig.Present })
		}, line: "does not answer"},
		"used up": {before: func(h *webtest.House) {
			h.Put("key 7 open")
			h.Test(h.Unit(1))
			h.Test(h.Unit(1))
		}, line: "used up its attempts"},
		"worn": {before: func(h *webtest.House) {
			require.NoError(h, h.Store.Care.SaveWear(h.Context(), care.WearEvent{Jig: "SIM-0001", Simulated: true, Part: "nest", Warn: 1, Block: 1, By: "Ines"}))
			h.Test(h.Unit(2))
		}, line: "nest"},
	} {
		t.Run(name, func(t *testing.T) {
			webtest.At(t, 1, c.more, func(h *webtest.House) {
				if c.before != nil {
					c.before(h)
				}
				serial := c.serial
				if serial == "" {
					serial = h.Unit(1)
				}
				h.Test(serial)
				for _, h.Lang = range []string{"de", "en"} {
					h.Page("operator", "/lane/1")
				}
				v := h.Says()
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
	webtest.At(t, 1, "", func(h *webtest.House) {
		assert.Equal(h, []string{"idle", "SCAN"}, []string{h.Says().Signal, h.Says().Word})
		h.Ports.Unplug("sim/SIM-0001")
		h.Until(1, func(s station.State) bool { return !s.Jig.Present })
		v := h.Says()
		assert.Equal(h, "look", v.Signal)
		assert.False(h, v.Jig.Present)
		assert.Contains(h, v.Jig.Say, "SIM-0001")
		h.Ports.Plug("sim/SIM-0001", h.Jigs[0])
		h.Until(1, func(s station.State) bool { return s.Jig.Present })
		h.Lanes[0].LetGo(h.Context())
		assert.Equal(h, "look", h.Says().Signal)
		assert.Contains(h, h.Says().Line, "SIM-0001")
	})
	webtest.At(t, 1, webtest.Demanding, func(h *webtest.House) {
		v := h.Says()
		assert.Equal(h, "look", v.Signal)
		assert.Contains(h, v.Line, "REF-G")
		require.Len(h, v.Conditions, 2)
		assert.True(h, v.Conditions[0].Blocks)
		h.Test("REF-G")
		assert.Equal(h, "pass", h.Says().Signal)
		h.Test("REF-B") // its fault is not there
		v = h.Says()
		assert.Equal(h, "look", v.Signal)
		assert.Contains(h, v.Note, "must fail for")
	})
}

// A number is scanned while the unit before lies in the jig: the page says which unit is
// to be taken out, in either language; once the lid is closed it asks for the start.
func TestALaneAsksForTheUnitInTheJig(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.LeaveIn = true
		h.Test(h.Unit(1))
		h.Post("operator", "/scan", "text", h.Unit(2), "lane", "1")
		h.Until(1, func(s station.State) bool { return s.Phase == station.Lid })
		v := h.Says()
		assert.Equal(h, "TAKE OUT", v.Word)
		assert.Equal(h, "look", v.Signal)
		assert.Equal(h, h.Unit(1)+" is still in the jig: the lid was not opened since.", v.Line)
		assert.Equal(h, "Open the lid, take "+h.Unit(1)+" out, put "+h.Unit(2)+" in. Hands out, close the lid. Then press start.", v.Next)
		assert.True(h, v.Stop)
		h.Lang = "de"
		assert.Equal(h, "ENTNEHMEN", h.Says().Word)
		assert.Contains(h, h.Says().Next, h.Unit(1)+" heraus, "+h.Unit(2)+" hinein.")
		h.Lang = "en"
		h.Post("operator", "/stop", "lane", "1")
		h.Settled(h.Unit(2))
		h.Post("operator", "/scan", "text", h.Unit(2), "lane", "1")
		time.Sleep(3 * time.Minute) // nobody comes
		v = h.Says()
		assert.Equal(h, "NOT TESTED", v.Word)
		assert.Equal(h, "Open the lid, take "+h.Unit(1)+" out, put "+h.Unit(2)+" in and close the lid. Then scan it again.", v.Next)
		h.Post("operator", "/scan", "text", h.Unit(2), "lane", "1")
		h.Until(1, func(s station.State) bool { return s.Phase == station.Lid })
		h.Jigs[0].Lid(true)
		time.Sleep(time.Second)
		assert.Equal(h, "CLOSE LID", h.Says().Word)
		h.Jigs[0].Lid(false)
		h.Until(1, func(s station.State) bool { return s.Phase == station.Armed })
		v = h.Says()
		assert.Equal(h, "START", v.Word)
		assert.True(h, v.Start)
		moved := h.Jigs[0].Counts()
		for name, c := range map[string]struct {
			path   string
			more   []string
			status int
		}{
			"a code that lay in a queue":     {"/scan", []string{"text", lane.CommandPrefix + "BEGIN", "lane", "1", "heard", "1"}, 409},
			"a button that lay in a queue":   {"/lane/1/start", []string{"serial", h.Unit(2), "heard", "1"}, 409},
			"the page of the unit before":    {"/lane/1/start", []string{"serial", h.Unit(1)}, 200},
			"at no lane":                     {"/scan", []string{"text", lane.CommandPrefix + "BEGIN"}, 422},
			"the number of the unit, again":  {"/scan", []string{"text", h.Unit(2), "lane", "1"}, 200},
			"the code of what clears a page": {"/scan", []string{"text", lane.CommandPrefix + "NEXT", "lane", "1"}, 200},
		} {
			status, _ := h.Post("operator", c.path, c.more...)
			assert.Equal(h, c.status, status, name)
			time.Sleep(time.Second)
			assert.Equal(h, moved, h.Jigs[0].Counts(), name)
			assert.Equal(h, station.Armed, h.Lanes[0].State().Phase, name)
		}
		h.Post("operator", "/scan", "text", lane.CommandPrefix+"BEGIN", "lane", "1")
		h.Settled(h.Unit(2))
		assert.Equal(h, "PASS", h.Says().Word)
	})
}

// A unit that is under test shows how far it is, and a verdict that was left
// alone shows nothing of it.
func TestALaneWhileItWorks(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Put("jig opens interlock")
		h.Post("operator", "/scan", "text", h.Unit(1), "lane", "1")
		h.Until(1, func(s station.State) bool { return s.Phase == station.Lid })
		v := h.Says()
		assert.Equal(h, "CLOSE LID", v.Word)
		assert.True(h, v.Stop)
		h.Put("")
		h.Until(1, func(s station.State) bool { return s.Phase == station.Armed })
		h.Post("operator", "/lane/1/start", "serial", h.Unit(1))
		h.Until(1, func(s station.State) bool { return s.Phase == station.Running && s.Done > 2 })
		v = h.Says()
		assert.Equal(h, "run", v.Signal)
		assert.NotEmpty(h, v.Step)
		assert.Equal(h, len(h.Product.Keys), v.Total)
		assert.Positive(h, v.Done)
		assert.Empty(h, v.Stored)
		code, _ := h.Post("quality", "/lane/1/stop", "screen", "another") // anybody may
		assert.Equal(h, http.StatusOK, code)
		h.Settled(h.Unit(1))
		assert.Equal(h, "STOPPED", h.Says().Word)
		code, _ = h.Post("operator", "/lane/1/next")
		assert.Equal(h, http.StatusOK, code)
		assert.Equal(h, "SCAN", h.Says().Word)
	})
}

// Only who may decides otherwise than padjig, for a reason, of the unit that was
// refused; it is kept before the unit is tested.
func TestOverrides(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		h.Test(h.Unit(1))
		require.Equal(h, station.Refused, h.Lanes[0].State().Phase)
		reason := "customer asks for a report"
		for name, c := range map[string]struct {
			role, serial, reason string
			more                 []string
			status               int
		}{
			"an operator":         {"operator", h.Unit(1), reason, nil, 403},
			"without a reason":    {"quality", h.Unit(1), "retest ", nil, 422},
			"of another unit":     {"quality", h.Unit(2), reason, nil, 422},
			"that lay in a queue": {"quality", h.Unit(1), reason, []string{"heard", "1"}, 409},
		} {
			status, _ := h.Post(c.role, "/lane/1/override", append([]string{"serial", c.serial, "reason", c.reason}, c.more...)...)
			assert.Equal(h, c.status, status, name)
		}
		kept, err := h.Store.Accounts.Overrides(h.Context(), 10)
		require.NoError(h, err)
		assert.Empty(h, kept)
		assert.False(h, h.Says().Override)
		var v lane.View
		h.Get("quality", "/lane/1", &v)
		assert.True(h, v.Override)
		status, _ := h.Post("quality", "/lane/1/override", "serial", h.Unit(1), "reason", reason)
		assert.Equal(h, http.StatusOK, status)
		s := h.Settled(h.Unit(1))
		assert.Equal(h, 2, s.Verdict.Attempt)
		assert.Equal(h, sequence.Pass, s.Verdict.Outcome)
		kept, err = h.Store.Accounts.Overrides(h.Context(), 10)
		require.NoError(h, err)
		require.Len(h, kept, 1)
		assert.Equal(h, []string{"quality", reason, h.Unit(1), "SIM-0001"}, []string{kept[0].By, kept[0].Reason, kept[0].Serial, kept[0].Jig})
		status, _ = h.Post("quality", "/lane/1/override", "serial", h.Unit(1), "reason", reason)
		assert.Equal(h, 422, status, "it is a verdict now")
	})
}

// A unit that failed again after three repairs is an engineer's to decide about, also where
// quality has it tested beyond its attempts; how often is said while it is tested.
func TestARepairLoopIsAnEngineersDecision(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial, reason := h.Unit(1), "a new membrane is in"
		override := func(role string) int {
			status, _ := h.Post(role, "/lane/1/override", "serial", serial, "reason", reason)
			return status
		}
		h.Put("key 7 open")
		for i := range 4 {
			s := h.Test(serial)
			if i >= h.Product.Attempts {
				require.Equal(h, station.AttemptsUsed, s.Refusal.Code)
				require.Equal(h, 200, override("quality"))
				s = h.Settled(serial)
			}
			require.Equal(h, station.Ended, s.Phase, "%v", s.Refusal)
			if i > 1 {
				assert.Equal(h, note.Repaired, s.Note.Code)
				assert.Contains(h, h.Says().Note, "Failed again after a repair")
			}
			require.NoError(h, h.Store.Returns.SaveRework(h.Context(), returns.Rework{
				Serial: serial, Deed: "contact cleaned", Place: returns.Place{Kind: returns.AtKey, Name: "7"}, By: "Ines", Done: time.Now(),
			}, h.Product))
		}
		s := h.Test(serial)
		require.Equal(h, station.RepairLoop, s.Refusal.Code)
		assert.Equal(h, 422, override("quality"))
		assert.Equal(h, 403, override("operator"))
		for role, may := range map[string]bool{"quality": false, "engineer": true} {
			var v lane.View
			h.Get(role, "/lane/1", &v)
			assert.Equal(h, may, v.Override, role)
		}
		assert.Equal(h, 200, override("engineer"))
		h.Put("")
		s = h.Settled(serial)
		assert.Equal(h, station.Ended, s.Phase, "%v", s.Refusal)
	})
}

// A live page is told how the lane stands, key by key while a test runs, and
// that the station is there when nothing happens; it ends with the station.
func TestLiveLanes(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		one, all := h.Listen("operator", "/lane/1/live"), h.Listen("operator", "/lanes/live")
		assert.True(h, strings.Contains(one.Event("lane"), "SCAN"))
		all.Event("card")
		h.Test(h.Unit(1))
		assert.True(h, strings.Contains(one.Event("progress"), `"total":`))
		var last string
		for last = one.Event("lane"); !strings.Contains(last, "PASS"); last = one.Event("lane") {
			assert.False(h, strings.Contains(last, `class=\"word\" id=\"word\"\u003eFAIL`))
		}
		for !strings.Contains(all.Event("card"), "PASS") {
		}
		time.Sleep(page.Silence)
		one.Event("still")
		h.Site.End()
		for range one.Lines { // until it ends
		}
		nobody := h.Listen("nobody", "/lane/1/live")
		for line := range nobody.Lines {
			assert.NotContains(h, line, "event:")
		}
	})
}

// The page of all lanes shows each; where there is one lane it is that one.
func TestAllLanes(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		assert.Contains(h, h.Page("quality", "/"), "PASS")
		var v lane.AllView
		h.Get("quality", "/", &v)
		require.Len(h, v.Lanes, 2)
		assert.Equal(h, []string{"pass", "idle"}, []string{v.Lanes[0].Signal, v.Lanes[1].Signal})
		assert.Equal(h, 404, h.Get("operator", "/lane/3", nil))
		assert.Equal(h, 404, h.Get("operator", "/lane/x", nil))
		assert.Equal(h, 404, h.Get("operator", "/tag/x", nil))
		assert.Equal(h, 404, h.Get("operator", "/tag/00dc6acf-ac00-7c2f-bae3-31b858e0ab3a", nil))
		h.Page("operator", "/codes")
	})
	webtest.At(t, 1, "", func(h *webtest.House) {
		w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/", Role: "operator"})
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
			webtest.At(t, 1, "", func(h *webtest.House) {
				back := h.Came(h.Unit(1))
				h.Stage(back, sequence.FirstPress)
				h.Put(c.fault)
				h.Stage(back, sequence.ReturnTest)
				for _, h.Lang = range []string{"de", "en"} {
					h.Page("operator", "/lane/1")
				}
				v := h.Says()
				assert.Equal(h, []string{c.signal, c.word}, []string{v.Signal, v.Word})
				assert.Contains(h, v.Line, "return test")
				assert.Len(h, v.Findings, c.findings)
				assert.Zero(h, v.Tally.Units)
				assert.False(h, v.Tag)
			})
		})
	}
}

// unseen reports whether the key that was let go is to be pressed again.
func unseen(h *webtest.House) bool {
	s := h.Until(1, func(s station.State) bool {
		return s.Verdict != nil || slices.Contains([]sequence.AskCode{sequence.AskNext, sequence.AskUnseen, sequence.AskHandsOff}, s.Ask.Code)
	})
	return s.Ask.Code == sequence.AskUnseen
}

// A person who presses the keys sees which are left, which one to let go, and
// when to take the hands off.
func TestALanePressedByHand(t *testing.T) {
	webtest.At(t, 0, "", func(h *webtest.House) {
		id := jigsim.Defaults()
		id.Features &^= wire.FeatureMechanical
		id.Actuators, id.Together = 0, 0
		h.Plug(id)
		h.Post("operator", "/scan", "text", h.Unit(1), "lane", "1")
		asks := func(code sequence.AskCode) lane.View {
			h.Until(1, func(s station.State) bool { return s.Ask.Code == code })
			return h.Says()
		}
		classes := func(v lane.View) (count map[string]int) {
			count = map[string]int{}
			for _, k := range v.Pad.Keys {
				count[k.Class]++
			}
			return count
		}
		v := asks(sequence.AskEachKey)
		assert.Equal(h, map[string]int{"ask": 20}, classes(v))
		assert.NotEmpty(h, v.Prompt)
		finger := func(key int, down bool) {
			time.Sleep(370 * time.Millisecond) // of the bubble's time: no finger is quicker
			require.NoError(h, h.Jigs[0].Hand(key, down))
		}
		for key := range h.Product.Keys {
			finger(key, true)
			v = asks(sequence.AskLetGo)
			assert.Equal(h, 1, classes(v)["held"])
			assert.Contains(h, v.Prompt, h.Product.Keys[key].Label)
			finger(key, false)
			for unseen(h) { // between two watches: pressed again, as it is asked
				finger(key, true)
				asks(sequence.AskLetGo)
				finger(key, false)
			}
			if key == len(h.Product.Keys)-1 {
				break
			}
			v = asks(sequence.AskNext)
			assert.Equal(h, 1, classes(v)["ask next"])
			assert.Equal(h, key+1, classes(v)["good"])
		}
		assert.Equal(h, sequence.Pass, h.Settled(h.Unit(1)).Verdict.Outcome)
		assert.Equal(h, "PASS", h.Says().Word)
	})
}

// A pad under another number is said with a word of its own, and whose it is.
func TestALaneNamesTheOtherUnitOfAPad(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		lay := func(pad uint64, fault string) {
			keypad := h.Product.Circuit()
			faults, err := world.ParseFaults(fault, keypad)
			require.NoError(h, err)
			require.NoError(h, h.Jigs[0].Load(world.Unit{Keypad: keypad, Contact: h.Product.Nominal.Contact, Faults: faults, Seed: pad}))
		}
		for n := range 8 {
			lay(uint64(n+1), "")
			h.Test(h.Unit(n + 1))
		}
		h.Test(h.Unit(9))
		for _, h.Lang = range []string{"de", "en"} {
			h.Page("operator", "/lane/1")
			h.Page("quality", "/unit?serial="+h.Unit(9))
		}
		v := h.Says()
		assert.Equal(h, "look", v.Signal)
		assert.Equal(h, "SAME PAD", v.Word)
		assert.Contains(h, v.Line, h.Unit(8))
		assert.Contains(h, v.Next, "quality")
		assert.Contains(h, v.Next, "which label is right?")
		var life struct {
			Runs []struct{ Compared []string }
		}
		require.Equal(h, http.StatusOK, h.Get("quality", "/unit?serial="+h.Unit(9), &life))
		assert.Contains(h, strings.Join(life.Runs[0].Compared, " "), h.Unit(8))
	})
}
