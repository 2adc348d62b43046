package jigs_test

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/lid"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/jigs"
	"padjig/cmd/padjig/web/webtest"
	"padjig/fixture/circuit"
	"padjig/fixture/jigsim/world"
	"padjig/results/answers/gauge"
	"padjig/results/studies"
	"padjig/sequence"
	"padjig/sequence/refbox"
)

// engineer is a fixture engineer at the page of a guide.
type engineer struct{ *webtest.House }

func (e engineer) sees(path string) (g jigs.Guide) {
	e.Helper()
	require.Equal(e, http.StatusOK, e.Get("engineer", path, &g))
	e.Page("engineer", path)
	return g
}

// lays puts the plug or a box in.
func (e engineer) lays(keypad *circuit.Keypad, faults string) {
	e.Helper()
	planted, err := world.ParseFaults(faults, keypad)
	require.NoError(e, err)
	require.NoError(e, e.Jigs[0].Load(world.Unit{Keypad: keypad, Wiring: world.Straight(len(keypad.Lines)), Faults: planted, Seed: 3}))
}

func (e engineer) plug(faults string) { e.lays(world.Plug(64), faults) }

func (e engineer) box(name string) {
	e.Helper()
	box, err := refbox.Load(boxFile(e.T, name))
	require.NoError(e, err)
	var all []world.Resistor
	for _, r := range box.Resistors {
		all = append(all, world.Resistor{A: r.Pins[0] - 1, B: r.Pins[1] - 1, Ohm: r.Ohm})
	}
	e.lays(world.Box(64, all), "")
}

func boxFile(t *testing.T, name string) string {
	return filepath.Join(filepath.Dir(filepath.Dir(webtest.ProductFile(t))), "boxes", name+".yaml")
}

// over waits until the calibration in hand is over.
func (e engineer) over() {
	e.Helper()
	e.Until(1, func(s station.State) bool { return !s.Phase.Busy() })
	synctest.Wait()
}

func (e engineer) calibrations() int {
	e.Helper()
	list, err := e.Store.Care.Calibrations(e.Context(), "SIM-0001", true)
	require.NoError(e, err)
	return len(list)
}

// verifies sends the form of a verification with the file of a box.
func (e engineer) verifies(name string, text []byte) *httptest.ResponseRecorder {
	e.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	require.NoError(e, form.WriteField("token", door.FormToken("token of engineer")))
	if text != nil {
		w, err := form.CreateFormFile("boxfile", name)
		require.NoError(e, err)
		_, err = w.Write(text)
		require.NoError(e, err)
	}
	require.NoError(e, form.Close())
	return webtest.SendBody(e.Handler, http.MethodPost, "/jigs/1/verify", form.FormDataContentType(), &body, int64(body.Len()))
}

// A jig is zeroed and verified on its page by the order of the terminal: hands out and lid
// closed, wait, every value against its limit, then what is next.
func TestZeroAndVerifyOnThePage(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		e := engineer{h}
		assert.Equal(h, 403, h.Get("operator", "/jigs/1/do/zero", nil))
		assert.Equal(h, 404, h.Get("engineer", "/jigs/1/do/polish", nil))
		before := e.sees("/jigs/1/do/verify")
		assert.Nil(h, before.Start, "there is no zero to take off its readings")
		assert.Equal(h, "/jigs/1/do/zero", before.Go.Path)

		h.Jigs[0].Lid(true)
		status, said := h.Post("engineer", "/jigs/1/zero")
		require.Equal(h, 200, status, said.Say)
		time.Sleep(time.Second)
		g := e.sees("/jigs/1/do/zero")
		assert.True(h, g.Busy)
		assert.Contains(h, g.Wait, "Closing it is the start")
		assert.Nil(h, g.Start)
		status, _ = h.Post("engineer", "/jigs/1/zero")
		assert.Equal(h, 409, status, "a second one, sent twice")
		assert.Equal(h, "CALIBRATED", h.Says().Word, "whoever stands at the lane is told")
		e.plug("channel 4 adds 0.5 ohm")
		h.Jigs[0].Lid(false)
		e.over()
		g = e.sees("/jigs/1/do/zero")
		require.NotNil(h, g.Result, g.Why)
		assert.True(h, g.Result.Good)
		require.Len(h, g.Result.Rows, 64)
		assert.InDelta(h, 0.25, g.Result.Rows[3].Part, 0.01, "0.5 of 2 ohm")
		assert.Equal(h, "/jigs/1/do/verify", g.Go.Path)

		for name, file := range map[string][]byte{"none": nil, "no box": []byte("box: RB-1\n")} {
			assert.Equal(h, 422, e.verifies("rb.yaml", file).Code, name)
		}
		text, err := os.ReadFile(boxFile(t, "rb-1"))
		require.NoError(h, err)
		e.box("rb-1-sister")
		assert.Equal(h, http.StatusSeeOther, e.verifies("rb-1.yaml", text).Code)
		e.over()
		g = e.sees("/jigs/1/do/verify")
		assert.Nil(h, g.Result)
		assert.Contains(h, g.Why, "nothing was recorded")
		assert.NotEmpty(h, g.Remedy)
		assert.Equal(h, 1, e.calibrations())

		e.box("rb-1")
		status, said = h.Post("engineer", "/jigs/1/verify", "box", "RB-1-0007")
		require.Equal(h, 200, status, "%s: a box that was brought once is at hand", said.Say)
		e.over()
		g = e.sees("/jigs/1/do/verify")
		require.NotNil(h, g.Result, g.Why)
		assert.True(h, g.Result.Good, g.Result.Why)
		assert.Equal(h, 2, e.calibrations())
		var v jigs.View
		h.Get("engineer", "/jigs/1", &v)
		assert.False(h, v.Next.Due)
		assert.Equal(h, "90 days", v.Verify.Left)
		h.Test(h.Unit(1))
	})
}

// Stopped, unplugged, or begun on a lane that is not free: nothing is recorded, and it is said.
func TestCalibrationThatComesToNothing(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		e := engineer{h}
		h.Jigs[0].Lid(true)
		status, _ := h.Post("engineer", "/jigs/1/zero")
		require.Equal(h, 200, status)
		status, said := h.Post("engineer", "/jigs/1/halt", "back", "/jigs/1/do/zero")
		assert.Equal(h, 200, status)
		assert.Equal(h, "/jigs/1/do/zero", said.Go)
		e.over()
		assert.Equal(h, "Stopped; nothing was recorded.", e.sees("/jigs/1/do/zero").Why)

		status, _ = h.Post("engineer", "/jigs/1/zero")
		require.Equal(h, 200, status)
		e.over() // the patience for the lid is over
		assert.Equal(h, "The lid was open; nothing was recorded.", e.sees("/jigs/1/do/zero").Why)

		status, _ = h.Post("engineer", "/jigs/1/zero")
		require.Equal(h, 200, status)
		h.Ports.Unplug("sim/SIM-0001")
		e.over()
		assert.NotEmpty(h, e.sees("/jigs/1/do/zero").Why)
		status, _ = h.Post("engineer", "/jigs/1/zero")
		assert.Equal(h, 409, status, "no jig")
		h.Ports.Plug("sim/SIM-0001", h.Jigs[0])
		h.Until(1, func(s station.State) bool { return s.Jig.Present })
		h.Jigs[0].Lid(false)

		h.Post("operator", "/scan", "text", h.Unit(1), "lane", "1")
		status, said = h.Post("engineer", "/jigs/1/zero")
		assert.Equal(h, 409, status)
		assert.Contains(h, said.Say, h.Unit(1))
		h.Settled(h.Unit(1))
		assert.Zero(h, e.calibrations())
		status, said = h.Post("engineer", "/jigs/1/halt", "back", "//elsewhere.example/")
		assert.Equal(h, 200, status)
		assert.Equal(h, "/jigs/1", said.Go)
	})
}

// Reference units are named one after the other, tested where their lid is seen, and each key
// shown against what it read at first.
func TestReferenceUnitsOnThePage(t *testing.T) {
	webtest.At(t, 1, webtest.Demanding, func(h *webtest.House) {
		e := engineer{h}
		h.Jigs[0].Lid(true)
		g := e.sees("/jigs/1/do/references")
		assert.Equal(h, string(lid.Up), g.Lid, "no button without how the lid stands")
		assert.Nil(h, g.Start, "close it first")
		h.Jigs[0].Lid(false)
		g = e.sees("/jigs/1/do/references")
		assert.Equal(h, string(lid.Shut), g.Lid)
		assert.Contains(h, g.Start.Button, "REF-G")
		status, _ := h.Post("engineer", "/jigs/1/reference", "unit", h.Unit(1))
		assert.Equal(h, 422, status, "a unit of production")
		for _, unit := range []string{"REF-G", "REF-B"} {
			if unit == "REF-B" {
				h.Put("key 7 open")
			}
			status, said := h.Post("engineer", "/jigs/1/reference", "unit", unit)
			require.Equal(h, 200, status, said.Say)
			h.Settled(unit)
			g = e.sees("/jigs/1/do/references")
			require.NotNil(h, g.Result, g.Why)
			assert.True(h, g.Result.Good, g.Result.Why)
		}
		assert.Nil(h, g.Start, "none is due any more")
		assert.Equal(h, "/jigs/1", g.Go.Path)
		h.Put("")
		h.LeaveIn = true
		again := e.sees("/jigs/1/do/references?unit=REF-G")
		assert.Contains(h, again.Start.Button, "REF-G")
		status, _ = h.Post("engineer", "/jigs/1/reference", "unit", "REF-G")
		require.Equal(h, 200, status)
		h.Settled("REF-G")
		g = e.sees("/jigs/1/do/references")
		assert.Len(h, g.Result.Rows, 20)
		assert.Less(h, g.Result.Rows[0].Part, 1.0)
		status, said := h.Post("engineer", "/jigs/1/reference", "unit", "REF-G", "heard", "1")
		assert.Equal(h, 409, status, "a form that lay somewhere moves nothing: %s", said.Say)
	})
}

// A gauge study goes on at the page where it was: whose turn it is, the reading taken there,
// the next one named; the rules are those of the terminal.
func TestGaugeStudyOnThePage(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		e := engineer{h}
		study := studies.Study{Across: studies.AcrossJigs, Parts: []string{h.Unit(1), h.Unit(2)}, Appraisers: []string{"SIM-0001", "SIM-0002"},
			Repeats: 2, By: "Qiu", Seed: 5}
		var err error
		study.Plan, err = gauge.PlanStudy(2, 2, 2, 5)
		require.NoError(h, err)
		study, err = h.Store.Studies.PlanStudy(h.Context(), station.RevisionOf(h.Product), study)
		require.NoError(h, err)
		assert.Equal(h, 404, h.Get("operator", "/jigs/1/study/2", nil))
		assert.Regexp(h, `href="/jigs/[12]/study/1"`, h.Page("quality", "/quality/gauge?study=1"), "the study leads to where it is measured")
		taken := 0
		for {
			g := e.sees("/jigs/1/study/1")
			study, err = h.Store.Studies.Study(h.Context(), study.Number)
			require.NoError(h, err)
			place, left := study.Next("SIM-0001")
			if !left {
				assert.Nil(h, g.Start)
				assert.Contains(h, g.Why, "SIM-0002", "whose turn it is")
				break
			}
			part := study.Parts[study.Plan[place].Part]
			require.NotNil(h, g.Start, g.Why)
			assert.Contains(h, g.Wait, part)
			status, _ := h.Post("operator", "/jigs/1/study/1", "unit", part, "place", fmt.Sprint(place+1))
			assert.Equal(h, 409, status, "another reading than the one whose turn it is")
			status, said := h.Post("operator", "/jigs/1/study/1", "unit", part, "place", fmt.Sprint(place))
			require.Equal(h, 200, status, said.Say)
			status, _ = h.Post("operator", "/jigs/1/study/1", "unit", part, "place", fmt.Sprint(place))
			assert.Equal(h, 409, status, "sent twice")
			h.Until(1, func(s station.State) bool {
				return s.Phase == station.Lid || s.Phase == station.Ended || s.Phase == station.Refused
			})
			if s := h.Lanes[0].State(); s.Phase == station.Lid { // the same part twice: it has to be seated anew
				assert.Equal(h, station.NotReseated, s.Refusal.Code)
				assert.Contains(h, e.sees("/jigs/1/study/1").Wait, "take it out")
				assert.Equal(h, "SEAT ANEW", h.Says().Word)
				h.Jigs[0].Reseat()
				h.Until(1, func(s station.State) bool { return s.Phase == station.Armed })
				g = e.sees("/jigs/1/study/1")
				require.NotNil(h, g.Start, "asks for the start")
				assert.Equal(h, "/jigs/1/start", g.Start.Action)
				status, _ = h.Post("operator", "/jigs/1/start", "serial", part, "heard", "1")
				assert.Equal(h, 409, status, "a press that lay in a queue")
				status, said = h.Post("operator", "/jigs/1/start", "serial", part, "back", g.Address)
				require.Equal(h, 200, status, said.Say)
			}
			h.Settled(part)
			if taken == 0 {
				h.Post("operator", "/scan", "text", h.Unit(9), "lane", "1") // production comes between
				h.Settled(h.Unit(9))
			}
			taken++
		}
		assert.Equal(h, 4, taken)
		assert.Len(h, study.Readings, 4)
		runs, err := h.Store.Runs.Unit(h.Context(), h.Unit(1))
		require.NoError(h, err)
		for _, r := range runs {
			assert.Equal(h, sequence.GaugeStudy, r.Purpose, "no attempt")
		}
		status, _ := h.Post("operator", "/jigs/1/study/1", "place", "0")
		assert.Equal(h, 409, status)
	})
}

// Progress is shown while it comes, and nothing is sent for what does not change.
func TestGuideFollowsTheLane(t *testing.T) {
	webtest.At(t, 1, webtest.Demanding, func(h *webtest.House) {
		e := engineer{h}
		stream := h.Listen("engineer", "/jigs/1/do/references/live")
		assert.Contains(h, stream.Event("lane"), "html")
		h.Until(1, func(s station.State) bool { return s.Jig.Lid == lid.Shut })
		h.Jigs[0].Lid(true)
		h.Until(1, func(s station.State) bool { return s.Jig.Lid == lid.Up })
		h.Jigs[0].Lid(false)
		h.Until(1, func(s station.State) bool { return s.Jig.Lid == lid.Shut })
		stream.Leave()
		h.Until(1, func(s station.State) bool { return s.Jig.Lid == lid.Unknown })
		e.plug("")
		zero := h.Listen("engineer", "/jigs/1/do/zero/live")
		zero.Event("lane")
		h.Post("engineer", "/jigs/1/zero")
		assert.Contains(h, zero.Event("lane"), "html")
		e.over()
		time.Sleep(time.Second)
		for len(zero.Lines) > 0 {
			<-zero.Lines
		}
		time.Sleep(10 * time.Second)
		synctest.Wait()
		zero.Leave()
		for line := range zero.Lines {
			assert.NotEqual(h, "event: lane", line, "nothing has changed: only beats come")
		}
	})
}
