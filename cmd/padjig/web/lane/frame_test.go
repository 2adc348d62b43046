package lane_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/legible"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/webtest"
)

// Pages take their sizes from the screen that the station was told, without a style in the
// page; on one that is too small the fixture engineer is told from where it can be read.
func TestALaneKnowsItsScreen(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		style := func() string {
			return webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/static/screen.css", Role: "operator"}).Body.String()
		}
		small := func(role string) string {
			var v lane.View
			require.Equal(h, http.StatusOK, h.Get(role, "/lane/1", &v))
			return v.Small
		}
		assert.Contains(h, style(), "/ 609.6)", "24 inches, where nothing is said")
		assert.Empty(h, small("engineer"))
		var err error
		h.Screen, err = legible.Of("15.6in", "3m")
		require.NoError(h, err)
		h.Serve()
		assert.Contains(h, style(), "/ 396.24)")
		assert.Contains(h, small("engineer"), "3.0 m need: this screen is read from 1.4 m")
		assert.Empty(h, small("operator"), "who can do nothing about it")
		for _, h.Lang = range []string{"de", "en"} {
			page := h.Page("engineer", "/lane/1")
			assert.Contains(h, page, "/static/screen.css?")
			assert.NotContains(h, page, "style=")
		}
	})
}
