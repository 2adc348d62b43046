package web_test

import (
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
)

// All pages tell the time by the plant's clock and say which that is, whatever the clock of the
// computer: a unit tested at half past eleven in the evening there belongs to that day.
func TestOneClock(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		time.Sleep(90 * time.Minute) // it is half past one in the night of UTC
		h.Test(h.Unit(1))
		today := time.Now().UTC()
		for zone, c := range map[string]struct{ day, clock, says string }{
			"Atlantic/South_Georgia": {today.AddDate(0, 0, -1).Format(time.DateOnly), "23:30", "Atlantic/South_Georgia (UTC-02:00)"},
			"Asia/Tokyo":             {today.Format(time.DateOnly), "10:30", "Asia/Tokyo (UTC+09:00)"},
		} {
			var err error
			h.Zone, err = time.LoadLocation(zone)
			require.NoError(h, err)
			h.Serve()
			life := h.Page("returns", "/unit?serial="+h.Unit(1))
			assert.Contains(h, life, c.day+" "+c.clock, zone)
			assert.Contains(h, html.UnescapeString(life), "All times: "+c.says)
			days := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/quality/yield?csv=days&simulated=1", Role: "quality"})
			assert.Contains(h, days.Body.String(), c.day, zone)
			assert.NotContains(h, h.Page("operator", "/lane/1"), "UTC+00:00")
		}
	})
}

// How long ago something was is said in steps that people think in; the moment stands behind it.
func TestAgo(t *testing.T) {
	c := texts(t)
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	now := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	for past, want := range map[time.Duration][2]string{
		time.Second: {"just now", "gerade eben"}, 12 * time.Minute: {"12 min ago", "vor 12 min"}, 90 * time.Minute: {"1 h ago", "vor 1 h"},
		25 * time.Hour: {"1 day ago", "vor 1 Tag"}, 50 * time.Hour: {"2 days ago", "vor 2 Tagen"},
		-time.Minute: {"2026-03-02 13:01", "2026-03-02 13:01"}, 30 * 24 * time.Hour: {"2026-01-31 13:00", "2026-01-31 13:00"},
	} {
		for i, lang := range []string{"en", "de"} {
			assert.Equal(t, want[i], page.In(lang, c).By(berlin).Ago(now.Add(-past), now), past)
		}
	}
}

// No page says a time by the clock of the computer, nor of UTC, where the plant has another.
func TestEveryPageTellsThePlantsTime(t *testing.T) {
	webtest.At(t, 1, "\nreferences: {every: 8 h, good: REF-1}\n", func(h *webtest.House) {
		var err error
		h.Zone, err = time.LoadLocation("Pacific/Kiritimati") // fourteen hours before UTC
		require.NoError(h, err)
		h.Serve()
		time.Sleep(187 * time.Minute) // it is seven minutes past three by the clock of UTC
		h.Test("REF-1")
		h.Put("key 7 open")
		failed := h.Test(h.Unit(1))
		refused := h.Test(h.Unit(2))
		require.Equal(h, station.FailNotPlaced, refused.Refusal.Code)
		here := h.Says()
		h.PutAway()
		h.Came(h.Unit(1))
		for _, form := range [][]string{{"/jigs/1/wear", "part", "nest", "lot", "7"}, {"/lots", "lane", "1", "membrane", "M-7", "seq", "0"}} {
			status, said := h.Post("engineer", form[0], form[1:]...)
			require.Equal(h, http.StatusOK, status, said.Say)
		}
		wrong := regexp.MustCompile(`[^T\d:.]03:0\d\b|>2000-01-01 03`)
		assert.NotRegexp(h, wrong, here.Line+" "+here.Next+" "+strings.Join(here.Steps, " "), "the lane that waits for a unit")
		paths := []string{"/lane/1", "/jigs/1", "/jigs/1/do/zero", "/jigs/1/do/references", "/jig?serial=SIM-0001&simulated=true",
			"/unit?serial=" + h.Unit(1), "/unit?serial=" + h.Unit(2), "/products/GCC-20", "/find?part=GCC", "/tag/" + failed.Verdict.ID.String()}
		for _, p := range h.Site.All().Pages {
			if !strings.Contains(p.Path, "{") {
				paths = append(paths, p.Path)
			}
		}
		right := 0
		for _, path := range paths {
			for _, role := range []string{"engineer", "quality", "returns", "operator"} {
				w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: path, Role: role})
				if w.Code != http.StatusOK {
					continue
				}
				said := html.UnescapeString(w.Body.String())
				assert.NotRegexp(h, wrong, said, "%s as %s", path, role)
				right += strings.Count(said, "17:0")
			}
		}
		assert.Greater(h, right, 20, "times of the plant are there")
	})
}
