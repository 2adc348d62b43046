package sequence

import (
	"time"

	"padjig/fixture"
	"padjig/sequence/product"
)

// rectangle is a test of one key's diode: its own key and two neighbours of
// a rectangle held, the fourth corner must stay open. Current to the fourth
// would have to run backwards through the diode under test.
type rectangle struct {
	under  int    // key whose diode is tested
	held   [3]int // the three keys held, under among them
	fourth int    // the corner read
}

// rectangles holds three corners and reads the fourth, for every diode that
// has a rectangle.
func (r *runner) rectangles(step Step) []exchange {
	var out []exchange
	for i, k := range step.Keys {
		t, ok := r.plan.rectangleOf(k)
		if !ok {
			continue
		}
		out = append(out, exchange{r.plan.rectangleRoutine(t), func(d fixture.Done) error {
			r.say(Progress{Step: step, Done: i + 1, Total: len(step.Keys)})
			if reading := d.Resistance(0); !r.isOpen(reading) && !r.hidden(t) {
				r.ghost(t, reading)
			}
			return nil
		}})
	}
	return out
}

// hidden reports whether the rectangle has a key that is not good by itself,
// so that the rectangle would prove nothing.
func (r *runner) hidden(t rectangle) bool {
	for _, k := range append(t.held[:], t.fourth) {
		key := r.plan.Product.Keys[k]
		if r.known.same(key.A, key.B) || r.run.Keys[k].Verdict != KeyPass {
			return true
		}
	}
	// Rows or columns that are joined close the fourth corner without its diode.
	under, fourth := r.plan.Product.Keys[t.under], r.plan.Product.Keys[t.fourth]
	return r.known.same(under.A, fourth.A) || r.known.same(under.B, fourth.B)
}

func (r *runner) ghost(t rectangle, reading fixture.Resistance) {
	key := r.plan.Product.Keys[t.under]
	at := r.atKey(AtOtherKeys, t.under, r.label(t.fourth), r.label(t.held[0]), r.label(t.held[1]), r.label(t.held[2]))
	f := r.finding("ghost key", at, key.A, key.B)
	f.Key = key.Label
	f.measured(reading, r.plan.closure)
	r.run.Findings = append(r.run.Findings, f)
	r.run.Keys[t.under].Verdict = KeyFail
}

// rectangleOf finds a rectangle of keys with diodes whose opposite corner is k.
func (plan *Plan) rectangleOf(k int) (rectangle, bool) {
	keys := plan.Product.Keys
	under := keys[k]
	if under.Diode == product.NoDiode {
		return rectangle{}, false
	}
	for f, fourth := range keys {
		if fourth.Diode != under.Diode || fourth.A == under.A || fourth.B == under.B {
			continue
		}
		p, okP := plan.keyAt(under.A, fourth.B)
		q, okQ := plan.keyAt(fourth.A, under.B)
		if okP && okQ && keys[p].Diode == under.Diode && keys[q].Diode == under.Diode {
			return rectangle{under: k, held: [3]int{k, p, q}, fourth: f}, true
		}
	}
	return rectangle{}, false
}

func (plan *Plan) keyAt(a, b int) (int, bool) {
	for i, k := range plan.Product.Keys {
		if k.A == a && k.B == b {
			return i, true
		}
	}
	return 0, false
}

func (plan *Plan) rectangleRoutine(t rectangle) *fixture.Routine {
	r := fixture.NewRoutine(plan.Jig)
	feed, ground := plan.ends(t.fourth)
	for _, k := range t.held {
		r.Press(plan.Product.Keys[k].Actuator)
	}
	r.Wait(plan.Jig.TravelDown + plan.slowest(t, func(l product.Limits) time.Duration { return l.Make }))
	r.Stage(fixture.Stage{Range: plan.mid, Feed: []int{feed}, Ground: []int{ground}})
	r.Read(feed, ground, samplesGlance)
	for _, k := range t.held {
		r.Release(plan.Product.Keys[k].Actuator)
	}
	r.Wait(plan.Jig.TravelUp + plan.slowest(t, func(l product.Limits) time.Duration { return l.Break }))
	return r
}

func (plan *Plan) slowest(t rectangle, of func(product.Limits) time.Duration) time.Duration {
	longest := minQuiet
	for _, k := range t.held {
		longest = max(longest, of(plan.Product.Keys[k].Limits))
	}
	return longest
}
