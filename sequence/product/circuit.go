package product

import "padjig/fixture/circuit"

// Circuit gives a good unit as a circuit, keys and lines in the product's order.
func (p *Product) Circuit() *circuit.Keypad {
	k := &circuit.Keypad{Lines: make([]circuit.Line, len(p.Lines)), Keys: make([]circuit.Key, len(p.Keys))}
	for i, l := range p.Lines {
		track := make([]circuit.Segment, len(l.Track))
		for j, key := range l.Track {
			track[j] = circuit.Segment{R: p.Nominal.Track, Key: key}
		}
		k.Lines[i] = circuit.Line{Name: l.Name, Tail: p.Nominal.Tail, Track: track}
	}
	for i, key := range p.Keys {
		k.Keys[i] = circuit.Key{Label: key.Label, A: key.A, B: key.B, AnodeB: key.Diode == BtoA}
		if key.Diode != NoDiode {
			diode := p.Nominal.Diode
			k.Keys[i].Diode = &diode
		}
	}
	return k
}
