package jigs_test

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/jigs"
	"padjig/cmd/padjig/web/webtest"
	"padjig/fixture"
	"padjig/results/answers/upkeep"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/commission"
)

// keep puts a jig into the records that is plugged in nowhere: calibrated so many days ago.
func keep(h *webtest.House, serial string, days int, good bool) {
	h.Helper()
	c := sequence.Calibration{Kind: sequence.KindZero, Jig: sequence.JigName{Serial: serial, Model: "bench-64", Firmware: "2.3.1"}, Operator: "Ines",
		Performed: time.Now().AddDate(0, 0, -days), Interval: sequence.ZeroInterval, Good: true,
		Readings: []sequence.CalibrationReading{{Channel: 1, Reference: 500, Limit: 2, Good: true}}}
	_, err := h.Store.Care.SaveCalibration(h.Context(), c)
	require.NoError(h, err)
	r := sequence.CalibrationReading{Channel: 1, Mate: 2, Resistor: "D", Reference: 500, Limit: 0.5, Good: good}
	r.Certified.Value, r.Measured.Value = 500, 500
	if !good {
		r.Measured.Value, r.Deviation.Value = 503, 3
	}
	c.Box, c.BoxSerial, c.Certificate = "RB-1", "RB-1-0007", "DEMO-2026-0418"
	c.Kind, c.Interval, c.CertificateDue, c.Good, c.Readings = sequence.KindVerify, sequence.VerifyInterval, time.Now().AddDate(1, 0, 0), good,
		[]sequence.CalibrationReading{r}
	if !good {
		c.Reason = "out of tolerance: range 500 ohm by +0.60 %"
	}
	_, err = h.Store.Care.SaveCalibration(h.Context(), c)
	require.NoError(h, err)
	begun, err := h.Store.Care.BeginCommissioning(h.Context(), fixture.Capabilities{Serial: serial, Model: c.Jig.Model, Firmware: c.Jig.Firmware}, "Ines")
	require.NoError(h, err)
	for _, step := range begun.Progress().Missing(begun.Caps()) {
		_, err = h.Store.Care.AddCommissionStep(h.Context(), begun,
			commission.Judged(step, []commission.Figure{{Of: "leak", At: 1, Value: 1e-12, Limit: 8e-10, Unit: "A", Good: true}}), "Ines")
		require.NoError(h, err)
	}
}

func serials(rows []jigs.Row) (out []string) {
	for _, r := range rows {
		out = append(out, r.Serial)
	}
	return out
}

// The list has every jig that the records know, not only those that are plugged in, what must be
// done first at its top: overdue, failed, units in doubt, worn, absent, drifting. It says what the
// question says that the terminal asks too.
func TestEveryJigOfTheRecords(t *testing.T) {
	webtest.At(t, 2, webtest.Demanding, func(h *webtest.House) {
		for i := range 26 {
			keep(h, fmt.Sprintf("J-%04d", i+1), 1, true)
		}
		keep(h, "J-0030", 9, true)  // its zero is overdue
		keep(h, "J-0031", 2, false) // it failed
		keep(h, "J-0032", 1, true)
		require.NoError(h, h.Store.Care.SaveWear(h.Context(), care.WearEvent{Jig: "SIM-0001", Simulated: true, Part: care.Nest, Warn: 1, Block: 2, By: "Ines"}))
		h.Test("REF-G")
		h.Put("key 7 open")
		h.Test("REF-B")
		h.Put("")
		h.Test(h.Unit(1))
		h.Lanes[1].LetGo(h.Context())
		h.Until(2, func(s station.State) bool { return !s.Jig.Present })

		var list jigs.List
		require.Equal(h, http.StatusOK, h.Get("engineer", "/jigs", &list))
		require.Len(h, list.Jigs, 31)
		assert.Equal(h, []string{"J-0031", "J-0030", "SIM-0001", "SIM-0002"}, serials(list.Jigs)[:4])
		all, err := upkeep.Of(h.Context(), h.Store, upkeep.Asked{Now: time.Now()})
		require.NoError(h, err)
		known := map[string]upkeep.Jig{}
		for _, k := range all.Jigs {
			known[k.Jig.Serial] = k
		}
		for _, r := range list.Jigs {
			k := known[r.Serial]
			assert.Equal(h, cmp.Or(string(k.Zero.Status), "never"), r.Zero.Status, r.Serial)
			var codes, want []string
			for _, trouble := range r.Troubles {
				if trouble.Code != "absent" {
					codes = append(codes, trouble.Code)
				}
			}
			for _, trouble := range k.Troubles {
				want = append(want, string(trouble.Code))
			}
			assert.Equal(h, want, codes, r.Serial)
		}
		worn := list.Jigs[2]
		assert.Equal(h, []int{1, 1}, []int{worn.Lane, map[bool]int{true: 1}[worn.Present]})
		assert.Equal(h, "100 %", worn.Worn.Value)
		assert.Equal(h, 100, worn.Worn.Long(), "the bar ends at its limit")
		assert.False(h, worn.Tested.IsZero())
		assert.Equal(h, "6 days", list.Jigs[len(list.Jigs)-1].Zero.Left)

		for query, want := range map[string][]string{
			"?show=trouble": {"J-0031", "J-0030", "SIM-0001", "SIM-0002"}, "?show=here": {"SIM-0001"}, "?find=0030": {"J-0030"},
			"?find=gcc-20&order=serial": {"SIM-0001", "SIM-0002"}, "?find=no+such": {},
		} {
			var some jigs.List
			h.Get("engineer", "/jigs"+query, &some)
			assert.Subset(h, serials(some.Jigs), want, query)
			assert.Len(h, some.Jigs, len(want), query)
		}
		for _, order := range []string{"serial", "zero", "verify", "worn", "drift", "tested", "nonsense"} {
			h.Get("engineer", "/jigs?order="+order, &list)
			assert.Len(h, list.Jigs, 31, order)
		}
		h.Get("engineer", "/jigs?order=worn", &list)
		assert.Equal(h, "SIM-0001", list.Jigs[0].Serial)
		for _, h.Lang = range []string{"de", "en"} {
			h.Page("engineer", "/jigs")
		}
		sorted := h.Page("engineer", "/jigs?order=worn&show=trouble")
		assert.Contains(h, sorted, `<th scope="col" aria-sort="descending"><a href="/jigs?order=worn&amp;show=trouble">`)
		assert.Contains(h, sorted, `<th scope="col"><a href="/jigs?order=serial&amp;show=trouble">`, "each head is a link, with what is chosen")
		csv := h.Page("engineer", "/jigs?csv=jigs")
		assert.Equal(h, 31, strings.Count(csv, "\n"), "a head, and every jig that the records know")
	})
}

// A jig that is plugged in nowhere has its page too: what is due, its calibrations, its parts.
func TestPageOfAJigOnTheShelf(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		keep(h, "J-0031", 2, false)
		var v jigs.View
		require.Equal(h, http.StatusOK, h.Get("engineer", "/jig?serial=J-0031&simulated=false", &v))
		assert.Equal(h, "verify bad", v.Troubles[0].Code)
		assert.Len(h, v.Facts, 4, "model, firmware, adapter and how it is started: what a jig states that never was here is not known")
		assert.Empty(h, v.Next.Path, "nothing can be done to it from here")
		assert.Contains(h, v.Next.Say, "Connect it")
		assert.Len(h, v.Calibrations, 2)
		h.Page("engineer", "/jig?serial=J-0031&simulated=false")
		status, said := h.Post("engineer", "/jig/wear", "serial", "J-0031", "simulated", "false", "part", "probe set", "name", "PS-3")
		assert.Equal(h, 200, status, said.Say)
		assert.Equal(h, "/jig?serial=J-0031&simulated=false#wear", said.Go)
		h.Get("engineer", "/jig?serial=J-0031&simulated=false", &v)
		assert.True(h, slices.ContainsFunc(v.Parts, func(p jigs.PartView) bool { return p.What == "PS-3" }))
		for _, serial := range []string{"", "J-9999", "SIM-0001"} {
			status, _ = h.Post("engineer", "/jig/wear", "serial", serial, "part", "probe set", "name", "PS-4")
			assert.Equal(h, 404, status, serial)
		}
		assert.Equal(h, 404, h.Get("engineer", "/jig?serial=J-0031&simulated=true", nil), "a simulated one of that number is not known")
		assert.Equal(h, 303, h.Get("engineer", "/jig?serial=SIM-0001&simulated=true", nil), "a jig of a lane has its page there")
		assert.Equal(h, 403, h.Get("operator", "/jig?serial=J-0031", nil))
	})
}

// Channels without a line are shown when they are asked for; each bar is a part of a limit.
func TestChannelsInUse(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		e := engineer{h}
		e.plug("channel 4 adds 1 ohm")
		h.Post("engineer", "/jigs/1/zero")
		e.over()
		h.Put("")
		h.Test(h.Unit(1))
		var v jigs.View
		h.Get("engineer", "/jigs/1", &v)
		assert.Len(h, v.Channels, 10)
		assert.Equal(h, 54, v.Unused)
		bars := v.Channels[3].Bars()
		assert.InDelta(h, 0.5, bars[0].Part, 0.01)
		assert.True(h, bars[1].None(), "it was never verified")
		assert.Positive(h, bars[2].Part, "the insulation that the unit's test read")
		assert.Less(h, bars[2].Part, 1.0)
		h.Get("engineer", "/jigs/1?channels=all", &v)
		assert.Len(h, v.Channels, 64)
		h.Page("engineer", "/jigs/1?channels=all")
	})
}

// The units in doubt can be chosen from, and had as a file with all of them.
func TestUnitsInDoubtAsAFile(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		h.Test(h.Unit(2))
		path := "/jig/suspects?serial=SIM-0001&simulated=true"
		assert.Contains(h, h.Page("engineer", path), h.Unit(2))
		assert.Contains(h, h.Page("engineer", "/jigs/1"), "/jig/suspects?serial=SIM-0001&amp;simulated=true", "it can be reached")
		for query, rows := range map[string]int{"": 2, "&show=left": 0, "&show=here": 2, "&show=open": 2, "&window=1": 2, "&window=7": 0, "&lot=X": 0} {
			assert.Equal(h, rows+1, strings.Count(h.Page("engineer", path+query+"&csv=units-in-doubt"), "\n"), query)
		}
		assert.Equal(h, 403, h.Get("operator", path, nil))
	})
}
