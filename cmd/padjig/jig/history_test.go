package jig

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestMarks(t *testing.T) {
	for v, want := range map[float64]rune{-1: '▁', 0: '▅', 1: '█', 1.01: '!', -2: '!', 0.26: '▆'} {
		assert.Equal(t, string(want), string(mark(v, 1)), "%v", v)
	}
}
