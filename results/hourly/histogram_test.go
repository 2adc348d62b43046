package hourly

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results/runs"
)

// Every value lies in its bin, bins follow each other without a gap, and what
// is packed comes back.
func TestHistograms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOf(rapid.Int64Range(-100, readingLimit)).Draw(t, "values")
		cut := rapid.IntRange(0, len(values)).Draw(t, "cut")
		var whole, left, right Histogram
		for i, v := range values {
			from, to := BinEdges(binOf(v))
			if v >= 0 {
				assert.True(t, from <= float64(v)/runs.Milli && float64(v)/runs.Milli < to, "%d in %v to %v", v, from, to)
			}
			whole.add(v)
			if i < cut {
				left.add(v)
			} else {
				right.add(v)
			}
		}
		left.Merge(&right)
		packed := &Histograms{keys: []int64{7, 9}, list: []*Histogram{&whole, &left}}
		back, err := Unpack(packed.Pack())
		require.NoError(t, err)
		assert.Equal(t, back.of(7), back.of(9), "in any order the same")
		assert.Equal(t, packed.Pack(), back.Pack())
	})
	for _, bad := range [][]byte{{2}, {1, 5}, {1, 5, 1, 0, 0}} {
		_, err := Unpack(bad)
		assert.ErrorIs(t, err, errPacked)
	}
}

// Mean and spread of 10, 12 and 14 ohm by hand: 12 and 8.
func TestMoments(t *testing.T) {
	var p Histogram
	for _, v := range []int64{10_000, 12_000, 14_000} {
		p.add(v)
	}
	mean, m2 := p.Moments()
	assert.Equal(t, 12.0, mean)
	assert.Equal(t, 8.0, m2)
}

func FuzzUnpack(f *testing.F) {
	f.Add((&Histograms{keys: []int64{1}, list: []*Histogram{{N: 1, Sum: 60_000, Least: 60_000, Most: 60_000, First: 300, Bins: []int64{1}}}}).Pack())
	f.Fuzz(func(t *testing.T, b []byte) {
		if s, err := Unpack(b); err == nil && len(b) > 0 {
			again, err := Unpack(s.Pack())
			require.NoError(t, err)
			assert.Equal(t, s.Pack(), again.Pack())
		}
	})
}
