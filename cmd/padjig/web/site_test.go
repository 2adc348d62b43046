package web_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
)

// Barcodes do what they say; a page that is no lane's looks a unit up for those
// who may, and nothing is done for nobody.
func TestScans(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		for name, c := range map[string]struct {
			role   string
			form   []string
			status int
			wants  page.Answer // as far as it is not empty
		}{
			"a command that is none":     {"operator", []string{"text", "PJC0FLY", "lane", "1"}, 422, page.Answer{Say: "FLY"}},
			"stop without a lane":        {"operator", []string{"text", "PJC0STOP"}, 422, page.Answer{}},
			"stop at a lane":             {"operator", []string{"text", "PJC0STOP", "lane", "1"}, 200, page.Answer{}},
			"next at no lane":            {"operator", []string{"text", "PJC0NEXT", "lane", "3"}, 404, page.Answer{}},
			"here":                       {"operator", []string{"text", "PJC0HERE", "lane", "2"}, 200, page.Answer{}},
			"sound":                      {"operator", []string{"text", "PJC0SOUND"}, 200, page.Answer{Do: "sound"}},
			"a unit for the desk":        {"returns", []string{"text", "GCC-1/2", "next", "/returns"}, 200, page.Answer{Go: "/unit?serial=GCC-1%2F2"}},
			"a unit for an operator":     {"operator", []string{"text", "GCC-1", "next", "/codes"}, 422, page.Answer{Say: "GCC-1"}},
			"a unit on the page of all":  {"returns", []string{"text", "GCC-1", "next", "/"}, 422, page.Answer{Say: "GCC-1"}},
			"a unit at no lane":          {"operator", []string{"text", "GCC-1", "lane", "x"}, 404, page.Answer{}},
			"a badge of nobody":          {"operator", []string{"text", account.NewBadge()}, 403, page.Answer{}},
			"a scan that lay in a queue": {"operator", []string{"text", "GCC-1", "lane", "1", "heard", "946684800000"}, 409, page.Answer{Say: "GCC-1"}},
		} {
			time.Sleep(time.Minute)
			status, got := h.Post(c.role, "/scan", c.form...)
			assert.Equal(h, c.status, status, name)
			assert.Contains(h, got.Say, c.wants.Say, name)
			assert.Equal(h, c.wants.Go, got.Go, name)
			assert.Equal(h, c.wants.Do, got.Do, name)
		}
		w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Method: "POST", Path: "/scan", Form: map[string][]string{"text": {h.Unit(1)}, "lane": {"1"}}})
		assert.Equal(h, http.StatusForbidden, w.Code, "nobody is signed in")
		assert.Empty(h, h.Lanes[0].State().Unit.Serial)
		status, got := h.Post("operator", "/scan", "text", "PJC0LEFT")
		assert.Equal(h, http.StatusOK, status)
		assert.Equal(h, "/door", got.Go)
		assert.Equal(h, http.StatusUnauthorized, h.Get("operator", "/lane/1", nil))
	})
}

// Records that cannot be read are the station's fault and said as that, on pages
// and to scripts.
func TestRecordsThatCannotBeRead(t *testing.T) {
	webtest.At(t, 1, webtest.Demanding, func(h *webtest.House) {
		c := h.Came(h.Unit(1))
		for _, table := range []string{"reference_check", "wear_event", "calibration", "run", "release", "return_photo", "return_case"} {
			h.Spoil("ALTER TABLE " + table + " RENAME TO gone_" + table)
		}
		for _, path := range []string{"/jigs", "/jigs/1", "/products", "/products/GCC-20", desk.UnitAddress(h.Unit(1)), "/returns", "/tag/" + c.ID.String(),
			"/returns/report/1", "/returns/check?case=1", "/returns/ohms?case=1"} {
			assert.Equal(h, http.StatusInternalServerError, h.Get("engineer", path, nil), path)
			w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: path, Role: "engineer"})
			assert.Contains(h, w.Body.String(), "The station could not do it", path)
		}
		for path, form := range map[string][]string{
			"/jigs/1/wear":             {"part", "nest"},
			"/products/GCC-20/check":   {"text", h.Text},
			"/products/GCC-20/release": {"back", "1", "reason", "as it was before"},
			"/returns/intake":          {"serial", h.Unit(2), "complaint", "key dead", "condition", "dirty"},
			"/returns/dispose":         {"case", "1", "code", "confirmed"},
			"/returns/stage":           {"case", "1", "lane", "1", "purpose", "first press"},
		} {
			status, said := h.Post("engineer", path, form...)
			assert.Equal(h, http.StatusInternalServerError, status, path)
			assert.Contains(h, said.Say, "The station could not do it", path)
		}
	})
}

// A table comes as a file, a unit's page in the other language too, and a live page is let
// go of when the station ends.
func TestFilesAndStreams(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		live := h.Listen("operator", "/lane/1/live")
		h.Test(h.Unit(1))
		live.Event("lane")
		file := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/quality/yield?csv=yield&simulated=1", Role: "quality"})
		assert.Equal(h, http.StatusOK, file.Code)
		assert.Equal(h, "text/csv; charset=utf-8; header=present", file.Header().Get("Content-Type"))
		assert.Contains(h, file.Header().Get("Content-Disposition"), "padjig-yield.csv")
		assert.Equal(h, http.StatusNotFound, h.Get("quality", "/quality/yield?csv=none", nil))
		for _, h.Lang = range []string{"de", "en"} {
			h.Page("operator", "/lane/1")
			h.Page("engineer", "/jigs/1")
			h.Page("returns", "/unit?serial="+h.Unit(1))
		}
		shown := h.Send("engineer", "/products/GCC-20/check", "text/html", "text", "product: X")
		assert.Equal(h, http.StatusOK, shown.Code)
		assert.Contains(h, shown.Body.String(), "product: X", "a page is shown in answer")
		back := h.Send("operator", "/lane/1/next", "text/html")
		assert.Equal(h, http.StatusSeeOther, back.Code, "a browser stays where it was")
		h.Came(h.Unit(1))
		report := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/returns/report/1", Role: "returns"})
		assert.NotEqual(h, web.Policy, report.Header().Get("Content-Security-Policy"), "a document has its own")
		h.Site.End()
		for range live.Lines { // until it ends
		}
	})
}
