package sequence

import (
	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// rest reads every line against every other with nothing pressed.
func (r *runner) rest(step Step) []exchange {
	plan := r.plan
	limit, guard := plan.strictestRest()
	routine := fixture.NewRoutine(plan.Jig)
	slots := plan.groups(routine, r.known, plan.high, samplesRest)
	return []exchange{{routine, func(d fixture.Done) error {
		for _, s := range slots {
			if seen := d.Resistance(s); apart(seen, limit, guard) != accepted {
				return detour{
					take: func() error { return r.locateAtRest(step, seen) },
					lost: func() { r.leak(step, seen, NotLocated) },
				}
			}
		}
		return nil
	}}}
}

const samplesRest = 16

// locateAtRest finds which lines are too close, pair by pair among those that
// do not hold against all the rest. Seen is the group reading that told.
func (r *runner) locateAtRest(step Step, seen fixture.Resistance) error {
	found, err := r.closePairs(r.known, r.plan.high, func(a, b int) (quantity.Ohm, float64) { return r.plan.restLimit(a, b) })
	if err != nil {
		return err
	}
	if len(found) == 0 {
		return r.gone(step, seen)
	}
	for _, f := range found {
		if !r.isOpen(f.ohm) {
			r.known.join(f.a, f.b)
		}
		if r.said(f) {
			continue // the first reading at rest told already
		}
		r.bridges = append(r.bridges, f)
		r.run.Pairs = append(r.run.Pairs, r.pair(f, ""))
		r.run.Findings = append(r.run.Findings, r.atRest(step, f))
	}
	return nil
}

// gone looks once more at groups of which no pair is at fault. Leakages that
// are good each by itself add up in a group and do so again; what is not there
// any more has been there, and a unit does not mend itself.
func (r *runner) gone(step Step, seen fixture.Resistance) error {
	routine := fixture.NewRoutine(r.plan.Jig)
	slots := r.plan.groups(routine, r.known, r.plan.high, samplesRest)
	done, err := r.one(routine)
	if err != nil {
		return err
	}
	for _, s := range slots {
		if !vanished(seen, done.Resistance(s)) {
			return nil
		}
	}
	r.leak(step, seen, Gone)
	return nil
}

// leak says that lines were too close at rest, where it is not known which.
func (r *runner) leak(step Step, seen fixture.Resistance, why Code) {
	limit, _ := r.plan.strictestRest()
	finding := r.finding("leak", said(AtStep, step.Name))
	finding.odd(said(why))
	finding.measured(seen, limit)
	r.run.Findings = append(r.run.Findings, finding)
}

// pair is the record of a connection.
func (r *runner) pair(f elsewhere, held string) Pair {
	return Pair{
		Lines: r.names(f.a, f.b), While: held, Ohm: f.ohm,
		Forward: &f.forward, Backward: &f.backward, Trend: f.trend,
	}
}

// said reports whether this pair was found connected at rest before.
func (r *runner) said(f elsewhere) bool {
	names := r.names(f.a, f.b)
	for _, p := range r.run.Pairs {
		if p.While == "" && p.Lines == names {
			return true
		}
	}
	return false
}

// restAgain is the step at rest after the keys were pressed.
const restAgain = "rest again"

// atRest names a pair that is connected with nothing pressed: a leak, a key
// that is closed, or a short.
func (r *runner) atRest(step Step, f elsewhere) Finding {
	limit, _ := r.plan.restLimit(f.a, f.b)
	finding := r.finding("leak", r.atLines(AtLines, f.a, f.b), f.a, f.b)
	finding.odd(f.manner()...)
	finding.measured(f.ohm, limit)
	if step.Name == restAgain {
		finding.odd(said(OnlyAfter))
	}
	if r.isOpen(f.ohm) {
		return finding
	}
	finding.What = "lines shorted"
	for k := range r.plan.Product.Keys {
		if !r.likeClosed(k, f) {
			continue
		}
		finding.What, finding.Key, finding.At, finding.How = "key closed at rest", r.label(k), r.atKey(AtKey, k), nil
		finding.Place = plainly(finding.At)
		if step.Name == restAgain {
			finding.What = "key stays closed"
		}
		r.run.Keys[k].Verdict = KeyFail
		break
	}
	return finding
}

// likeClosed reports whether a connection at rest is like that of key k when
// pressed: between its lines, of a closed contact's resistance, and one way
// only where it has a diode. A row-column short of that resistance reads the
// same; looking at the key decides.
func (r *runner) likeClosed(k int, f elsewhere) bool {
	key := r.plan.Product.Keys[k]
	if ordered(key.A, key.B) != ordered(f.a, f.b) {
		return false
	}
	if key.Diode != product.NoDiode {
		from, _ := r.plan.endLines(k)
		forward, backward := f.forward, f.backward
		if from != f.a {
			forward, backward = backward, forward
		}
		return !r.isOpen(forward) && r.isOpen(backward)
	}
	return f.ohm.Value >= r.plan.Product.Nominal.Contact/closedLike && f.ohm.Value <= closedLike*key.Limits.ClosedMax
}

// closedLike is how many times a closed contact's limit, or less than how
// small a part of its nominal value, still looks like the contact.
const closedLike = 3
