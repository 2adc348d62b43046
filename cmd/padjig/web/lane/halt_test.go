package lane_test

import (
	"net/http"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/stops"
)

// failAlike has the units of these numbers fail with key 7 open.
func failAlike(h *webtest.House, from, to int) {
	h.Helper()
	h.Put("key 7 open")
	for n := from; n <= to; n++ {
		require.Equal(h, station.Ended, h.Test(h.Unit(n)).Phase)
		h.PutAway()
	}
	synctest.Wait()
}

// Beside the verdict of the unit that stopped the line stands that it is stopped, where, who
// is needed, and which units are tested all the same. Only who may lifts it, once, for one of
// the reasons there are; a page of before lifts nothing else.
func TestAStopOnTheLane(t *testing.T) {
	webtest.At(t, 1, "\nreferences: {every: 8 h, good: REF-1}\n", func(h *webtest.House) {
		h.Test("REF-1")
		failAlike(h, 1, 2)
		assert.Nil(h, h.Says().Halt)
		failAlike(h, 3, 3)
		v := h.Says()
		assert.Equal(h, "FAIL", v.Word)
		assert.Equal(h, v.Halt.Next, v.Next, "and not: scan it again")
		require.NotNil(h, v.Halt)
		assert.Equal(h, "The line is stopped: 3 units in a row, key 7 does not close.", v.Halt.Line)
		assert.Contains(h, v.Halt.Next, "fixture engineer")
		assert.Equal(h, []string{"REF-1"}, v.Halt.References)
		assert.Empty(h, v.Halt.Reasons, "an operator lifts nothing")
		assert.Empty(h, v.Conditions, "it is said once")

		status, _ := h.Post("operator", "/lane/1/next")
		require.Equal(h, http.StatusOK, status)
		v = h.Says()
		assert.Equal(h, []string{"look", "LINE STOPPED", "The line is stopped: 3 units in a row, key 7 does not close."},
			[]string{v.Signal, v.Word, v.Line})
		h.Put("")
		h.Test(h.Unit(4))
		v = h.Says()
		assert.Equal(h, []string{"look", "NOT TESTED"}, []string{v.Signal, v.Word})
		assert.False(h, v.Override, "nobody overrides a stop")
		h.Test("REF-1")
		assert.Equal(h, "pass", h.Says().Signal)
		require.NotNil(h, h.Says().Halt)

		for name, c := range map[string]struct {
			role   string
			pairs  []string
			status int
		}{
			"an operator":           {"operator", []string{"stop", "1", "reason", "material"}, 403},
			"the returns desk":      {"returns", []string{"stop", "1", "reason", "material"}, 403},
			"no reason":             {"quality", []string{"stop", "1"}, 422},
			"a reason of one's own": {"quality", []string{"stop", "1", "reason", "because"}, 422},
			"no stop":               {"quality", []string{"stop", "9", "reason", "material"}, 422},
			"no number":             {"quality", []string{"stop", "x", "reason", "material"}, 422},
			"that lay in a queue":   {"quality", []string{"stop", "1", "reason", "material", "heard", "1"}, 409},
		} {
			status, _ := h.Post(c.role, "/lane/1/lift", c.pairs...)
			assert.Equal(h, c.status, status, name)
		}
		require.NotNil(h, h.Says().Halt)

		var seen lane.View
		h.Get("quality", "/lane/1", &seen)
		assert.Len(h, seen.Halt.Reasons, len(stops.Reasons()))
		for _, h.Lang = range []string{"de", "en"} {
			assert.Equal(h, len(stops.Reasons()), strings.Count(h.Page("quality", "/lane/1"), `name="reason" value=`))
		}
		status, _ = h.Post("quality", "/lane/1/lift", "stop", "1", "reason", "material", "note", "domes of lot 12")
		assert.Equal(h, http.StatusOK, status)
		synctest.Wait()
		assert.Nil(h, h.Says().Halt)
		stop, err := h.Store.Stops.Stop(h.Context(), 1)
		require.NoError(h, err)
		assert.Equal(h, []any{"quality", stops.Material, "domes of lot 12"},
			[]any{stop.Lifted.By, stop.Lifted.Reason, stop.Lifted.Note})
		require.Equal(h, station.Ended, h.Test(h.Unit(4)).Phase)

		failAlike(h, 5, 7) // a page of before still has the first stop
		require.NotNil(h, h.Says().Halt)
		status, answer := h.Post("engineer", "/lane/1/lift", "stop", "1", "reason", "cleaned")
		assert.Equal(h, http.StatusConflict, status)
		assert.Contains(h, answer.Say, "by quality")
		synctest.Wait()
		require.NotNil(h, h.Says().Halt)
		assert.EqualValues(h, 2, h.Says().Halt.Number)
	})
}

// A unit that is reseated again and again is set aside, with the probe that is to be looked
// at; the line goes on.
func TestAUnitThatIsNotTriedAgain(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Put("channel 4 dirty 80 ohm")
		h.Test(h.Unit(1))
		assert.Nil(h, h.Says().Halt)
		h.Test(h.Unit(1))
		v := h.Says()
		assert.Equal(h, "reseat", v.Signal)
		require.NotNil(h, v.Halt)
		assert.Equal(h, h.Unit(1), v.Halt.Unit)
		assert.Equal(h, h.Unit(1)+" had to be reseated twice in a row; doubtful: pin 4 (jig channel 4).", v.Halt.Line)
		assert.Contains(h, v.Halt.Next, "fixture engineer")
		assert.Equal(h, v.Halt.Next, v.Next, "and not: put it in again")
		h.Put("")
		h.Test(h.Unit(2))
		assert.Equal(h, "pass", h.Says().Signal)
		assert.Nil(h, h.Says().Halt)
		require.Equal(h, station.Refused, h.Test(h.Unit(1)).Phase)
		require.NotNil(h, h.Says().Halt)
		assert.False(h, h.Says().Override)
		status, _ := h.Post("engineer", "/lane/1/lift", "stop", "1", "reason", "cleaned")
		assert.Equal(h, http.StatusOK, status)
		synctest.Wait()
		assert.Equal(h, "SCAN", h.Says().Word)
		h.Test(h.Unit(1))
		assert.Equal(h, "pass", h.Says().Signal)
	})
}
