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
