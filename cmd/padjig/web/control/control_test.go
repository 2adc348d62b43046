package control_test

import (
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
	"padjig/sequence/product"
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
		assert.Equal(h, station.Ended, h.Lanes[0].State().Phase)
		h.Jigs[0].Lid(true) // and a start is of the screen that has control, too
		h.Post("operator", "/scan", "text", h.Unit(4), "lane", "1", "screen", "a")
		h.Until(1, func(s station.State) bool { return s.Phase == station.Lid })
		h.Jigs[0].Lid(false)
		h.Until(1, func(s station.State) bool { return s.Phase == station.Armed })
		status, _ = h.Post("engineer", "/scan", "text", "PJC0BEGIN", "lane", "1", "screen", "b")
		assert.Equal(h, http.StatusConflict, status)
		status, _ = h.Post("engineer", "/lane/1/start", "screen", "b")
		assert.Equal(h, http.StatusConflict, status)
		status, _ = h.Post("engineer", "/jigs/1/start", "serial", h.Unit(4))
		assert.Equal(h, http.StatusConflict, status)
		time.Sleep(time.Second)
		require.Equal(h, station.Armed, h.Lanes[0].State().Phase)
		h.Post("operator", "/scan", "text", "PJC0STOP", "lane", "1", "screen", "a")
		h.Settled(h.Unit(4))
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

// Every subject finds the same lanes: by the path, by a form, by what they test and by
// what they have in hand.
func TestLanesAreFound(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		lanes, text := control.New(h.Lanes), page.Catalogue{"en": {"lanes.choose": "choose", "error.lane": "no lane"}}
		visit := func(place, form string) *page.Visit {
			r := httptest.NewRequest(http.MethodPost, "/?lane="+form, nil)
			r.SetPathValue("lane", place)
			return page.NewVisit(httptest.NewRecorder(), r, text)
		}
		n, lane, err := lanes.Of(visit("2", ""))
		require.NoError(h, err)
		assert.Equal(h, 2, n)
		assert.Same(h, h.Lanes[1], lane)
		for _, none := range []string{"0", "3", "x", "-1"} {
			_, _, err = lanes.Of(visit(none, ""))
			assert.EqualError(h, err, "no lane", none)
		}
		_, _, err = lanes.Asked(visit("", ""))
		assert.EqualError(h, err, "choose")
		n, _, err = lanes.Asked(visit("2", "1"))
		require.NoError(h, err)
		assert.Equal(h, 1, n, "what the form says")

		words := page.In("en", text)
		assert.Len(h, lanes.Testing(words, h.Product.Code), 2)
		assert.Empty(h, lanes.Testing(words, "GCC-21"))
		assert.Len(h, lanes.Products(), 1)
		assert.Nil(h, lanes.Holding(func(*product.Product) bool { return false }))
		assert.Zero(h, lanes.With(h.Unit(1)))
		h.Post("operator", "/scan", "text", h.Unit(1), "lane", "1")
		h.Until(1, func(s station.State) bool { return s.Phase == station.Running })
		assert.Equal(h, 1, lanes.With(h.Unit(1)))
		h.Settled(h.Unit(1))
	})
}

// A code is said in words, a kind of calibration in it too; one without words says what
// the program says.
func TestCodesAreSaid(t *testing.T) {
	words := page.In("en", page.Catalogue{"en": {"code.calibration due": "{0} is due", "kind.zero": "the zero"}})
	assert.Equal(t, "the zero is due", control.Say(words, "calibration due", []string{"zero"}, "x"))
	assert.Equal(t, "the log is full", control.Say(words, "log full", nil, "the log is full"))
	list := control.Conditions(words, []station.Condition{{Warning: station.Warning{Code: "calibration due", Args: []string{"zero"}}, Blocks: true}})
	assert.Equal(t, []control.Condition{{Text: "the zero is due", Blocks: true}}, list)
}
