package desk_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/webtest"
)

// The page of a unit that failed on the line begins with what was done to it, at the place where
// it failed, and then says that it is tested again. A return is taken in below.
func TestAUnitThatFailedIsRepaired(t *testing.T) {
	webtest.At(t, 1, strings.Replace(webtest.Demanding, "2 units", "500 units", 1), func(h *webtest.House) {
		h.Test("REF-G")
		h.Put("key 7 open")
		h.Test("REF-B")
		assert.Empty(h, lifeOf(h, "REF-B").Mending, "it fails on purpose")
		unit := h.Unit(1)
		h.Test(unit)
		assert.Equal(h, "rework", lifeOf(h, unit).Mending)
		html := h.Page("returns", desk.UnitAddress(unit))
		now, rest, _ := strings.Cut(html, `<div class="figures">`)
		assert.Contains(h, now, `action="/returns/rework"`)
		assert.Contains(h, now, `<option value="key 7" selected>`)
		assert.NotContains(h, now, `action="/returns/intake"`)
		assert.Contains(h, rest, `action="/returns/intake"`, "it may have come back all the same")
		assert.Equal(h, 1, strings.Count(html, `id="did"`))

		h.Put("channel 4 dirty 80 ohm") // a run that says nothing changes nothing
		h.PutAway()
		h.Test(unit)
		assert.Equal(h, "rework", lifeOf(h, unit).Mending)
		status, a := h.Post("returns", "/returns/rework", "serial", unit, "did", "contact cleaned", "at", "key 7")
		assert.Equal(h, http.StatusOK, status, a.Say)
		assert.Equal(h, "again", lifeOf(h, unit).Mending)
		assert.Contains(h, h.Page("returns", desk.UnitAddress(unit)), `id="more-rework"`, "there may be more of it")
		h.Put("")
		h.PutAway()
		time.Sleep(time.Minute)
		h.Test(unit)
		assert.Empty(h, lifeOf(h, unit).Mending)
		assert.Contains(h, h.Page("returns", desk.UnitAddress(unit)), `action="/returns/intake"`)

		h.Put("key 7 open; key 8 open")
		h.Test(h.Unit(2))
		assert.Equal(h, "rework", lifeOf(h, h.Unit(2)).Mending)
		assert.NotContains(h, h.Page("returns", desk.UnitAddress(h.Unit(2))), `" selected>`, "two places are nobody's choice")
		h.PutAway()
		assert.Empty(h, lifeOf(h, h.Unit(3)).Mending)
	})
}
