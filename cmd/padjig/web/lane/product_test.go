package lane_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/releases/releasestest"
)

// A code, a button or a typed line change the product of a lane, for those who may, at the
// screen that controls it; whatever else is scanned for one changes nothing.
func TestAProductIsChangedAtTheLane(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		require.NoError(h, releasestest.Release(h.Context(), h.Store, strings.Replace(h.Text, "product: GCC-20", "product: GCC-24", 1)))
		code := control.CodeOf(control.ProductBegins, "GCC-24")
		tests := func() string { return h.Lanes[0].State().Product.Code }
		for role, wants := range map[string]string{"operator": "GCC-24", "quality": "GCC-24", "engineer": "GCC-24", "returns": ""} {
			var v lane.View
			h.Get(role, "/lane/1", &v)
			assert.Equal(h, wants, strings.Join(v.Products, ","), role)
		}
		for name, ask := range map[string]struct {
			role   string
			form   []string
			status int
			say    string
		}{
			"cut":            {"operator", []string{"text", code[:9], "lane", "1"}, http.StatusUnprocessableEntity, "GCC-20, GCC-24"},
			"of no product":  {"operator", []string{"text", control.CodeOf(control.ProductBegins, "GCC-25"), "lane", "1"}, http.StatusUnprocessableEntity, "GCC-20, GCC-24"},
			"typed wrongly":  {"operator", []string{"text", "product GCC-2", "lane", "1"}, http.StatusConflict, "No revision of GCC-2 is in force"},
			"at no lane":     {"operator", []string{"text", code}, http.StatusUnprocessableEntity, ""},
			"by returns":     {"returns", []string{"text", code, "lane", "1"}, http.StatusForbidden, ""},
			"out of a queue": {"operator", []string{"text", code, "lane", "1", "heard", "946684800000"}, http.StatusConflict, ""},
			"as it is":       {"operator", []string{"text", control.CodeOf(control.ProductBegins, "GCC-20"), "lane", "1"}, http.StatusConflict, "already"},
		} {
			time.Sleep(time.Minute)
			status, a := h.Post(ask.role, "/scan", ask.form...)
			assert.Equal(h, ask.status, status, name)
			assert.Contains(h, a.Say, ask.say, name)
			assert.Equal(h, "GCC-20", tests(), name)
		}
		status, _ := h.Post("returns", "/lane/1/product", "product", "GCC-24")
		assert.Equal(h, http.StatusForbidden, status)
		watching := h.Listen("quality", "/lane/1/live?screen=b")
		watching.Event("lane")
		h.Post("quality", "/lane/1/here", "screen", "b")
		status, a := h.Post("operator", "/scan", "text", code, "lane", "1", "screen", "a")
		assert.Equal(h, http.StatusConflict, status)
		assert.Contains(h, a.Say, "Another screen")
		watching.Leave()

		for _, change := range [][]string{
			{"/scan", "text", code, "lane", "1"}, {"/lane/1/product", "product", "GCC-20"}, {"/scan", "text", "product GCC-24", "lane", "1"},
		} {
			before := tests()
			status, a := h.Post("operator", change[0], change[1:]...)
			assert.Equal(h, http.StatusOK, status, a.Say)
			assert.Equal(h, "/lane/1", a.Go)
			assert.NotEqual(h, before, tests())
			assert.Contains(h, h.Says().Note, tests())
		}
		h.Test(h.Unit(1))
		assert.Equal(h, station.Ended, h.Lanes[0].State().Phase)
		for _, h.Lang = range []string{"de", "en"} {
			h.Page("operator", "/lane/1")
			assert.Contains(h, h.Page("operator", "/codes"), code)
		}
	})
}
