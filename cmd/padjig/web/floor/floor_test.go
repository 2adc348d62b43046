package floor_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/floor"
	"padjig/cmd/padjig/web/webtest"
)

// Whoever changes material records it, as it is scanned; what is no lot, what somebody
// else changed meanwhile, and a change while a unit is tested are refused.
func TestLotsAreChangedAtTheLine(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		var v floor.InUse
		change := func(role, lane string, seq int64, pairs ...string) int {
			code, _ := h.Post(role, "/lots", append([]string{"lane", lane, "seq", fmt.Sprint(seq)}, pairs...)...)
			return code
		}
		for i, role := range account.Roles {
			require.Equal(h, 200, h.Get(string(role), "/lots", &v), role)
			assert.Equal(h, 200, change(string(role), "1", v.Lines[0].Seq, "dome", fmt.Sprint("D-26", i), "membrane", ""), role)
		}
		assert.Equal(h, 303, h.Send("", "/lots", "text/html", "lane", "1", "dome", "D-9").Code, "nobody changes nothing")
		h.Get("operator", "/lots", &v)
		assert.Equal(h, "D-263", v.Lines[0].Materials[1].Lot)
		assert.Empty(h, v.Lines[0].Materials[0].Lot)
		require.Len(h, v.Lines[0].History, 4)
		assert.Equal(h, "engineer", v.Lines[0].History[0].By)
		assert.Equal(h, []string{"dome D-263"}, v.Lines[0].History[0].Lots)
		assert.Empty(h, v.Lines[1].History, "the other line has its own")
		seq := v.Lines[0].Seq
		assert.Equal(h, 409, change("operator", "1", seq-1, "dome", "D-300"), "somebody changed it since")
		assert.Equal(h, 422, change("operator", "1", seq, "dome", "D-263"), "nothing new")
		for _, no := range []string{account.NewBadge(), "PJCstop", h.Unit(3), "D\x07"} {
			assert.Equal(h, 422, change("operator", "1", seq, "dome", no), no)
		}
		assert.Equal(h, 404, change("operator", "9", seq, "dome", "D-300"))
		assert.Equal(h, 422, change("operator", "", seq, "dome", "D-300"))
		require.Equal(h, 200, h.Send("operator", "/scan", "application/json", "text", h.Unit(1), "lane", "1").Code)
		h.Until(1, func(s station.State) bool { return s.Phase.Busy() })
		assert.Equal(h, 409, change("operator", "1", seq, "dome", "D-300"), "the unit in hand is of the lots of before")
		h.Settled(h.Unit(1))
		assert.Equal(h, 200, change("operator", "1", seq, "dome", "D-300"))
		for _, role := range account.Roles {
			h.Page(string(role), "/lots")
		}
	})
}

// The plan is set by quality and engineers, by the rules of the terminal; what is wrong
// stands beside its shift, and what was typed stays.
func TestTheShiftPlanIsSet(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		for _, role := range []string{"operator", "returns"} {
			assert.Equal(h, 403, h.Get(role, "/shifts", nil), role)
			assert.Equal(h, 403, h.Send(role, "/shifts", "application/json", "zone", "UTC").Code, role)
		}
		h.Page("quality", "/shifts")
		good := []string{"zone", "Europe/Vienna", "reason", "five days a week", "name-0", "early", "begins-0", "06:00", "ends-0", "14:00",
			"name-3", "night", "begins-3", "22:00", "ends-3", "06:00", "days-3", "5"}
		for day := range 5 {
			good = append(good, "days-0", fmt.Sprint(day))
		}
		refused := func(pairs ...string) map[string]string {
			code, said := h.Post("quality", "/shifts", pairs...)
			assert.Equal(h, 422, code)
			at := map[string]string{}
			for _, m := range said.Fields {
				at[m.Field] = m.Say
			}
			return at
		}
		at := refused("zone", "Mars", "reason", "x", "name-0", "early", "begins-0", "6", "ends-0", "14:00", "days-0", "0", "name-1", "late", "begins-1", "13:00", "ends-1", "22:00")
		assert.Len(h, at, 4, "%v", at)
		assert.Contains(h, at["zone"], "“Mars” is not known")
		assert.Contains(h, at["reason"], "8 letters")
		assert.Contains(h, at["begins-0"], "“6” is no time of day")
		assert.Contains(h, at["days-1"], "Choose the days")
		at = refused(append(good, "name-5", "late", "begins-5", "13:00", "ends-5", "22:00", "days-5", "4")...)
		assert.Equal(h, map[string]string{"name-5": "The shifts early 06:00-14:00 mon-fri and late 13:00-22:00 fri overlap."}, at)
		assert.NotEmpty(h, refused("zone", "UTC", "reason", "nothing at all")["name-0"])
		none, err := h.Store.Floor.Shifts(h.Context())
		require.NoError(h, err)
		assert.Nil(h, none, "nothing of it was set")

		require.Equal(h, 303, h.Send("quality", "/shifts", "text/html", good...).Code)
		var v floor.Plan
		h.Get("engineer", "/shifts", &v)
		assert.True(h, v.Set)
		assert.Equal(h, "quality", v.By)
		assert.Equal(h, "mon-fri", v.Rows[0].Words)
		require.Len(h, v.Coming, 6, "five early shifts and one night")
		require.Len(h, v.Clocks, 2, "the night from Saturday to Sunday, twice a year")
		h.Page("engineer", "/shifts")
		now := time.Now()
		assert.True(h, v.Coming[0].To.After(now.Add(-24*time.Hour)))
	})
}
