package product

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence/decide"
)

func TestGuardWords(t *testing.T) {
	for guard, want := range map[float64]string{
		0:                              "none: at most 50 % risk right at the edge",
		0.5:                            "0.5 U inside each limit: at most 16 % risk right at the edge",
		0.83:                           "0.83 U inside each limit: at most 4.9 % risk right at the edge",
		1:                              "1 U inside each limit: at most 2.3 % risk right at the edge",
		1.5:                            "1.5 U inside each limit: at most 0.14 % risk right at the edge",
		3:                              "3 U inside each limit: at most 0.000000099 % risk right at the edge",
		decide.MultipleForRisk(0.01):   "1.163 U inside each limit: at most 1 % risk right at the edge",
		decide.MultipleForRisk(0.001):  "1.545 U inside each limit: at most 0.1 % risk right at the edge",
		decide.MultipleForRisk(0.0101): "1.161 U inside each limit: at most 1.1 % risk right at the edge",
	} {
		assert.Equal(t, want, guardWords(guard))
	}
}
