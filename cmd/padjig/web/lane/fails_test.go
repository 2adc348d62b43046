package lane_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/placing"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/fails"
)

// failed has the first unit fail at the first lane, and gives the code of its tag.
func failed(h *webtest.House) (tag string) {
	h.Helper()
	h.Put("key 7 open")
	st := h.Test(h.Unit(1))
	require.NotNil(h, st.Verdict, "%v", st.Refusal)
	require.Len(h, st.Owed, 1)
	h.Put("")
	return fails.TagCode(st.Verdict.ID)
}

// reads scans a code as somebody at a screen that follows no lane.
func reads(h *webtest.House, role, screen, text string) (int, string) {
	h.Helper()
	status, answer := h.Post(role, "/scan", "text", text, "screen", screen, "next", "/fails")
	return status, answer.Say
}

var usual = fails.Place{}.Code()

// Each state of a lane says what to do, who is owed, and what the next scan waits for;
// when the unit lies where it goes, the lane is ready without a hand on it.
func TestALaneWaitsForTheFailedUnit(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		tag := failed(h)
		for _, h.Lang = range []string{"de", "en"} {
			v := h.Says()
			require.Len(h, v.Steps, 3)
			assert.Contains(h, v.Steps[0], h.Unit(1))
		}
		st := h.Test(h.Unit(2))
		require.Equal(h, station.Refused, st.Phase)
		for _, h.Lang = range []string{"de", "en"} {
			v := h.Says()
			assert.Contains(h, v.Line, h.Unit(1))
			assert.Contains(h, v.Steps[0], h.Unit(1))
			assert.Len(h, v.Steps, 3)
			assert.False(h, v.Override, "not for an operator")
		}
		h.Post("operator", "/scan", "text", "PJC0NEXT", "lane", "1")
		for _, h.Lang = range []string{"de", "en"} {
			v := h.Says()
			assert.Equal(h, "look", v.Signal, "cleared, and it still waits")
			assert.Contains(h, v.Line, h.Unit(1))
			assert.Len(h, v.Steps, 3)
		}
		var list lane.FailsView
		h.Page("operator", "/fails")
		h.Get("operator", "/fails", &list)
		require.Len(h, list.Owed, 1)
		assert.Equal(h, h.Unit(1), list.Owed[0].Serial)
		assert.Empty(h, list.Latest)

		status, said := reads(h, "operator", "shelf", usual)
		assert.Equal(h, http.StatusOK, status)
		assert.Contains(h, said, "scan its tag")
		status, answer := h.Post("operator", "/scan", "text", tag, "screen", "shelf", "next", "/fails")
		assert.Equal(h, http.StatusOK, status)
		assert.Contains(h, answer.Say, h.Unit(1)+" (on a simulated jig) lies in the fail place")
		assert.Equal(h, "/fails", answer.Go)
		h.Until(1, func(s station.State) bool { return s.Phase == station.Ready && len(s.Owed) == 0 })
		assert.Equal(h, "idle", h.Says().Signal)
		h.Get("operator", "/fails", &list)
		assert.Empty(h, list.Owed)
		require.Len(h, list.Latest, 1)
		assert.Equal(h, "operator", list.Latest[0].By)
		h.Page("operator", "/fails")
		assert.Equal(h, station.Ended, h.Test(h.Unit(2)).Phase)
	})
}

// Half a gesture is nobody else's: another screen, another person and a minute later
// begin anew, and so does a station that was started again.
func TestHalfAGestureIsNobodyElses(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		tag := failed(h)
		owed := func() {
			h.Helper()
			assert.Len(h, h.Lanes[0].State().Owed, 1)
		}
		reads(h, "operator", "a", usual)
		_, said := reads(h, "operator", "b", tag)
		assert.Contains(h, said, "scan the code of the place")
		owed()
		_, said = reads(h, "engineer", "a", tag)
		assert.Contains(h, said, "scan the code of the place")
		owed()
		time.Sleep(placing.Within + time.Second)
		_, said = reads(h, "operator", "a", tag)
		assert.Contains(h, said, "scan the code of the place")
		h.Serve()
		_, said = reads(h, "operator", "a", usual)
		assert.Contains(h, said, "scan its tag")
		owed()
		status, _ := reads(h, "operator", "a", tag)
		assert.Equal(h, http.StatusOK, status)
		h.Until(1, func(s station.State) bool { return len(s.Owed) == 0 })
	})
}

// A scan that a busy computer cut tests nothing and places nothing, and what is scanned
// in the place of a tag is told from it.
func TestScansThatAreNoTag(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		tag := failed(h)
		status, said := reads(h, "operator", "a", tag[:25])
		assert.Equal(h, http.StatusConflict, status)
		assert.Contains(h, said, "not read whole")
		status, _ = h.Post("operator", "/scan", "text", tag[25:], "lane", "1")
		assert.Equal(h, http.StatusOK, status)
		assert.Equal(h, station.SerialWrong, h.Settled(tag[25:]).Refusal.Code)
		reads(h, "operator", "a", usual)
		status, said = reads(h, "operator", "a", h.Unit(1))
		assert.Equal(h, http.StatusUnprocessableEntity, status)
		assert.Contains(h, said, "no tag but "+h.Unit(1))
		status, _ = h.Post("operator", "/scan", "text", h.Unit(1), "lane", "1", "screen", "a")
		assert.Equal(h, http.StatusUnprocessableEntity, status, "and no test of what lies in the jig by now, under that number")
		status, said = reads(h, "operator", "a", tag)
		assert.Equal(h, http.StatusOK, status, said)
		status, said = reads(h, "operator", "a", usual)
		assert.Equal(h, http.StatusOK, status)
		assert.Contains(h, said, "scan its tag")
		status, said = reads(h, "operator", "a", tag)
		assert.Equal(h, http.StatusConflict, status, "the same one, or a copy of it")
		assert.Contains(h, said, "scanned before: operator put")
		h.Post("operator", "/scan", "text", usual, "lane", "1", "screen", "a")
		h.Post("operator", "/scan", "text", "PJC0NEXT", "lane", "1", "screen", "a")
		status, _ = h.Post("operator", "/scan", "text", h.Unit(2), "lane", "1", "screen", "a")
		assert.Equal(h, http.StatusOK, status, said)
		assert.Equal(h, station.Ended, h.Settled(h.Unit(2)).Phase)
		status, _ = h.Post("nobody", "/scan", "text", tag)
		assert.Equal(h, http.StatusForbidden, status, "who it was is on record")
	})
}

// The tag is printed without a hand on the screen, and may be printed again.
func TestTheTagIsPrintedByAScan(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		status, answer := h.Post("operator", "/scan", "text", "PJC0PRINT", "lane", "1")
		assert.Equal(h, http.StatusUnprocessableEntity, status)
		assert.Contains(h, answer.Say, "No fail")
		tag := failed(h)
		run := h.Lanes[0].State().Verdict.ID.String()
		for range 2 {
			_, answer = h.Post("operator", "/scan", "text", "PJC0PRINT", "lane", "1", "next", "/lane/1")
			assert.Equal(h, "/tag/"+run+"?print=1&back=/lane/1", answer.Go)
			h.Post("operator", "/scan", "text", "PJC0NEXT", "lane", "1") // also when it does not stand there any more
		}
		for _, h.Lang = range []string{"de", "en"} {
			html := h.Page("operator", answer.Go)
			assert.Contains(h, html, `data-print-now="/lane/1"`)
			assert.Contains(h, html, tag)
		}
		assert.NotContains(h, h.Page("operator", "/tag/"+run), "data-print-now")
		assert.NotContains(h, h.Page("operator", "/tag/"+run+"?print=1&back=//elsewhere.example/"), "elsewhere")
	})
}

// Whoever decides may go on without the unit, with a reason, and it is recorded.
func TestGoingOnWithoutTheUnit(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		failed(h)
		h.Test(h.Unit(2))
		status, _ := h.Post("operator", "/lane/1/override", "serial", h.Unit(2), "reason", "tag and unit are lost")
		assert.Equal(h, http.StatusForbidden, status)
		status, _ = h.Post("quality", "/lane/1/override", "serial", h.Unit(2), "reason", "lost")
		assert.Equal(h, http.StatusUnprocessableEntity, status, "that says nothing")
		var v lane.View
		h.Get("quality", "/lane/1", &v)
		assert.True(h, v.Override && v.Lift)
		assert.Contains(h, h.Page("quality", "/lane/1"), "Go on without it")
		status, _ = h.Post("quality", "/lane/1/override", "serial", h.Unit(2), "reason", "tag and unit are lost")
		assert.Equal(h, http.StatusOK, status)
		assert.Equal(h, station.Ended, h.Settled(h.Unit(2)).Phase)
		over, err := h.Store.Accounts.Overrides(h.Context(), 9)
		require.NoError(h, err)
		require.Len(h, over, 1)
		assert.Equal(h, []string{"fail not placed", h.Unit(1), "SIM-0001", "quality", "tag and unit are lost"},
			[]string{over[0].What, over[0].Serial, over[0].Jig, over[0].By, over[0].Reason})
		assert.Contains(h, h.Page("operator", "/fails"), "tag and unit are lost")
	})
}

// The sheet of codes has the fail places, also those that were named.
func TestTheSheetHasThePlaces(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		shelf, err := h.Store.Fails.AddPlace(h.Context(), "Shelf <2>", "Ines")
		require.NoError(h, err)
		for _, h.Lang = range []string{"de", "en"} {
			html := h.Page("operator", "/codes")
			for _, text := range []string{usual, shelf.Code(), "Shelf &lt;2&gt;", "PJC0PRINT"} {
				assert.Contains(h, html, text)
			}
		}
		assert.Equal(h, 8+1+1+2, strings.Count(h.Page("operator", "/codes"), "<figure>")) // commands, jigs, products, places
	})
}
