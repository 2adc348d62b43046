package desk_test

import (
	"encoding/json"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/webtest"
	"padjig/sequence"
)

// A key of any unit in a jig is watched, also of one that has no case and was never tested, twenty times a
// second; what it read least and most begins anew when it is asked to. A unit that came back is not
// pressed before its first press, whatever page asks.
func TestAKeyIsWatchedWithoutACase(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		address := "/returns/ohms?serial=" + url.QueryEscape(serial)
		assert.Contains(h, h.Page("returns", "/returns/ohms"), `name="serial"`)
		assert.Equal(h, 422, h.Get("returns", "/returns/ohms?serial=X-1", nil), "nobody's number")
		var v desk.OhmsView
		require.Equal(h, 200, h.Get("returns", address, &v))
		assert.Zero(h, v.Case)
		require.Len(h, v.Jigs, 1)
		h.Page("returns", address)
		permit := func(who string) string {
			status, said := h.Post(who, "/returns/ohms", "serial", serial, "lane", "1", "key", "7")
			require.Equal(h, 200, status, said.Say)
			h.Page(who, said.Go)
			_, id, _ := strings.Cut(said.Go, "watch=")
			return id
		}
		id := permit("returns")
		watch := h.Listen("returns", "/returns/ohms/"+id+"/live")
		watch.Event("ohms")
		began := time.Now()
		for range 40 {
			watch.Event("ohms")
		}
		assert.LessOrEqual(h, time.Since(began), 2200*time.Millisecond, "of the jig's time: twenty a second")
		var now struct{ Count, Least, Most, Drops string }
		require.NoError(h, json.Unmarshal([]byte(watch.Event("ohms")), &now))
		assert.Contains(h, now.Least, "Ω")
		assert.Contains(h, now.Most, "Ω")
		assert.Equal(h, "0", now.Drops)
		assert.NotEqual(h, "1", now.Count)

		status, _ := h.Post("quality", "/returns/ohms/reset", "watch", id)
		assert.Equal(h, 422, status, "another's watch")
		status, said := h.Post("returns", "/returns/ohms/reset", "watch", id)
		assert.Equal(h, 200, status, said.Say)
		assert.Empty(h, said.Go, "the page stays")
		for len(watch.Lines) > 0 {
			<-watch.Lines
		}
		require.NoError(h, json.Unmarshal([]byte(watch.Event("ohms")), &now))
		assert.Len(h, now.Count, 1, "they began anew")

		second := h.Listen("quality", "/returns/ohms/"+permit("quality")+"/live")
		assert.Contains(h, second.Event("over"), "not free", "one jig, one watch")
		assert.Equal(h, station.Exclusive, h.Lanes[0].State().Phase)
		watch.Leave()
		h.Until(1, func(s station.State) bool { return !s.Phase.Busy() })
		status, _ = h.Post("returns", "/returns/ohms/reset", "watch", id)
		assert.Equal(h, 422, status, "it is over")

		before := h.Jigs[0].Counts().Presses
		id = permit("returns") // and then it is taken in as a return
		c := h.Came(serial)
		assert.Contains(h, h.Listen("returns", "/returns/ohms/"+id+"/live").Event("over"), "first press of case 1 is not stored yet")
		status, _ = h.Post("returns", "/returns/ohms", "serial", serial, "lane", "1", "key", "7")
		assert.Equal(h, 422, status)
		require.Equal(h, 200, h.Get("returns", address, &v))
		assert.NotEmpty(h, v.Refused)
		assert.Equal(h, before, h.Jigs[0].Counts().Presses)
		h.Stage(c, sequence.FirstPress)
		permit("returns")
		list, err := h.Store.Runs.Unit(h.Context(), serial)
		require.NoError(h, err)
		assert.Len(h, list, 1, "a watch is no run")
	})
}
