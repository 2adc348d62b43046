package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/bench"
	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/care"
	"padjig/sequence"
)

// calibrations gives the first jig a history of drifting zeros and verifications.
func (h *house) calibrations(months int) {
	h.Helper()
	at := func(v, limit float64) fixture.Resistance {
		return fixture.Resistance{Value: quantity.Ohm(v), U: quantity.Ohm(limit / 20)}
	}
	for m := range months {
		day := time.Now().AddDate(0, m-months, 25)
		zero := sequence.Calibration{
			Kind: sequence.KindZero, Jig: sequence.JigName{Serial: "SIM-0001"}, Simulated: true, Operator: "Ines", Performed: day,
			Interval: 60 * 24 * time.Hour, Good: true,
		}
		verify := zero
		verify.Kind, verify.Box, verify.BoxSerial, verify.Certificate = sequence.KindVerify, "four resistors", "RB-7", "C-2026-118"
		verify.CertificateDue = day.AddDate(1, 0, 0)
		for c := 1; c <= 10; c++ {
			ohm := 0.02*float64(c) + 0.015*float64(m)
			zero.Readings = append(zero.Readings, sequence.CalibrationReading{
				Channel: c, Reference: 500, Measured: at(ohm, 0.5), Deviation: at(ohm, 0.5), Limit: 0.5, Good: true,
			})
			certified := 450 * float64(c)
			verify.Readings = append(verify.Readings, sequence.CalibrationReading{
				Channel: c, Mate: c + 1, Resistor: "R1", Reference: 500, Certified: at(certified, 1), Measured: at(certified+0.1, 1),
				Deviation: at(0.1, 1), Limit: 1, Good: true,
			})
		}
		for _, c := range []sequence.Calibration{zero, verify} {
			_, err := h.site.Store.Care.SaveCalibration(h.Context(), c)
			require.NoError(h, err)
		}
	}
}

// A jig's page says what it is, how its calibrations stand and drift, what is
// worn, and which reference units are due; nobody but who keeps jigs sees it.
func TestPageOfAJig(t *testing.T) {
	at(t, 2, demanding, func(h *house) {
		h.calibrations(4)
		h.test("REF-G")
		var list jigsView
		require.Equal(h, http.StatusOK, h.get("engineer", "/jigs", &list))
		require.Len(h, list.Jigs, 2)
		assert.Equal(h, "SIM-0001", list.Jigs[0].Serial)
		assert.Equal(h, "good", list.Jigs[0].Zero.Standing)
		assert.False(h, list.Jigs[0].Zero.Due.IsZero())
		assert.Equal(h, "never", list.Jigs[1].Verify.Standing)
		h.page("engineer", "/jigs")

		var v jigView
		require.Equal(h, http.StatusOK, h.get("engineer", "/jigs/1", &v))
		assert.Len(h, v.Channels, 10)
		assert.Equal(h, "R1", v.Channels[0].Line)
		assert.Len(h, v.Calibrations, 8)
		assert.NotEmpty(h, v.Facts)
		require.Len(h, v.References, 2)
		assert.True(h, v.References[0].Good)
		assert.Empty(h, v.References[0].Due)
		assert.Equal(h, "was never tested", v.References[1].Due)
		assert.Equal(h, care.Nest, v.Parts[0].Part)
		assert.Empty(h, v.LetGo)
		for _, h.lang = range []string{"de", "en"} {
			assert.Contains(h, h.page("engineer", "/jigs/1"), "<svg")
			h.page("engineer", "/jigs/2")
		}
		assert.Equal(h, 404, h.get("engineer", "/jigs/3", nil))
		assert.Equal(h, 404, h.get("engineer", "/jigs/3/traffic", nil))
		assert.Equal(h, 200, h.get("engineer", "/jigs/2/traffic", nil))
		assert.Equal(h, 403, h.get("operator", "/jigs/1", nil))
	})
}

// Wear is recorded as what was written: a replacement, or limits that make
// sense. Half of the limits is neither, and never takes a worn part for new.
func TestWearIsRecordedAsWritten(t *testing.T) {
	at(t, 1, "", func(h *house) {
		h.test(h.unit(1))
		nest := func() care.PartWear {
			list, err := h.site.Store.Care.Wear(h.Context(), "SIM-0001")
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
			"a limit of blank": {"engineer", []string{"part", "nest", "warn", "1", "block", " "}, 422},
		} {
			status, said := h.post(c.role, "/jigs/1/wear", c.form...)
			assert.Equal(h, c.status, status, name)
			assert.NotEmpty(h, said.Say, name)
			assert.Nil(h, nest().Replaced, name)
			assert.Equal(h, 1, nest().Uses, name)
		}
		status, said := h.post("engineer", "/jigs/1/wear", "part", "nest", "warn", "1", "block", "2")
		assert.Equal(h, 200, status)
		assert.Equal(h, "/jigs/1#wear", said.Go)
		assert.True(h, nest().Wearing())
		h.page("engineer", "/jigs/1")
		h.test(h.unit(2))
		assert.True(h, nest().Worn())
		h.page("engineer", "/jigs/1")
		h.until(1, func(s bench.State) bool { return s.Blocked() != nil })
		status, _ = h.post("engineer", "/jigs/1/wear", "part", "nest", "note", "lot 7 of the pins")
		assert.Equal(h, 200, status)
		assert.Zero(h, nest().Uses)
		assert.Equal(h, "engineer", nest().Replaced.By)
		h.page("engineer", "/jigs/1")
		h.until(1, func(s bench.State) bool { return s.Blocked() == nil })
		assert.Equal(h, bench.Ended, h.test(h.unit(3)).Phase)
	})
}

// A jig that was never there has no wear to be recorded.
func TestNoWearOfAJigThatWasNeverThere(t *testing.T) {
	at(t, 0, "", func(h *house) {
		h.site.Lanes = append(h.site.Lanes, bench.NewLane(bench.Setup{Store: h.site.Store, Product: h.product, Jig: "sim/none", Open: h.ports.Open, Find: h.ports.Find}))
		h.site.controls = append(h.site.controls, newControl())
		status, said := h.post("engineer", "/jigs/1/wear", "part", "nest")
		assert.Equal(h, http.StatusConflict, status, said.Say)
		assert.Contains(h, said.Say, "sim/none")
	})
}

// A jig is let go of on its page and taken back there, by the letting go that the
// page shows and no other.
func TestLetGoOnThePage(t *testing.T) {
	at(t, 1, "", func(h *house) {
		status, _ := h.post("operator", "/jigs/1/letgo")
		assert.Equal(h, 403, status)
		status, said := h.post("engineer", "/jigs/1/letgo")
		assert.Equal(h, 200, status)
		assert.Equal(h, "/jigs/1", said.Go)
		var v jigView
		h.get("engineer", "/jigs/1", &v)
		require.NotEmpty(h, v.LetGo)
		h.page("engineer", "/jigs/1")
		for _, since := range []string{"", "yesterday", "1", v.LetGo + "0"} {
			status, said = h.post("engineer", "/jigs/1/letgo", "back", "yes", "since", since)
			assert.Equal(h, 409, status)
			assert.Contains(h, said.Say, "SIM-0001")
		}
		status, _ = h.post("engineer", "/jigs/1/letgo", "back", "yes", "since", v.LetGo)
		assert.Equal(h, 200, status)
		h.until(1, func(s bench.State) bool { return s.Jig.Present })
		assert.Equal(h, bench.Ended, h.test(h.unit(1)).Phase)
	})
}
