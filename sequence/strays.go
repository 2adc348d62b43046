package sequence

import (
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// enoughLocated is how many keys must be located before an exchange of lines
// that explains them, and which keys seemed open, is taken for the whole story.
const enoughLocated = 3

// locateStrays presses each key again during whose press other lines touched,
// holds it, and finds which; not all of them where a few tell enough.
func (r *runner) locateStrays() error {
	r.located = map[int]bool{}
	for i, s := range r.strays {
		if i >= enoughLocated && r.exchanged() != nil {
			return nil
		}
		found, err := r.whileHeld(s.key)
		if err != nil {
			return err
		}
		if err := r.noteStray(s, found); err != nil {
			return err
		}
		r.located[s.key] = true
	}
	return nil
}

// whileHeld lists the pairs of lines that are connected while a key is held,
// its own pair included.
func (r *runner) whileHeld(k int) ([]elsewhere, error) {
	key := r.plan.Product.Keys[k]
	press := fixture.NewRoutine(r.plan.Jig)
	press.Press(key.Actuator)
	press.Wait(r.plan.Jig.TravelDown + max(key.Limits.Make, minQuiet))
	if _, err := r.one(press); err != nil {
		return nil, err
	}
	found, err := r.closePairs(r.known, r.plan.mid, func(int, int) (quantity.Ohm, float64) { return r.plan.closure, 0 })
	if err != nil {
		return nil, err
	}
	release := fixture.NewRoutine(r.plan.Jig)
	release.Release(key.Actuator)
	release.Wait(r.plan.Jig.TravelUp + settleAfterLate)
	_, err = r.one(release)
	return found, err
}

// settleAfterLate lets a key that is slow to open do so before the next one.
const settleAfterLate = 100 * time.Millisecond

func (r *runner) noteStray(s stray, found []elsewhere) error {
	key := r.plan.Product.Keys[s.key]
	var others []elsewhere
	for _, f := range found {
		if f.a == key.A && f.b == key.B || f.a == key.B && f.b == key.A {
			continue
		}
		others = append(others, f)
		f.key = s.key
		r.elsewhere = append(r.elsewhere, f)
		r.run.Pairs = append(r.run.Pairs, r.pair(f, key.Label))
	}
	if len(others) == 0 && !r.afterLate(s.key) {
		r.secondContact(s, Gone)
	}
	return r.widen(s.key, r.run.Keys[s.key].Closed, others)
}

// secondContact says that lines touched during a key, where it is not known which.
func (r *runner) secondContact(s stray, why Code) {
	key := r.plan.Product.Keys[s.key]
	finding := r.finding("second contact", r.atKey(AtHeld, s.key), key.A, key.B)
	finding.odd(said(why))
	finding.Key = key.Label
	finding.measured(s.ohm, r.plan.closure)
	r.run.Findings = append(r.run.Findings, finding)
	r.run.Keys[s.key].Verdict = KeyFail
}

// keepSeen makes findings of what was seen and not looked for again before the
// run was aborted: it would be lost with the run.
func (r *runner) keepSeen() {
	for _, s := range r.strays {
		if !r.located[s.key] && !r.afterLate(s.key) {
			r.secondContact(s, NotLookedFor)
		}
	}
}

// afterLate reports whether the keys pressed shortly before k were slow to
// open, which then explains what was seen during k.
func (r *runner) afterLate(k int) bool {
	const shortly = 4
	for _, l := range r.late {
		if l < k && k-l <= shortly {
			return true
		}
	}
	return false
}
