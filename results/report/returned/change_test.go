package returned

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

func TestChange(t *testing.T) {
	ohm := func(v, u quantity.Ohm) *fixture.Resistance { return &fixture.Resistance{Value: v, U: u} }
	for name, c := range map[string]struct {
		then, now *fixture.Resistance
		ok, real  bool
		says      string
	}{
		"more than is known":  {ohm(86.4, 0.03), ohm(98.8, 0.04), true, true, "+12.40 ± 0.10 ohm"},
		"as much as is known": {ohm(100, 3), ohm(110, 4), true, false, "+10 ± 10 ohm"},
		"just more":           {ohm(100, 3), ohm(110.1, 4), true, true, "+10 ± 10 ohm"},
		"less":                {ohm(100, 0.1), ohm(60, 0.1), true, true, "-40.00 ± 0.28 ohm"},
		"nothing, from below": {ohm(100, 0.5), ohm(99.99, 0.5), true, false, "+0.0 ± 1.4 ohm"},
		"kilohm":              {ohm(80, 0.1), ohm(20e3, 40), true, true, "+19920 ± 80 ohm"},
		"open now":            {ohm(80, 0.1), &fixture.Resistance{Value: quantity.Open, AtLeast: true}, false, false, ""},
		"not measured then":   {nil, ohm(80, 0.1), false, false, ""},
		"uncertainty unknown": {ohm(80, quantity.Open), ohm(90, 0.1), true, false, "+10.00 ± ? ohm"},
	} {
		t.Run(name, func(t *testing.T) {
			got, ok := ChangeOf(c.then, c.now)
			assert.Equal(t, c.ok, ok)
			if ok {
				assert.Equal(t, c.real, got.Real())
				assert.Equal(t, c.says, got.String())
			}
		})
	}
}

// Two readings of a contact that did not change are called a real change about
// as rarely as k = 2 says where their errors are independent, and more rarely
// where part of the errors is common to both.
func TestARealChangeIsOne(t *testing.T) {
	const pairs, u = 200_000, 0.5
	random := rand.New(rand.NewPCG(5, 6))
	for _, common := range []float64{0, 0.5, 0.9} { // part of the variance
		real := 0
		for range pairs {
			shared := math.Sqrt(common) * u * random.NormFloat64()
			read := func() *fixture.Resistance {
				own := math.Sqrt(1-common) * u * random.NormFloat64()
				return &fixture.Resistance{Value: quantity.Ohm(100 + shared + own), U: u}
			}
			if c, _ := ChangeOf(read(), read()); c.Real() {
				real++
			}
		}
		share, most := float64(real)/pairs, 0.0455 // 1 - 0.9545 (JCGM 100, k = 2)
		assert.LessOrEqual(t, share, most+4*math.Sqrt(most/pairs), "common part %v", common)
		if common == 0 {
			assert.GreaterOrEqual(t, share, most-4*math.Sqrt(most/pairs))
		} else {
			assert.Less(t, share, most/4, "common part %v", common)
		}
	}
}
