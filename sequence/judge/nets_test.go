package judge

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSplitsSeparateEveryTwoNets(t *testing.T) {
	// Counts from trade practice: n = 7, 8 -> 3; 12, 16 -> 4; 24 -> 5 (computed, ceil(log2 n)).
	for n, want := range map[int]int{1: 0, 2: 1, 7: 3, 8: 3, 12: 4, 16: 4, 24: 5, 64: 6} {
		var single [][]int
		for i := range n {
			single = append(single, []int{i})
		}
		all := Splits(single)
		assert.Len(t, all, want, "%d nets", n)
		for a := range n {
			for b := range a {
				assert.True(t, separated(all, a, b), "%d and %d of %d", a, b, n)
			}
		}
	}
}

func separated(all []Split, a, b int) bool {
	side := func(s Split, l int) bool {
		for _, f := range s.Feed {
			if f == l {
				return true
			}
		}
		return false
	}
	for _, s := range all {
		if side(s, a) != side(s, b) {
			return true
		}
	}
	return false
}

func TestNetsKeepConnectedLinesTogether(t *testing.T) {
	n := NewNets(5)
	n.Join(0, 3)
	n.Join(3, 4)
	assert.Equal(t, [][]int{{0, 3, 4}, {1}, {2}}, n.Of([]int{0, 1, 2, 3, 4}))
	c := n.With(1, 2)
	assert.False(t, n.Same(1, 2), "what is joined besides is its own")
	assert.True(t, c.Same(1, 2))
}
