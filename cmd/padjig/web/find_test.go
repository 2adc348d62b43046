package web_test

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/webtest"
)

// Units are found by any part of their number, from every page; whoever may not open the page
// of a unit sees what became of it and its tag.
func TestFindUnits(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		for n := 1; n <= 3; n++ {
			h.Test(h.Unit(n))
		}
		h.Came(h.Unit(2))
		h.Came(h.Unit(700)) // never tested here
		type found struct {
			Units []struct {
				Serial, Product, Verdict string
				Case                     int64
				Simulated                bool
			}
			More bool
		}
		look := func(role, part string) (f found) {
			assert.Equal(h, http.StatusOK, h.Get(role, "/find?part="+part, &f), part)
			return f
		}
		f := look("operator", "gcc-00000")
		if assert.Len(h, f.Units, 3) {
			assert.Equal(h, h.Unit(3), f.Units[0].Serial, "tested last")
			assert.Equal(h, "passed", f.Units[0].Verdict)
			assert.Equal(h, "GCC-20 C", f.Units[0].Product)
			assert.True(h, f.Units[0].Simulated)
			assert.EqualValues(h, 1, f.Units[1].Case, "it is open")
			assert.Zero(h, f.Units[0].Case)
		}
		f = look("operator", "0700")
		if assert.Len(h, f.Units, 1) {
			assert.Equal(h, "never tested here", f.Units[0].Verdict)
		}
		for _, none := range []string{"", "GCC-9", "%25", "_", "'", "*", "%5C"} {
			assert.Empty(h, look("operator", none).Units, none)
		}
		assert.Contains(h, h.Page("operator", "/find?part=GCC"), "/tag/")
		assert.NotContains(h, h.Page("operator", "/find?part=GCC"), desk.UnitAddress(h.Unit(1)))
		assert.Contains(h, h.Page("returns", "/find?part=GCC"), desk.UnitAddress(h.Unit(1)))
		w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/find?part=" + h.Unit(1), Role: "returns"})
		assert.Equal(h, desk.UnitAddress(h.Unit(1)), w.Header().Get("Location"), "the whole number is its page")
		w = webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/find?part=00700", Role: "returns"})
		assert.Equal(h, desk.UnitAddress(h.Unit(700)), w.Header().Get("Location"), "so is a part that one unit has")
		for _, path := range []string{"/lane/1", "/fails", "/codes", "/find"} {
			assert.Contains(h, h.Page("operator", path), `id="find"`, path)
		}
		for n := 800; n < 825; n++ {
			h.Came(h.Unit(n))
		}
		f = look("operator", "008")
		assert.Len(h, f.Units, 20)
		assert.True(h, f.More)
		assert.Contains(h, h.Page("operator", "/find?part=008"), fmt.Sprintf("These are the %d tested last", 20))
	})
}
