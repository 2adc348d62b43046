package lane_test

import (
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/stops"
)

// scanned has somebody scan a code at a lane.
func scanned(h *webtest.House, role, code, at string) (int, string) {
	h.Helper()
	status, a := h.Post(role, "/scan", "text", code, "lane", at)
	synctest.Wait()
	return status, a.Say
}

// Who may lift a stop does it by scanner as by the button: what, then why. Neither code alone
// does anything, nor in another order, by somebody else, at another lane or a minute later.
func TestAStopIsLiftedByScanner(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		failAlike(h, 1, 3)
		require.NotNil(h, h.Says().Halt)
		const what, why = "PJC0LIFT", "PJC0LIFT2P" // the probes were cleaned
		refused := func(role, code, at string, status int, name string) {
			h.Helper()
			got, say := scanned(h, role, code, at)
			assert.Equal(h, status, got, "%s: %s", name, say)
			assert.NotEmpty(h, say, name)
			require.NotNil(h, h.Says().Halt, name)
		}
		refused("operator", what, "1", 403, "an operator's badge")
		refused("returns", what, "1", 403, "of the returns desk")
		refused("operator", why, "1", 403, "the reason by an operator")
		refused("quality", why, "1", 422, "the reason before what is decided")
		refused("quality", what, "2", 422, "a lane that is not stopped")
		refused("quality", why, "2", 422, "its reason there")
		refused("quality", "PJC0LIFT99P", "1", 422, "a reason that is none")
		refused("quality", "PJC0LIFT2", "1", 422, "a code that was cut")

		begin := func(role string) {
			h.Helper()
			status, say := scanned(h, role, what, "1")
			require.Equal(h, http.StatusOK, status, say)
			assert.Contains(h, say, "Stop 1")
			require.NotNil(h, h.Says().Halt, "what alone lifts nothing")
		}
		begin("quality")
		refused("engineer", why, "1", 422, "by somebody else")
		refused("quality", why, "2", 422, "at another lane")
		refused("quality", why, "1", 422, "it was begun, and then the other lane was read")
		begin("quality")
		refused("quality", "PJC0OVER1P", "1", 422, "the reason of something else")
		begin("quality")
		time.Sleep(61 * time.Second)
		refused("quality", why, "1", 422, "a minute later")
		begin("quality")
		status, a := h.Post("quality", "/scan", "text", why, "lane", "1", "heard", "1")
		assert.Equal(h, http.StatusConflict, status, "that lay in a queue: %s", a.Say)
		begin("quality")
		_, left := h.Post("quality", "/scan", "text", "PJC0LEFT")
		assert.Equal(h, "/door", left.Go)
		w := h.Send("quality", "/scan", "application/json", "text", why, "lane", "1")
		assert.GreaterOrEqual(h, w.Code, 400, "the sign-in is over")
		require.NotNil(h, h.Says().Halt)

		status, say := scanned(h, "engineer", what, "1")
		require.Equal(h, http.StatusOK, status, say)
		status, say = scanned(h, "engineer", why, "1")
		require.Equal(h, http.StatusOK, status, say)
		assert.Nil(h, h.Says().Halt)
		stop, err := h.Store.Stops.Stop(h.Context(), 1)
		require.NoError(h, err)
		assert.Equal(h, []any{"engineer", stops.Cleaned}, []any{stop.Lifted.By, stop.Lifted.Reason})
		status, say = scanned(h, "engineer", why, "1")
		assert.Equal(h, 422, status, "the same code twice: %s", say)
	})
}

// A stop that came after the code of what was scanned is another one, and stands.
func TestAScanLiftsNoLaterStop(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		failAlike(h, 1, 3)
		status, say := scanned(h, "quality", "PJC0LIFT", "1")
		require.Equal(h, http.StatusOK, status, say)
		status, _ = h.Post("engineer", "/lane/1/lift", "stop", "1", "reason", "material")
		require.Equal(h, http.StatusOK, status)
		synctest.Wait()
		failAlike(h, 4, 6)
		require.EqualValues(h, 2, h.Says().Halt.Number)
		status, say = scanned(h, "quality", "PJC0LIFT1P", "1")
		assert.GreaterOrEqual(h, status, 400, say)
		require.NotNil(h, h.Says().Halt)
	})
}

// Overriding by scanner is on record as by the button, for just the unit that was shown.
func TestAUnitIsOverriddenByScanner(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		require.Equal(h, station.Refused, h.Test(h.Unit(1)).Phase)
		status, say := scanned(h, "operator", "PJC0OVER", "1")
		assert.Equal(h, 403, status, say)
		status, say = scanned(h, "quality", "PJC0OVER1P", "1")
		assert.Equal(h, 422, status, say)
		status, say = scanned(h, "quality", "PJC0OVER", "1")
		require.Equal(h, http.StatusOK, status, say)
		assert.Contains(h, say, h.Unit(1))
		h.Test(h.Unit(2)) // another unit came in between
		require.Equal(h, station.Refused, h.Test(h.Unit(2)).Phase)
		status, say = scanned(h, "quality", "PJC0OVER5P", "1")
		assert.Equal(h, 422, status, say)
		kept, err := h.Store.Accounts.Overrides(h.Context(), 10)
		require.NoError(h, err)
		assert.Empty(h, kept)
		status, say = scanned(h, "quality", "PJC0OVER", "1")
		require.Equal(h, http.StatusOK, status, say)
		status, say = scanned(h, "quality", "PJC0OVER5P", "1")
		require.Equal(h, http.StatusOK, status, say)
		assert.Equal(h, station.Ended, h.Settled(h.Unit(2)).Phase)
		kept, err = h.Store.Accounts.Overrides(h.Context(), 10)
		require.NoError(h, err)
		require.Len(h, kept, 1)
		assert.Equal(h, []string{"quality", "quality asks for the test", h.Unit(2), "SIM-0001"},
			[]string{kept[0].By, kept[0].Reason, kept[0].Serial, kept[0].Jig})
		status, say = scanned(h, "quality", "PJC0OVER", "1")
		assert.Equal(h, 422, status, "it is a verdict now: %s", say)
	})
}

// The sheet of who decides has the codes of what and why; that of others has none of them.
func TestTheSheetOfWhoDecides(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		for _, h.Lang = range []string{"en", "de"} {
			assert.NotContains(h, h.Page("operator", "/codes"), "PJC0LIFT")
			sheet := h.Page("quality", "/codes")
			assert.Equal(h, 1+len(stops.Reasons()), strings.Count(sheet, "<small>PJC0LIFT"))
			assert.Equal(h, 1+5, strings.Count(sheet, "<small>PJC0OVER"))
		}
		var v lane.View
		h.Get("quality", "/lane/1", &v)
		assert.Nil(h, v.Halt)
	})
}
