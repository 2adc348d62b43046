package desk_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/lines"
	"padjig/sequence"
)

// An engineering run stands in the unit's life with what it found, and is a pass on no
// page: not in the life, not on the tag, not in a yield, not among what a unit left with.
func TestAnEngineeringRunIsNoPassOnAnyPage(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		made, err := h.Store.Runs.Unit(h.Context(), h.Unit(1))
		require.NoError(h, err)
		run, rev, serial := made[0].Run, station.RevisionOf(h.Product), h.Unit(2)
		run.Serial, run.Purpose = serial, sequence.Engineering
		_, err = h.Store.Runs.Save(h.Context(), rev, run)
		require.ErrorContains(h, err, "an engineering run is no pass")
		run.Outcome, run.Why = sequence.NothingFound, sequence.Fact(sequence.OnTrial)
		good, err := h.Store.Runs.Save(h.Context(), rev, run)
		require.NoError(h, err)
		run.Outcome, run.Findings = sequence.Fail, []sequence.Finding{{What: "key high", Key: "7", Place: "key 7 (R3-C1)",
			At: sequence.Fact(sequence.AtKey, "7", "R3", "C1")}}
		bad, err := h.Store.Runs.Save(h.Context(), rev, run)
		require.NoError(h, err)
		run.Purpose, run.Outcome, run.Findings = sequence.Production, sequence.NothingFound, nil
		_, err = h.Store.Runs.Save(h.Context(), rev, run)
		require.ErrorContains(h, err, "it is no engineering run")

		h.Came(serial)
		life := h.Page("returns", desk.UnitAddress(serial))
		assert.Contains(h, life, "ENGINEERING")
		assert.Contains(h, life, "nothing found, no pass")
		assert.Contains(h, life, "key high")
		assert.NotContains(h, life, ">passed<")
		for _, run := range []string{good.String(), bad.String()} {
			tag := h.Page("operator", "/tag/"+run)
			assert.Contains(h, tag, "<b>ENGINEERING</b>")
			assert.NotContains(h, tag, "PASS")
			assert.NotContains(h, tag, "FAIL")
		}
		history, err := h.Store.Runs.History(h.Context(), serial)
		require.NoError(h, err)
		assert.Empty(h, history.Products)
		y, err := h.Store.Lines.Yields(h.Context(), lines.Filter{Simulated: true})
		require.NoError(h, err)
		assert.Equal(h, 1, y.Total.Units)
		shipped, err := h.Store.Runs.Tested(h.Context(), serial, h.Product.Hash())
		require.NoError(h, err)
		assert.False(h, shipped, "it was not made by it")
		wrong, err := h.Store.Check(h.Context())
		require.NoError(h, err)
		assert.Empty(h, wrong)
	})
}
