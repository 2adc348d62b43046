package station

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/jigsim/world"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/product"
)

var padUnits = flag.Int("padunits", 60, "units of the campaign over pads on a simulated jig")

// printed is a pad whose contacts are none of the simulator's making: Student's t of five
// degrees of freedom and a print that is thicker towards one edge, 8 % in all.
func printed(p *product.Product, r *rand.Rand) []float64 {
	pad := make([]float64, len(p.Keys))
	edge := 0.3 * r.NormFloat64()
	for k := range pad {
		chi := 0.0
		for range 5 {
			z := r.NormFloat64()
			chi += z * z
		}
		pad[k] = 0.08 * (0.7*r.NormFloat64()/math.Sqrt(chi/5) + edge*(2*float64(k)/float64(len(pad))-1))
	}
	return pad
}

// pressed puts the pad in, whose contacts scatter by so much with every press.
func (s *stand) pressed(pad []float64, scatter float64, r *rand.Rand) {
	s.Helper()
	var faults []world.Fault
	for k, key := range s.product.Keys {
		ohm := 60 * math.Exp(pad[k]+scatter*r.NormFloat64())
		faults = append(faults, world.Fault{Kind: world.KeyHigh, Key: key.Label, Ohm: quantity.Ohm(ohm)})
	}
	require.NoError(s, s.jig.Load(world.Unit{Keypad: s.product.Circuit(), Faults: faults, Seed: r.Uint64()}))
}

// One pad in five is that of one of the last ten units, under another number: through the
// jig, the serial protocol, the readings with their noise, and the records.
func TestPadsThroughTheJig(t *testing.T) {
	at(t, "", func(s *stand) {
		r := rand.New(rand.NewPCG(21, 4))
		s.start()
		var tested [][]float64
		copies, missed, accused := 0, 0, 0
		for n := range *padUnits {
			pad, again := printed(s.product, r), n >= 12 && n%5 == 0
			if again {
				pad = tested[len(tested)-1-r.IntN(10)]
				copies++
			}
			s.pressed(pad, 0.008, r)
			s.test(s.unit(n + 1))
			alike := s.last(s.unit(n+1)).Outcome == sequence.Incomplete
			switch {
			case alike && !again:
				accused++
			case again && !alike:
				missed++
			}
			if alike {
				s.looked()
			} else if !again {
				tested = append(tested, pad)
			}
		}
		t.Logf("%d units, of which %d had the pad of another: %d of these missed; %d others accused", *padUnits, copies, missed, accused)
		assert.Zero(s, accused)
		assert.LessOrEqual(s, missed, copies/5)
	})
}
