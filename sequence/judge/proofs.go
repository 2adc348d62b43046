package judge

import (
	"strconv"

	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/prove"
)

// Called is everything that a product's construction calls for: what can be proved of
// every unit that is built so.
func Called(p *product.Product) prove.Subjects {
	s := prove.Subjects{prove.Closes: nil} // of a product without keys nothing is proved
	s.Add(prove.SelfTest, 0)
	s.Add(prove.Insulation, prove.Before)
	s.Add(prove.Insulation, prove.After)
	pinned := 0
	for i, line := range p.Tail {
		if line != "" {
			s.Add(prove.Seating, i+1)
			pinned++
		}
	}
	for k, key := range p.Keys {
		proofs := []prove.Proof{prove.Closes, prove.Contact, prove.BounceClosing, prove.BounceOpening, prove.Opens}
		if pinned > 2 { // else there is no line besides the key's own
			proofs = append(proofs, prove.Alone)
		}
		if hasDiode(key) {
			proofs = append(proofs, prove.DiodeDrop, prove.DiodeBlocks)
		}
		for _, proof := range proofs {
			s.Add(proof, k)
		}
		if _, has := RectangleOf(p, k); has {
			s.Add(prove.Rectangles, k)
		}
	}
	return s
}

// Required is what a pass has to prove of a product: all that its construction calls
// for but what its file leaves out. Seating is not required unless the file says so:
// on a jig that cannot show it, a pin without contact reads as an open line, so that a
// unit may be blamed for it, and never passes for it.
func Required(p *product.Product) prove.Subjects {
	s := Called(p)
	seating := s[prove.Seating]
	delete(s, prove.Seating)
	if !p.Test.Rectangles {
		delete(s, prove.Rectangles)
	}
	for _, proof := range p.Test.NotRequired {
		delete(s, proof)
	}
	for _, proof := range p.Test.AlsoRequired {
		if proof == prove.Seating {
			s[proof] = seating
		}
	}
	return s
}

// RequiredFor is what a run has to prove that is to end with nothing found. Planned is
// what the way in which it is made can show on its jig.
//
// A test of production, or the same on a unit that came back, is held to the product.
// A gauge study asks what a jig shows, not whether the unit may leave: all that the jig
// can. So do the first press, which looks on purpose at less, and an exercise; every
// key has to close in all of them.
func RequiredFor(purpose sequence.Purpose, p *product.Product, planned prove.Subjects) prove.Subjects {
	required := Required(p)
	if purpose == sequence.Production || purpose == sequence.ReturnTest {
		return required
	}
	some := required.Only(planned)
	some[prove.Closes] = required[prove.Closes]
	return some
}

// SubjectOf names what a proof is of.
func SubjectOf(p *product.Product, proof prove.Proof, of int) string {
	switch proof {
	case prove.Seating:
		return strconv.Itoa(of)
	case prove.Insulation:
		return [...]string{"before the keys", "after the keys"}[of]
	case prove.SelfTest:
		return ""
	}
	return p.Keys[of].Label
}
