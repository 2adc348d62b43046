package lane_test

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/placing"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/webtest"
	"padjig/fixture/jigsim"
	"padjig/sequence/product"
)

// first is a person at the first screen of a station.
type first struct {
	*webtest.House
	role, screen string
}

func (f first) scan(text string) (status int, goes, say string) {
	f.Helper()
	status, a := f.Post(f.role, "/scan", "text", text, "next", "/", "screen", f.screen)
	return status, a.Go, a.Say
}

func (f first) choose(lane, serial string) (status int, goes, say string) {
	f.Helper()
	status, a := f.Post(f.role, "/lane/"+lane+"/choose", "serial", serial, "screen", f.screen)
	return status, a.Go, a.Say
}

// waits is the number that waits at the person's screen, and the lanes offered for it.
func (f first) waits() (serial string, lanes []int) {
	f.Helper()
	var v struct {
		Choice struct {
			Serial string
			Takers []struct{ Lane int }
		}
	}
	f.Get(f.role, "/?screen="+f.screen, &v)
	for _, taker := range v.Choice.Takers {
		lanes = append(lanes, taker.Lane)
	}
	return v.Choice.Serial, lanes
}

func (f first) untouched(lanes ...int) {
	f.Helper()
	for _, n := range lanes {
		s := f.Lanes[n-1].State()
		assert.Equal(f, station.Ready, s.Phase, "lane %d", n)
		assert.Empty(f, s.Unit.Serial, "lane %d", n)
	}
}

func jigCode(serial string) string { return control.CodeOf(control.JigBegins, serial) }

// vents gives the station one more lane, which tests another product.
func vents(h *webtest.House) *product.Product {
	h.Helper()
	folder := filepath.Dir(webtest.ProductFile(h))
	text, err := os.ReadFile(filepath.Join(folder, "vent-6.yaml"))
	require.NoError(h, err)
	before := h.Product
	h.Product, err = product.Parse("vent-6.yaml", text)
	require.NoError(h, err)
	id := jigsim.Defaults()
	id.Serial = "SIM-VENT"
	h.Plug(id)
	other := h.Product
	h.Product = before
	return other
}

// A unit that is scanned at the first screen waits, visibly, until its jig is chosen, by
// its code or its button, and is tested in that one alone.
func TestWhichJig(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		abel := first{h, "operator", "a"}
		live := h.Listen("operator", "/lanes/live?screen=a")
		for n, how := range []func(serial string) (int, string, string){
			func(string) (int, string, string) { return abel.scan(jigCode("SIM-0002")) },
			func(serial string) (int, string, string) { return abel.choose("2", serial) },
		} {
			serial := h.Unit(n + 1)
			status, goes, say := abel.scan(serial)
			assert.Equal(h, http.StatusOK, status)
			assert.Empty(h, goes)
			assert.Contains(h, say, serial)
			for asks := ""; !strings.Contains(asks, serial); {
				asks = live.Event("choice")
			}
			waits, lanes := abel.waits()
			assert.Equal(h, serial, waits)
			assert.Equal(h, []int{1, 2}, lanes)
			assert.NotEqual(h, serial, h.Lanes[0].State().Unit.Serial)
			assert.NotEqual(h, serial, h.Lanes[1].State().Unit.Serial)
			status, goes, _ = how(serial)
			assert.Equal(h, http.StatusOK, status)
			assert.Equal(h, "/lane/2", goes)
			h.Until(2, func(s station.State) bool { return s.Phase == station.Ended && s.Unit.Serial == serial })
			abel.untouched(1)
			waits, _ = abel.waits()
			assert.Empty(h, waits)
		}
		for _, h.Lang = range []string{"de", "en"} {
			abel.scan(h.Unit(9))
			abel.House.Page("operator", "/")
			h.Post("operator", "/scan", "text", "PJC0NEXT", "next", "/", "screen", "a")
			waits, _ := abel.waits()
			assert.Empty(h, waits)
		}
	})
}

// Its code scanned first, a screen is with a jig until another one's is; nothing is tested
// by a jig's code alone.
func TestTheJigFirst(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		abel := first{h, "operator", "a"}
		status, goes, _ := abel.scan(jigCode("SIM-0002"))
		assert.Equal(h, http.StatusOK, status)
		assert.Equal(h, "/lane/2", goes)
		abel.untouched(1, 2)
		h.Post("operator", "/scan", "text", h.Unit(1), "lane", "2", "next", goes, "screen", "a")
		h.Until(2, func(s station.State) bool { return s.Phase == station.Ended })
		_, a := h.Post("operator", "/scan", "text", jigCode("SIM-0001"), "lane", "2", "next", goes, "screen", "a")
		assert.Equal(h, "/lane/1", a.Go)
		abel.untouched(1)
		for _, none := range []string{jigCode("SIM-0003"), jigCode("SIM-0001")[:9]} {
			status, a := h.Post("operator", "/scan", "text", none, "lane", "2", "screen", "a")
			assert.Equal(h, http.StatusUnprocessableEntity, status)
			assert.Empty(h, a.Go)
			assert.Contains(h, a.Say, "No jig")
		}
		abel.untouched(1)
	})
}

// What waits does so at one screen, for one person, for a minute: nobody else's choice takes it.
func TestWhatWaitsIsOnePersonsAtOneScreen(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		abel := first{h, "operator", "a"}
		abel.scan(h.Unit(1))
		for _, other := range []first{{h, "operator", "b"}, {h, "quality", "a"}} {
			waits, _ := other.waits()
			assert.Empty(h, waits)
			_, goes, _ := other.scan(jigCode("SIM-0001"))
			assert.Equal(h, "/lane/1", goes)
			status, _, say := other.choose("1", h.Unit(1))
			assert.Equal(h, http.StatusConflict, status)
			assert.Contains(h, say, "does not wait")
			abel.untouched(1, 2)
		}
		status, _, _ := abel.choose("1", h.Unit(2)) // the page is of before
		assert.Equal(h, http.StatusConflict, status)
		time.Sleep(placing.Within)
		waits, _ := abel.waits()
		assert.Empty(h, waits)
		status, _, _ = abel.choose("1", h.Unit(1))
		assert.Equal(h, http.StatusConflict, status)
		abel.scan(jigCode("SIM-0001"))
		abel.untouched(1, 2)
		// Another number takes its place, which is said.
		abel.scan(h.Unit(1))
		_, _, say := abel.scan(h.Unit(2))
		assert.Contains(h, say, h.Unit(1)+" was not tested")
		abel.scan(jigCode("SIM-0001"))
		h.Settled(h.Unit(2))
		abel.untouched(2)
	})
}

// A jig that cannot take it, by its product, by the unit in hand or by the screen that
// controls it, leaves it waiting; nothing goes to another jig by itself.
func TestAJigThatCannotTakeIt(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		vent := vents(h).Serial.Complete(1)
		abel := first{h, "operator", "a"}
		status, _, _ := abel.scan("nonsense")
		assert.Equal(h, http.StatusUnprocessableEntity, status)
		abel.scan(vent)
		waits, lanes := abel.waits()
		assert.Equal(h, vent, waits)
		assert.Equal(h, []int{2}, lanes)
		status, _, say := abel.scan(jigCode("SIM-0001"))
		assert.Equal(h, http.StatusConflict, status)
		assert.Contains(h, say, "GCC-20")
		abel.untouched(1, 2)
		waits, _ = abel.waits()
		assert.Equal(h, vent, waits, "it goes on waiting")

		// At the lane of another product: refused there, and it waits for the right jig.
		h.Post("operator", "/scan", "text", "PJC0NEXT", "next", "/", "screen", "a")
		status, a := h.Post("operator", "/scan", "text", vent, "lane", "1", "next", "/lane/1", "screen", "a")
		assert.Equal(h, http.StatusUnprocessableEntity, status)
		assert.Contains(h, a.Say, "SIM-VENT")
		assert.Equal(h, station.SerialWrong, h.Lanes[0].State().Refusal.Code)
		abel.untouched(2)
		h.Post("operator", "/scan", "text", "PJC0NEXT", "lane", "1", "screen", "a")

		// Another screen controls the jig, or it is busy.
		watching := h.Listen("quality", "/lane/1/live?screen=b")
		watching.Event("lane")
		h.Post("quality", "/scan", "text", h.Unit(1), "lane", "1", "screen", "b")
		abel.scan(h.Unit(2))
		status, _, say = abel.choose("1", h.Unit(2))
		assert.Equal(h, http.StatusConflict, status)
		assert.Contains(h, say, h.Unit(1))
		h.Settled(h.Unit(1))
		status, _, say = abel.choose("1", h.Unit(2))
		assert.Equal(h, http.StatusConflict, status)
		assert.Contains(h, say, "Another screen")
		waits, _ = abel.waits()
		assert.Equal(h, h.Unit(2), waits)
		watching.Leave()
		status, _, _ = abel.choose("1", h.Unit(2))
		assert.Equal(h, http.StatusOK, status)
		h.Settled(h.Unit(2))
	})
}
