package jigs_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/jigs"
	"padjig/cmd/padjig/web/webtest"
	"padjig/fixture"
	"padjig/sequence/commission"
)

// The page of a jig says how its commissioning stands, in both languages: never, with a step that
// failed and what to do, of another firmware than it states.
func TestTheCommissioningStandsOnTheJigsPage(t *testing.T) {
	webtest.At(t, 1, webtest.Demanding, func(h *webtest.House) {
		var v jigs.View
		h.Get("engineer", "/jigs/1", &v)
		assert.Zero(h, v.Commission.Number)
		assert.Contains(h, h.Page("engineer", "/jigs/1"), "Never commissioned.")

		caps := fixture.Capabilities{Serial: v.Serial, Simulated: true, Model: "simulated jig", Firmware: "jigsim 1"}
		c, err := h.Store.Care.BeginCommissioning(h.Context(), caps, "Ines")
		require.NoError(h, err)
		leaks := commission.Leaks([]commission.Through{{Channel: 3, Current: 5e-9, U: 2e-10}, {Channel: 4, Current: 1e-12, U: 2e-10}})
		_, err = h.Store.Care.AddCommissionStep(h.Context(), c, leaks, "Jon")
		require.NoError(h, err)
		h.Get("engineer", "/jigs/1", &v)
		require.Len(h, v.Commission.Steps, 1)
		assert.Equal(h, []string{"channel 4 takes 5 nA, limit 800 pA"}, v.Commission.Steps[0].Say, "what is within is not said")
		page := h.Page("engineer", "/jigs/1")
		assert.Contains(h, page, "A step failed.")
		assert.Contains(h, page, "What to do: wash nest, probes and board between the channels named")
		assert.Contains(h, page, "padjig jig commission --jig "+v.Serial)
		h.Lang = "de"
		page = h.Page("engineer", "/jigs/1")
		assert.Contains(h, page, "Ein Schritt ist nicht bestanden.")
		assert.Contains(h, page, "Kanal 4 leckt 5 nA, Grenze 800 pA")
		h.Lang = "en"

		caps.Firmware = "jigsim 0"
		_, err = h.Store.Care.BeginCommissioning(h.Context(), caps, "Ines")
		require.NoError(h, err)
		assert.Contains(h, h.Page("engineer", "/jigs/1"), "Another firmware was commissioned than it states now.")
	})
}
