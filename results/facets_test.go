package results_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/hourly"
	"padjig/results/lines"
)

// What can be chosen is what there is, and each choice finds something.
func TestFacetsAreWhatThereIs(t *testing.T) {
	s := simulatedLine(t, 3000)
	f, err := s.Lines.Facets(t.Context(), "", true)
	require.NoError(t, err)
	assert.Equal(t, []string{"GCC-20"}, f.Products)
	assert.Equal(t, []string{"C", "D"}, f.Revisions)
	assert.Len(t, f.Jigs, 4)
	for _, lot := range f.Lots {
		y, err := s.Lines.Yields(t.Context(), lines.Filter{Simulated: true, Lots: []string{lot}})
		require.NoError(t, err)
		assert.Positive(t, y.Total.Runs, lot)
	}
	real, err := s.Lines.Facets(t.Context(), "", false)
	require.NoError(t, err)
	assert.Empty(t, real.Products, "simulated runs are not offered among real ones")
	other, err := s.Lines.Facets(t.Context(), "BAY-16", true)
	require.NoError(t, err)
	assert.Equal(t, []string{"GCC-20"}, other.Products)
	assert.Empty(t, other.Jigs, "jigs of another product are not offered")
}

// Piles told apart by lot are those of the lots chosen one by one, and together
// they are the pile of all.
func TestGroupHistogramsAreThoseOfTheGroups(t *testing.T) {
	s := simulatedLine(t, 3000)
	filter := lines.Filter{Simulated: true, Revisions: []string{"C"}}
	groups, limits, err := s.Lines.GroupHistograms(t.Context(), filter, lines.ByMembrane, "7")
	require.NoError(t, err)
	assert.Equal(t, [2]float64{0, 200}, limits)
	var together hourly.Histogram
	for lot, histogram := range groups {
		one := filter
		one.Lots = []string{lot}
		alone, err := s.Lines.KeyHistograms(t.Context(), one, "7")
		require.NoError(t, err)
		require.Len(t, alone, 1)
		assert.Equal(t, alone[0].Histogram, *histogram, lot)
		together.Merge(histogram)
	}
	all, err := s.Lines.KeyHistograms(t.Context(), filter, "7")
	require.NoError(t, err)
	assert.Equal(t, all[0].Histogram, together)
	_, _, err = s.Lines.GroupHistograms(t.Context(), lines.Filter{Simulated: true}, lines.ByMembrane, "7")
	assert.ErrorContains(t, err, "choose one revision")
}
