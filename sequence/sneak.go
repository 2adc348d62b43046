package sequence

import (
	"math"

	"padjig/fixture"
	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// A reading of a key is its own only as far as the guards keep current out of
// everything else. What they leave is worked out in the circuit of a good unit
// with the connection in it that was found.

// bench is the jig's front end as far as it states itself. The output of its
// guard is not stated; it is taken to be as good as a switch.
func (plan *Plan) bench() *circuit.Bench {
	return &circuit.Bench{
		Vref: plan.Jig.Vref, Switch: plan.Jig.Switch, Buffer: max(plan.Jig.Switch, leastBuffer),
		Input: inputOf(plan.Jig), Wiring: plan.Product.Wiring(),
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
func (plan *Plan) WorstNeighbour(k int) (neighbour int, shift quantity.Ohm, err error) {
	closed := make([]quantity.Ohm, len(plan.Product.Keys))
	for i, key := range plan.Product.Keys {
		closed[i] = key.Contact
	}
	others := circuit.Float
	if plan.Jig.Guard {
		others = circuit.Guard
	}
	return plan.bench().WorstNeighbour(plan.Product.Circuit(), closed, k, plan.Jig.Ranges[plan.low].Ohm, others)
}

// shift is how much connections that are known make key k read more than it
// is, with the lines guarded that its reading guards.
func (plan *Plan) shift(k int, known *nets, bridges []elsewhere) (quantity.Ohm, error) {
	guarded := plan.guarded(k, known)
	others := func(line int) circuit.Drive {
		if contains(guarded, line) {
			return circuit.Guard
		}
		return circuit.Float
	}
	contact := make([]quantity.Ohm, len(plan.Product.Keys))
	for i := range contact {
		contact[i] = quantity.Open
	}
	contact[k] = plan.Product.Keys[k].Contact
	pad, ref := plan.Product.Circuit(), plan.Jig.Ranges[plan.low].Ohm
	alone, err := plan.bench().KeyOhm(pad, contact, k, ref, others)
	if err != nil {
		return 0, err
	}
	for _, f := range bridges {
		pad.Bridges = append(pad.Bridges, plan.bridge(f))
	}
	both, err := plan.bench().KeyOhm(pad, contact, k, ref, others)
	return both - alone, err
}

// bridge puts a connection where it shifts readings most: where the key that
// joins the two lines sits, or else between the far ends of their tracks.
func (plan *Plan) bridge(f elsewhere) circuit.Bridge {
	at := func(line int) circuit.Place {
		track := plan.Product.Lines[line].Track
		for i, k := range track {
			if key := plan.Product.Keys[k]; ordered(key.A, key.B) == ordered(f.a, f.b) {
				return circuit.Place{Line: line, After: i + 1}
			}
		}
		return circuit.Place{Line: line, After: len(track)}
	}
	return circuit.Bridge{From: at(f.a), To: at(f.b), R: max(f.ohm.Value, 0)}
}

// widen adds to the uncertainty of a closed reading what connections found
// beside the key may shift it by: somewhere between nothing and all of it,
// every value as likely (rectangular, GUM 4.3.7).
func (r *runner) widen(k int, closed *fixture.Resistance, beside []elsewhere) error {
	if len(beside) == 0 || closed == nil || closed.AtLeast || r.plan.Actuation == Electrical {
		return nil
	}
	shift, err := r.plan.shift(k, r.known, beside)
	if err != nil {
		return err
	}
	closed.U = quantity.Ohm(math.Hypot(float64(closed.U), math.Abs(float64(shift))/math.Sqrt(3)))
	return nil
}

// besides are the connections found at rest that are not a key's own.
func (r *runner) besides(key product.Key) []elsewhere {
	var out []elsewhere
	for _, f := range r.bridges {
		if ordered(f.a, f.b) != ordered(key.A, key.B) {
			out = append(out, f)
		}
	}
	return out
}
