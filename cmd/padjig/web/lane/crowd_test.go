package lane_test

import (
	"context"
	"database/sql"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/store"
)

// deaf is a browser that has taken the beginning of a stream and takes nothing more.
type deaf struct {
	header http.Header
	took   int
	stuck  chan struct{} // closed when something waits to be taken
	gone   chan struct{}
}

func (d *deaf) Header() http.Header              { return d.header }
func (d *deaf) WriteHeader(int)                  {}
func (d *deaf) Flush()                           {}
func (d *deaf) SetWriteDeadline(time.Time) error { return nil }
func (d *deaf) Write(b []byte) (int, error) {
	if d.took++; d.took == 4 {
		close(d.stuck)
		<-d.gone
	}
	return len(b), nil
}

// A screen that takes nothing any more, at the first lane, and reports that take as many connections as may read at once: units
// are scanned, tested, stored and shown at both lanes all the same. A page that asks for figures waits.
func TestReportsAndDeafScreensHoldUpNoLane(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		screen := &deaf{header: http.Header{}, stuck: make(chan struct{}), gone: make(chan struct{})}
		ctx, leave := context.WithCancel(h.Context())
		r := httptest.NewRequestWithContext(ctx, http.MethodGet, "http://"+webtest.OurHost+"/lane/1/live?screen=deaf", nil)
		r.Host = webtest.OurHost
		r.AddCookie(&http.Cookie{Name: "padjig", Value: "token of operator"})
		var others sync.WaitGroup
		others.Go(func() { h.Handler.ServeHTTP(screen, r) })
		watching := []*webtest.Listener{h.Listen("operator", "/lane/1/live?screen=a"), h.Listen("operator", "/lane/2/live?screen=b")}
		synctest.Wait()

		end := make(chan struct{})
		for range store.MaxReaders {
			others.Go(func() {
				assert.NoError(h, h.Store.View(context.Background(), func(*sql.Tx) error { <-end; return nil }))
			})
		}
		synctest.Wait() // each has its connection
		figures := false
		others.Go(func() {
			h.Page("quality", "/quality/yield")
			figures = true
		})
		for n, live := range watching {
			serial := h.Unit(n + 1)
			code, _ := h.Post("operator", "/scan", "text", serial, "lane", string(rune('1'+n)), "screen", string(rune('a'+n)))
			require.Equal(h, http.StatusOK, code)
			st := h.Until(n+1, func(s station.State) bool { return s.Unit.Serial == serial && !s.Phase.Busy() })
			assert.Equal(h, station.Ended, st.Phase, "lane %d: %v", n+1, st.Refusal)
			for shown := ""; !strings.Contains(shown, `data-phase=\"ended\"`) || !strings.Contains(shown, serial); {
				shown = live.Event("lane")
			}
		}
		<-screen.stuck // it was to be told of a unit
		synctest.Wait()
		assert.False(h, figures, "nobody answers figures while every connection is taken")
		close(end)
		close(screen.gone)
		leave()
		others.Wait()
		for n := range watching {
			stored, err := h.Store.Runs.Unit(h.Context(), h.Unit(n+1))
			require.NoError(h, err)
			assert.Len(h, stored, 1)
		}
	})
}
