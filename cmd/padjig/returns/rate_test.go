package returns

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence/decide"
)

func TestRate(t *testing.T) {
	for text, want := range map[string]float64{
		"1%": 0.01, " 0.5 % ": 0.005, "0.01": 0.01, "99.9%": 0.999, "0.001%": 1e-5,
	} {
		got, err := rate(text)
		assert.NoError(t, err, text)
		assert.InEpsilon(t, want, got, 1e-12, text)
	}
	for _, text := range []string{"", "%", "0", "0%", "100%", "1", "-1%", "1%%", "one", "NaN", "Inf%", "1e-9"} {
		_, err := rate(text)
		assert.ErrorContains(t, err, "write a rate such as 1%", text)
	}
}

// Whatever is asked for, an accepted bound asks for a number of presses that
// bounds the rate at it, and that a jig can count.
func FuzzRate(f *testing.F) {
	for _, text := range []string{"1%", "0.01", "5 %", "1e-3", "%", "-0"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		bound, err := rate(text)
		if err != nil {
			return
		}
		n := decide.PressesFor(bound)
		assert.True(t, n >= 3 && n <= 300_000, "%q: %d presses", text, n)
		assert.LessOrEqual(t, decide.RuleOfThree(n), bound*(1+1e-6), text)
		assert.False(t, math.IsNaN(bound), text)
	})
}
