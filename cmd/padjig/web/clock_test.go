package web_test

import (
	"html"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
