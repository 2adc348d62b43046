package jigs_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/jigs"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/care"
	"padjig/results/floor"
)

// A jig's page says what it is, how its calibrations stand and drift, what is
// worn, and which reference units are due; nobody but who keeps jigs sees it.
func TestPageOfAJig(t *testing.T) {
	webtest.At(t, 2, webtest.Demanding, func(h *webtest.House) {
		h.Calibrated(4)
		h.Test("REF-G")
		var list jigs.List
		require.Equal(h, http.StatusOK, h.Get("engineer", "/jigs", &list))
		require.Len(h, list.Jigs, 2)
		assert.Equal(h, "SIM-0001", list.Jigs[0].Serial)
		assert.Equal(h, "good", list.Jigs[0].Zero.Status)
		assert.False(h, list.Jigs[0].Zero.Due.IsZero())
		assert.Equal(h, "never", list.Jigs[1].Verify.Status)
		h.Page("engineer", "/jigs")

		var v jigs.View
		require.Equal(h, http.StatusOK, h.Get("engineer", "/jigs/1", &v))
		assert.Len(h, v.Channels, 10)
		assert.Equal(h, "R1", v.Channels[0].Line)
		assert.Len(h, v.Calibrations, 8)
		stated := map[string]string{}
		for _, f := range v.Facts {
			stated[f.Name] = f.Value
		}
		assert.Subset(h, stated, map[string]string{
			"Reference voltage, k = 1": "2.5 V ± 400 ppm", "Bend of the converter, of full scale, at most": "15 ppm",
			"Input current of a channel, k = 1": "± 200 pA", "Drift of all references together, at most": "100 ppm",
		})
		require.Len(h, v.References, 2)
		assert.True(h, v.References[0].Good)
		assert.Empty(h, v.References[0].Due)
		assert.Equal(h, "was never tested", v.References[1].Due)
		assert.Equal(h, care.Nest, v.Parts[0].Part)
		assert.Empty(h, v.LetGo)
		require.Len(h, v.Measuring.Ranges, 1)
		assert.InDelta(h, 0.1, v.Measuring.Ranges[0].Noise.Part, 1e-9, "2 u of a twentieth of the limit")
		assert.True(h, v.Measuring.Ranges[0].Noise.Good)
		assert.Equal(h, [2]int{1, 0}, [2]int{v.Measuring.Self.Runs, v.Measuring.Self.Stopped})
		for _, h.Lang = range []string{"de", "en"} {
			assert.Contains(h, h.Page("engineer", "/jigs/1"), "<svg")
			h.Page("engineer", "/jigs/2")
		}
		assert.Equal(h, 404, h.Get("engineer", "/jigs/3", nil))
		assert.Equal(h, 404, h.Get("engineer", "/jigs/3/traffic", nil))
		assert.Equal(h, 200, h.Get("engineer", "/jigs/2/traffic", nil))
		assert.Equal(h, 403, h.Get("operator", "/jigs/1", nil))
	})
}

// Wear is recorded as what was written: a replacement, or limits that make
// sense. Half of the limits is neither, and never takes a worn part for new.
func TestWearIsRecordedAsWritten(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		nest := func() care.PartWear {
			list, err := h.Store.Care.Wear(h.Context(), "SIM-0001", true)
			require.NoError(h, err)
			return list[0]
		}
		for name, c := range map[string]struct {
			role   string
			form   []string
			status int
		}{
			"no part":          {"engineer", nil, 422},
			"a part of none":   {"engineer", []string{"part", "spring"}, 422},
			"an operator":      {"operator", []string{"part", "nest"}, 403},
			"only a warning":   {"engineer", []string{"part", "nest", "warn", "100"}, 422},
			"only a limit":     {"engineer", []string{"part", "nest", "block", "100"}, 422},
			"the wrong way":    {"engineer", []string{"part", "nest", "warn", "100", "block", "90"}, 422},
			"no numbers":       {"engineer", []string{"part", "nest", "warn", "many", "block", "more"}, 422},
			"no lot, no name":  {"engineer", []string{"part", "nest", "note", "new, I think"}, 409},
			"no such channels": {"engineer", []string{"part", "probe set", "name", "PS-1", "serves", "0-9"}, 422},
			"a set of no name": {"engineer", []string{"part", "probe set", "lot", "L-1"}, 409},
			"taken out unseen": {"engineer", []string{"part", "cable", "removed", "yes"}, 409},
			"a limit of blank": {"engineer", []string{"part", "nest", "warn", "1", "block", " "}, 422},
		} {
			status, said := h.Post(c.role, "/jigs/1/wear", c.form...)
			assert.Equal(h, c.status, status, name)
			assert.NotEmpty(h, said.Say, name)
			assert.Nil(h, nest().Replaced, name)
			assert.Equal(h, 1, nest().Uses, name)
		}
		status, said := h.Post("engineer", "/jigs/1/wear", "part", "nest", "warn", "1", "block", "2")
		assert.Equal(h, 200, status)
		assert.Equal(h, "/jigs/1#wear", said.Go)
		assert.True(h, nest().Wearing())
		h.Page("engineer", "/jigs/1")
		h.Test(h.Unit(2))
		assert.True(h, nest().Worn())
		h.Page("engineer", "/jigs/1")
		h.Until(1, func(s station.State) bool { return s.Blocked() != nil })
		status, _ = h.Post("engineer", "/jigs/1/wear", "part", "nest", "lot", "7", "note", "of the pins")
		assert.Equal(h, 200, status)
		assert.Zero(h, nest().Uses)
		assert.Equal(h, "engineer", nest().Replaced.By)
		h.Page("engineer", "/jigs/1")
		h.Until(1, func(s station.State) bool { return s.Blocked() == nil })
		assert.Equal(h, station.Ended, h.Test(h.Unit(3)).Phase)
	})
}

// A jig that was never there has no wear to be recorded.
func TestNoWearOfAJigThatWasNeverThere(t *testing.T) {
	webtest.At(t, 0, "", func(h *webtest.House) {
		h.Lanes = append(h.Lanes, station.NewLane(station.Setup{Store: h.Store, Product: h.Product, Jig: "sim/none", Open: h.Ports.Open, Find: h.Ports.Find}))
		h.Serve()
		status, said := h.Post("engineer", "/jigs/1/wear", "part", "nest")
		assert.Equal(h, http.StatusConflict, status, said.Say)
		assert.Contains(h, said.Say, "sim/none")
	})
}

// A jig is let go of on its page and taken back there, by the letting go that the
// page shows and no other.
func TestLetGoOnThePage(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		status, _ := h.Post("operator", "/jigs/1/letgo")
		assert.Equal(h, 403, status)
		status, said := h.Post("engineer", "/jigs/1/letgo")
		assert.Equal(h, 200, status)
		assert.Equal(h, "/jigs/1", said.Go)
		var v jigs.View
		h.Get("engineer", "/jigs/1", &v)
		require.NotEmpty(h, v.LetGo)
		h.Page("engineer", "/jigs/1")
		for _, since := range []string{"", "yesterday", "1", v.LetGo + "0"} {
			status, said = h.Post("engineer", "/jigs/1/letgo", "back", "yes", "since", since)
			assert.Equal(h, 409, status)
			assert.Contains(h, said.Say, "SIM-0001")
		}
		status, _ = h.Post("engineer", "/jigs/1/letgo", "back", "yes", "since", v.LetGo)
		assert.Equal(h, 200, status)
		h.Until(1, func(s station.State) bool { return s.Jig.Present })
		assert.Equal(h, station.Ended, h.Test(h.Unit(1)).Phase)
	})
}

// What goes over the line to a jig is shown as it passes, and the page of it stays
// with who keeps jigs.
func TestTraffic(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Page("engineer", "/jigs/1/traffic")
		frames := h.Listen("engineer", "/jigs/1/traffic/live")
		h.Test(h.Unit(1))
		assert.Contains(h, frames.Event("rows"), "html")
		frames.Leave()
		assert.Equal(h, http.StatusForbidden, h.Get("operator", "/jigs/1/traffic", nil))
	})
}

// The jig's page shows what its parts are, and the units in doubt as the terminal does:
// those that left before the others, of every window.
func TestJigPageShowsPartsAndUnitsInDoubt(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		h.Test(h.Unit(2))
		status, said := h.Post("engineer", "/jigs/1/wear", "part", "probe set", "name", "PS-1", "lot", "L-7", "tip", "crown", "serves", "1-9")
		assert.Equal(h, 200, status, said.Say)
		status, said = h.Post("engineer", "/jigs/1/wear", "part", "probe set 2", "name", "PS-1")
		assert.Equal(h, 409, status)
		assert.Contains(h, said.Say, "one part is in one place")
		status, _ = h.Post("engineer", "/jigs/1/wear", "part", "probe set", "warn", "1", "block", "9")
		assert.Equal(h, 200, status)
		h.Test(h.Unit(3))
		require.NoError(h, h.Store.Floor.SaveShipment(h.Context(), []string{h.Unit(2)},
			floor.Shipment{Simulated: true, Consignee: "Glasshouse North", By: "Ines"}))
		var v jigs.View
		h.Get("engineer", "/jigs/1", &v)
		assert.Equal(h, care.ProbeSet, v.Parts[0].Part, "what needs something done comes first")
		assert.Equal(h, "PS-1, lot L-7, tips crown, channels 1-9", v.Parts[0].What)
		assert.Equal(h, "1", v.Parts[0].Uses)
		require.Len(h, v.Windows, 1)
		w := v.Windows[0]
		assert.Equal(h, []int{3, 1, 0}, []int{w.Tested, w.Shipped, w.Cleared})
		require.Len(h, w.Left, 1)
		assert.Equal(h, h.Unit(2), w.Left[0].Serial)
		assert.Contains(h, w.Left[0].Where, "Glasshouse North")
		for _, h.Lang = range []string{"de", "en"} {
			assert.Contains(h, h.Page("engineer", "/jigs/1"), h.Unit(2))
		}
		status, _ = h.Post("engineer", "/jigs/1/wear", "part", "probe set", "removed", "yes")
		assert.Equal(h, 200, status)
		h.Get("engineer", "/jigs/1", &v)
		assert.NotEqual(h, care.ProbeSet, v.Parts[0].Part)
	})
}
