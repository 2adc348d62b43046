package sequence

import (
	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// The first look at a unit that came back. A film, a hair or a thread of silver
// that made the trouble is gone after a few presses or a few milliampere, and
// then the unit "came back good": a dendrite without current limiting can burn
// itself off and the part looks good again (ASTM F1996, seen in abstract). So
// everything is read at rest, then each key is pressed once, all with the
// smallest current that still reads, and nothing is done twice.

// stillReads is the largest expanded uncertainty, relative to a key's limit,
// with which a reading still says something of it (a tenth: common practice,
// no source).
const stillReads = 0.1

// NewFirstPress plans the first look. The error is Problems when the jig
// cannot do it.
func NewFirstPress(p *product.Product, jig fixture.Capabilities, how Actuation) (*Plan, error) {
	// A guard is a source that no reference resistor limits.
	jig.Guard = false
	plan, err := newPlan(p, jig, how)
	if err != nil {
		return nil, err
	}
	if how == Electrical {
		return nil, Problems{"a first press needs a press: an electrical press does not touch the keys"}
	}
	plan.Purpose = FirstPress
	plan.gentleRanges()
	plan.beforeKeys()
	// A key that is begun while the rest is still judged would be pressed again.
	plan.Steps[len(plan.Steps)-1].alone = true
	const proves = "one press a key, at the smallest current that still reads; nothing is repeated"
	if how == Hand {
		plan.Steps = append(plan.Steps, Step{Name: "first press by hand", Proves: proves, Keys: plan.everyKey(), work: (*runner).hand})
	} else {
		plan.add("first press", proves, plan.everyKey(), (*runner).keys)
	}
	plan.afterKeys()
	return plan, plan.fits()
}

// gentleRanges leaves only the range of the smallest current on which the
// limits of the keys can be read; where a key has a series diode, on which a
// conducting diode does not look open. What is behind a diode cannot be told
// from its drop at one current: whether the key closes is all that is read of it.
func (plan *Plan) gentleRanges() {
	allowed := plan.allowedRanges()
	i := len(allowed) - 1
	for i > 0 && !plan.readsEvery(allowed[i]) {
		i--
	}
	plan.ranges = allowed[i : i+1]
	plan.low, plan.mid, plan.high = allowed[i], allowed[i], allowed[i]
}

func (plan *Plan) readsEvery(rng int) bool {
	for _, k := range plan.Product.Keys {
		if k.Diode == product.NoDiode && !plan.reads(k.Limits.ClosedMax, rng) ||
			k.Diode != product.NoDiode && plan.conducting(k.Limits.ForwardMax, rng) > plan.closure/2 {
			return false
		}
	}
	return true
}

func (plan *Plan) reads(limit quantity.Ohm, rng int) bool {
	expected := plan.Jig.Expect(limit, rng, samplesValue)
	return !expected.AtLeast && 2*expected.U <= stillReads*limit
}

// conducting is what a diode with this drop reads as.
func (plan *Plan) conducting(drop quantity.Volt, rng int) quantity.Ohm {
	return plan.Jig.Ranges[rng].Ohm * quantity.Ohm(drop/max(plan.Jig.Vref-drop, 1e-3))
}

// throughDiode reports whether what is read of key k is a diode's drop as well,
// with nothing to tell the two apart.
func (plan *Plan) throughDiode(k int) bool {
	return plan.Purpose == FirstPress && plan.Product.Keys[k].Diode != product.NoDiode
}

// Current is the largest that the plan sends through a key: into a short
// circuit, and so through a contact of any resistance less.
func (plan *Plan) Current() quantity.Ampere { return plan.Jig.Current(plan.low) }

// firstLook says what a first press can say without pressing again.
func (r *runner) firstLook() error {
	for _, k := range r.doubtful {
		if r.run.Keys[k].Verdict == KeyPass {
			r.run.Keys[k].Verdict = KeyUntested
		}
	}
	for _, s := range r.strays {
		r.secondContact(s, NotAtFirst)
	}
	if len(r.strays) == 0 { // else keys may have closed in other places
		r.findOpenLines()
	}
	return nil
}
