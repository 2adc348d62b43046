package quality_test

import (
	"net/http"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/webtest"
	"padjig/results/stops"
)

// A line that stands still is let go on from the page of stops by whoever may, by the rules
// of the lane: for one of the reasons there are, once, and never by a page of before.
func TestAStopIsLiftedFromItsPage(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Put("key 7 open")
		for n := 1; n <= 3; n++ {
			h.Test(h.Unit(n))
			h.PutAway()
		}
		page := h.Page("quality", "/quality/stops")
		assert.Contains(h, page, `action="/quality/stops/lift"`)
		assert.Contains(h, h.Page("quality", "/quality"), `href="/quality/stops?`, "the overview leads there")
		for name, c := range map[string]struct {
			role   string
			pairs  []string
			status int
		}{
			"an operator":         {"operator", []string{"stop", "1", "reason", "material"}, http.StatusForbidden},
			"no reason":           {"quality", []string{"stop", "1", "reason", ""}, http.StatusUnprocessableEntity},
			"no stop":             {"quality", []string{"stop", "9", "reason", "material"}, http.StatusUnprocessableEntity},
			"no number":           {"quality", []string{"stop", "all", "reason", "material"}, http.StatusUnprocessableEntity},
			"that lay in a queue": {"quality", []string{"stop", "1", "reason", "material", "heard", "1"}, http.StatusConflict},
		} {
			status, said := h.Post(c.role, "/quality/stops/lift", c.pairs...)
			assert.Equal(h, c.status, status, name)
			assert.NotEmpty(h, said.Say, name)
		}
		require.NotNil(h, h.Says().Halt)
		status, said := h.Post("quality", "/quality/stops/lift", "stop", "1", "reason", "cleaned", "note", "nest")
		require.Equal(h, http.StatusOK, status, said.Say)
		synctest.Wait()
		assert.Nil(h, h.Says().Halt, "the lane goes on")
		list, err := h.Store.Stops.List(h.Context(), true)
		require.NoError(h, err)
		assert.Equal(h, []any{stops.Reason("cleaned"), "nest"}, []any{list[0].Lifted.Reason, list[0].Lifted.Note})
		assert.NotContains(h, h.Page("quality", "/quality/stops"), `action="/quality/stops/lift"`)
		status, _ = h.Post("engineer", "/lane/1/lift", "stop", "1", "reason", "cleaned")
		assert.Equal(h, http.StatusConflict, status, "once")
	})
}
