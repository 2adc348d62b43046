package judge

import (
	"slices"

	"padjig/fixture"
	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
	"padjig/sequence/nets"
	"padjig/sequence/product"
)

// A reading of a key is its own only as far as the guards keep current out of
// everything else. What they leave is worked out in the circuit of a good unit
// with the connection in it that was found.

// bench is the jig's front end as far as it states itself. The output of its
// guard is not stated; it is taken to be as good as a switch.
func (s *Setting) meter() *circuit.Meter {
	return &circuit.Meter{
		Vref: s.Jig.Vref, Switch: s.Jig.Switch, Buffer: max(s.Jig.Switch, leastBuffer),
		Input: inputOf(s.Jig), Wiring: s.Product.Wiring(),
	}
}

// leastBuffer keeps a guard of a jig that states no switches possible.
const leastBuffer quantity.Ohm = 1e-3

func inputOf(jig fixture.Capabilities) quantity.Ohm {
	if jig.Input <= 0 {
		return quantity.Open
	}
	return jig.Input
}

// WorstNeighbour gives the key that, closed beside key k without being known,
// would shift the reading of k most, and by how much: what the guards of this
// jig cannot keep out. It is -1 and 0 where no key does.
func (s *Setting) WorstNeighbour(k int) (neighbour int, shift quantity.Ohm, err error) {
	closed := make([]quantity.Ohm, len(s.Product.Keys))
	for i, key := range s.Product.Keys {
		closed[i] = key.Contact
	}
	others := circuit.Float
	if s.Jig.Guard {
		others = circuit.Guard
	}
	return s.meter().WorstNeighbour(s.Product.Circuit(), closed, k, s.Jig.Ranges[s.Low].Ohm, others)
}

// shift is how much connections that are known make key k read more than it
// is, with the lines guarded that its reading guards.
func (s *Setting) shift(k int, known *nets.Nets, bridges []Connection) (quantity.Ohm, error) {
	guarded := s.Guarded(k, known)
	others := func(line int) circuit.Drive {
		if slices.Contains(guarded, line) {
			return circuit.Guard
		}
		return circuit.Float
	}
	contact := slices.Repeat([]quantity.Ohm{quantity.Open}, len(s.Product.Keys))
	contact[k] = s.Product.Keys[k].Contact
	pad, ref := s.Product.Circuit(), s.Jig.Ranges[s.Low].Ohm
	alone, err := s.meter().KeyOhm(pad, contact, k, ref, others)
	if err != nil {
		return 0, err
	}
	for _, c := range bridges {
		pad.Bridges = append(pad.Bridges, bridge(s.Product, c))
	}
	both, err := s.meter().KeyOhm(pad, contact, k, ref, others)
	return both - alone, err
}

// bridge puts a connection where it shifts readings most: where the key that
// joins the two lines sits, or else between the far ends of their tracks.
func bridge(p *product.Product, c Connection) circuit.Bridge {
	at := func(line int) circuit.Place {
		track := p.Lines[line].Track
		if i := slices.IndexFunc(track, func(k int) bool { return Joins(p.Keys[k], c.A, c.B) }); i >= 0 {
			return circuit.Place{Line: line, After: i + 1}
		}
		return circuit.Place{Line: line, After: len(track)}
	}
	return circuit.Bridge{From: at(c.A), To: at(c.B), R: max(c.Ohm.Value, 0)}
}
