package answers

import (
	"math/rand/v2"
	"testing"

	"padjig/results/stats/compare"
	"padjig/results/stats/reference"
)

// Groups of one level that spread differently: that they differ is found, and no level is said
// to differ more often than by chance. Groups alike are called different as seldom as is said.
func TestClaimOfShapes(t *testing.T) {
	source := rand.New(rand.NewPCG(53, 0))
	const keys = 4
	for _, spread := range []float64{1, 4} {
		differ, shifted, cases := 0, 0, reference.Cases(600)
		for range cases {
			c := Comparison{}
			for range keys {
				var s compare.Stratum
				for range 60 {
					s.X, s.Y = append(s.X, 60+source.NormFloat64()), append(s.Y, 60+spread*source.NormFloat64())
				}
				c.Rows = append(c.Rows, compareKey("7", []compare.Stratum{s}, false, 0.95))
			}
			c.adjust()
			anyDiffers, anyShifted := false, false
			for _, k := range c.Rows {
				anyDiffers, anyShifted = anyDiffers || k.Differs, anyShifted || k.Shifted
			}
			if anyDiffers {
				differ++
			}
			if anyShifted {
				shifted++
			}
		}
		reference.AtMost(t, 0.05, shifted, cases, "a level is said to differ, spread", spread)
		if spread == 1 {
			reference.AtMost(t, 0.05, differ, cases, "any difference is said, of groups alike")
		} else {
			reference.AtLeast(t, 0.95, differ, cases, "the spread is found")
		}
	}
}
