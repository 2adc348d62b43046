package control_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/bench"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/webtest"
)

// One screen has control of a lane; another is told whose it is, may take it, and
// may stop whatever it is.
func TestControlOfALane(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		first := h.Listen("operator", "/lane/1/live?screen=a")
		first.Event("lane")
		status, _ := h.Post("operator", "/scan", "text", h.Unit(1), "lane", "1", "screen", "a")
		assert.Equal(h, http.StatusOK, status)
		h.Settled(h.Unit(1))
		for _, form := range [][]string{{"text", h.Unit(2)}, {"text", "PJC0NEXT"}} {
			status, got := h.Post("engineer", "/scan", append(form, "lane", "1", "screen", "b")...)
			assert.Equal(h, http.StatusConflict, status)
			assert.Contains(h, got.Say, "operator")
		}
		assert.Equal(h, bench.Ended, h.Lanes[0].State().Phase)
		var v lane.View
		h.Get("engineer", "/lane/1?screen=b", &v)
		assert.Equal(h, "operator", v.Held)
		status, _ = h.Post("engineer", "/lane/1/here", "screen", "b")
		assert.Equal(h, http.StatusOK, status)
		first.Leave()
		status, _ = h.Post("engineer", "/scan", "text", h.Unit(2), "lane", "1", "screen", "b")
		assert.Equal(h, http.StatusOK, status)
		h.Settled(h.Unit(2))
		status, _ = h.Post("operator", "/scan", "text", h.Unit(3), "lane", "1", "screen", "a")
		assert.Equal(h, http.StatusOK, status, "who had it has gone")
		h.Settled(h.Unit(3))
	})
}
