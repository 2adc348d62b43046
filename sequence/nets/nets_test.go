package nets

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestNetsKeepConnectedLinesTogether(t *testing.T) {
	n := New(5)
	n.Join(0, 3)
	n.Join(3, 4)
	assert.Equal(t, [][]int{{0, 3, 4}, {1}, {2}}, n.Of([]int{0, 1, 2, 3, 4}))
	c := n.With(1, 2)
	assert.False(t, n.Same(1, 2), "what is joined besides is its own")
	assert.True(t, c.Same(1, 2))
}

func TestLinesSpanTheTwoNetsThatOthersSpan(t *testing.T) {
	n := New(6)
	n.Join(0, 3)
	n.Join(4, 1)
	assert.Equal(t, n.Pair(0, 1), n.Pair(4, 3), "in whichever order")
	assert.True(t, n.Span([2]int{0, 1}, 4, 3))
	assert.False(t, n.Span([2]int{0, 1}, 0, 2))
	assert.False(t, n.Span([2]int{0, 3}, 3, 0), "in one net")
}
