package judge

import (
	"math"
	"slices"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/prove"
)

// Value is what was read of a key that is held.
type Value struct {
	Glance  fixture.Resistance   // on the range with which contacts are watched
	Closed  fixture.Resistance   // of the contact itself, at the current at which it has to be good
	Two     *fixture.TwoCurrents // where it was read at two
	Forward *fixture.Voltage     // of the diode, where there is one
	NoLaw   bool                 // the readings do not fit a diode in series
	Reverse fixture.Resistance   // against the diode
}

// Edges is how a key came and went, and what was read of it when it was let go.
type Edges struct {
	Make, Break fixture.Edge
	Open        fixture.Resistance
}

// Keys judges keys that are pressed once.
type Keys struct {
	set   *Setting
	sheet *Sheet
	rest  *Rest

	opened   []bool  // keys that did not close
	doubtful []int   // keys whose value fell into the guard band
	late     []int   // keys that were slow to open
	strays   []Stray // keys during whose press other lines touched
}

// Stray is a group reading that showed a second contact while a key was held.
type Stray struct {
	Key int
	ohm fixture.Resistance
}

// NewKeys judges the keys of a unit of which this is known at rest.
func NewKeys(set *Setting, sheet *Sheet, rest *Rest) *Keys {
	return &Keys{set: set, sheet: sheet, rest: rest, opened: make([]bool, len(set.Product.Keys))}
}

// Doubtful are the keys whose value is to be read again, with more samples.
func (j *Keys) Doubtful() []int { return j.doubtful }

// Strays are the keys during whose press other lines touched.
func (j *Keys) Strays() []Stray { return j.strays }

// Pressed judges one press of key k.
func (j *Keys) Pressed(k int, v Value, e Edges) error {
	j.sheet.Keys[k].Verdict = sequence.KeyPass
	if j.set.IsOpen(v.Glance) {
		j.notClosed(k, v, e.Make)
		return nil
	}
	j.sheet.Shown.Note(prove.Closes, k)
	j.noteReverse(k, v)
	err := j.value(k, v, false)
	j.Made(k, e.Make, e.Make.Ends)
	j.Broke(k, e.Break, e.Open)
	return err
}

// noteReverse keeps what was read against the diode: its leakage, as a
// resistance, and with the drop the other way its direction.
func (j *Keys) noteReverse(k int, v Value) {
	if hasDiode(j.set.Product.Keys[k]) {
		j.sheet.Keys[k].Reverse = &v.Reverse
	}
}

func (j *Keys) notClosed(k int, v Value, made fixture.Edge) {
	key := j.set.Product.Keys[k]
	if made.Teases(key.Limits.Make) {
		j.teases(k, made, sequence.Fact(sequence.OpenAgain))
		return
	}
	j.noteReverse(k, v)
	if hasDiode(key) && !j.set.IsOpen(v.Reverse) {
		j.sheet.fail(k, "diode reversed", nothing)
		return
	}
	j.opened[k] = true
	j.sheet.fail(k, "key open", ohms(v.Glance, key.Limits.ClosedMax))
}

// Held judges the value of a key that a person holds. A first press is not repeated:
// what falls into the guard band stays open.
func (j *Keys) Held(k int, v Value) error {
	j.sheet.Keys[k].Verdict = sequence.KeyPass
	j.sheet.Shown.Note(prove.Closes, k)
	return j.value(k, v, !j.set.Gentle)
}

// Again judges a value that was doubtful and was read again.
func (j *Keys) Again(k int, v Value) error {
	if j.set.IsOpen(v.Glance) {
		j.sheet.fail(k, "contact unsteady", nothing)
		return nil
	}
	return j.value(k, v, true)
}

// value judges the closed resistance, and the diode where there is one. A doubtful
// value is read again later, unless final.
func (j *Keys) value(k int, v Value, final bool) error {
	limits := j.set.Product.Keys[k].Limits
	if j.set.ThroughDiode(k) {
		j.diodeBlocks(k, v)
		return nil
	}
	if v.NoLaw {
		j.sheet.fail(k, "diode drop", nothing)
		return nil
	}
	closed := v.Closed
	if err := j.rest.widen(k, &closed, j.rest.besides(k)); err != nil {
		return err
	}
	j.sheet.Keys[k].Closed, j.sheet.Keys[k].Forward, j.sheet.Keys[k].Two = &closed, v.Forward, v.Two
	if v.Forward != nil && j.diodeWrong(k, v) {
		return nil
	}
	switch verdict := ClosedWithin(closed, limits.ClosedMin, limits.ClosedMax, limits.Guard); {
	case verdict == decide.Accepted:
		j.sheet.Shown.Note(prove.Contact, k)
	case verdict == decide.Doubtful && !final:
		j.doubtful = append(j.doubtful, k)
	case closed.Value < limits.ClosedMin+quantity.Ohm(2*float64(closed.U)*limits.Guard):
		j.sheet.fail(k, "key low", ohms(closed, limits.ClosedMin), notOhmic(v.Two)...)
	default:
		j.sheet.fail(k, "key high", ohms(closed, limits.ClosedMax), notOhmic(v.Two)...)
	}
	return nil
}

// notOhmic says that a contact has another resistance at another current, and which.
func notOhmic(two *fixture.TwoCurrents) []sequence.Said {
	if two == nil || two.Conduction != fixture.NotOhmic {
		return nil
	}
	return []sequence.Said{sequence.Fact(sequence.NotOhmic, two.Small.Resistance.Value.String(), two.Small.Current.String(),
		two.Large.Resistance.Value.String(), two.Large.Current.String())}
}

// diodeWrong reports whether the diode itself is wrong.
func (j *Keys) diodeWrong(k int, v Value) bool {
	limits := j.set.Product.Keys[k].Limits
	if !j.diodeBlocks(k, v) {
		return true
	}
	if ForwardWithin(*v.Forward, limits.ForwardMin, limits.ForwardMax, limits.Guard) == decide.Accepted {
		j.sheet.Shown.Note(prove.DiodeDrop, k)
		return false
	}
	j.sheet.fail(k, "diode drop", volts(*v.Forward, limits.ForwardMax))
	return true
}

// diodeBlocks reports whether the diode keeps current out the other way, and
// says so where it does not.
func (j *Keys) diodeBlocks(k int, v Value) bool {
	if j.set.IsOpen(v.Reverse) {
		j.sheet.Shown.Note(prove.DiodeBlocks, k)
		return true
	}
	j.sheet.fail(k, "diode shorted", ohms(v.Reverse, j.set.Closure))
	return false
}

// Made judges how a key closed; whole says that it was watched until it had come to rest.
func (j *Keys) Made(k int, made fixture.Edge, whole bool) {
	limits := j.set.Product.Keys[k].Limits
	switch {
	case made.Teases(limits.Make):
		j.teases(k, made)
		return
	case made.Settled:
	case made.Bounce.Transitions > 0:
		j.sheet.fail(k, "contact unsteady", nothing)
		return
	default:
		return
	}
	j.sheet.Keys[k].Make = &made.Bounce
	if BounceWithin(made.Bounce, limits.Make, j.set.Jig.Tick, limits.Guard) != decide.Accepted {
		j.sheet.fail(k, "bounce on make", millis(made.Bounce.Time, limits.Make))
		return
	}
	if whole {
		j.sheet.Shown.Note(prove.BounceClosing, k)
	}
}

// teases says that a key came and went on its way down, or while it was held.
func (j *Keys) teases(k int, made fixture.Edge, manner ...sequence.Said) {
	bounce := millis(made.Bounce.Time, j.set.Product.Keys[k].Limits.Make)
	j.sheet.fail(k, "teases", func(f *sequence.Finding) {
		bounce(f)
		if !made.Settled {
			f.Value, f.U = nil, nil // it never came to stay
		}
	}, manner...)
	if made.Settled {
		j.sheet.Keys[k].Make = &made.Bounce
	}
}

// Broke judges how a key opened; open is read after it should have.
func (j *Keys) Broke(k int, broke fixture.Edge, open fixture.Resistance) {
	key, limits := &j.sheet.Keys[k], j.set.Product.Keys[k].Limits
	if j.set.IsOpen(open) {
		j.sheet.Shown.Note(prove.Opens, k)
	}
	if j.set.IsOpen(open) && !broke.Settled && !j.set.ShowsOpen(k, open) {
		return // a leak hides how it opened
	}
	if !j.set.IsOpen(open) || !broke.Settled && key.Make != nil {
		j.sheet.fail(k, "releases late", ohms(open, j.set.Closure))
		j.late = append(j.late, k)
		return
	}
	if !broke.Ends { // it may go on bouncing under the next keys
		j.late = append(j.late, k)
	}
	key.Break = &broke.Bounce
	if BounceWithin(broke.Bounce, limits.Break, j.set.Jig.Tick, limits.Guard) != decide.Accepted {
		j.sheet.fail(k, "bounce on break", millis(broke.Bounce.Time, limits.Break))
		return
	}
	if broke.Settled && broke.Ends {
		j.sheet.Shown.Note(prove.BounceOpening, k)
	}
}

// joinSigmas is how many standard uncertainties an electrical press may read
// from its resistor, besides the switches of two channels.
const joinSigmas = 3

// Joined judges an electrical press, which says nothing of the key.
func (j *Keys) Joined(k int, got fixture.Resistance) {
	join := j.set.Jig.Join
	j.sheet.Keys[k].Closed = &got
	band := joinSigmas*math.Hypot(float64(got.U), join.U*float64(join.Ohm)) + 2*float64(j.set.Jig.Switch)
	if got.AtLeast || math.Abs(float64(got.Value-join.Ohm)) > band {
		j.sheet.fail(k, "join reads wrong", ohms(got, join.Ohm))
		return
	}
	j.sheet.Shown.Note(prove.Harness, k)
}

// Others notes a key during whose press other lines touched, by the readings of
// groups taken meanwhile.
func (j *Keys) Others(k int, groups []fixture.Resistance) {
	i := slices.IndexFunc(groups, func(reading fixture.Resistance) bool { return !j.set.IsOpen(reading) })
	switch {
	case i >= 0:
		j.strays = append(j.strays, Stray{k, groups[i]})
	case len(groups) > 0 && j.set.Actuation != sequence.Electrical: // which closes no key
		j.sheet.Shown.Note(prove.Alone, k)
	}
}

// afterLate reports whether a key pressed before k was slow to open, shortly before, or so
// that something was closed during every key since: that then explains what was seen during k.
func (j *Keys) afterLate(k int) bool {
	const shortly = 4
	return slices.ContainsFunc(j.late, func(l int) bool {
		for since := l + 1; l < k && since < k-shortly; since++ {
			if !slices.ContainsFunc(j.strays, func(s Stray) bool { return s.Key == since }) {
				return false
			}
		}
		return l < k
	})
}

// NoKeyThere writes down a contact between lines that no key joins, once.
func (j *Keys) NoKeyThere(c Connection) {
	if slices.ContainsFunc(j.sheet.Pairs, func(p sequence.Pair) bool { return p.Lines == j.sheet.names(c.A, c.B) }) {
		return
	}
	j.sheet.pair(c, "")
	j.sheet.add(j.sheet.finding("second contact", j.sheet.atLines(sequence.AtNoKey, c.A, c.B), ohms(c.Ohm, j.set.Closure), c.A, c.B))
}

// Only notes that while key k was held, all lines were looked at pair by pair, and that
// nothing else closed.
func (j *Keys) Only(k int) { j.sheet.Shown.Note(prove.Alone, k) }

// LetGo notes that key k read open after it was let go.
func (j *Keys) LetGo(k int) { j.sheet.Shown.Note(prove.Opens, k) }

// Unseen reports whether a key was let go of whose closing or opening was to be seen
// and was not.
func (j *Keys) Unseen(k int, closing, opening bool) bool {
	shown, key := j.sheet.Shown, j.sheet.Keys[k]
	return key.Verdict == sequence.KeyPass &&
		(closing && !shown[prove.BounceClosing][k] || opening && !shown[prove.BounceOpening][k])
}

// Ghost judges the fourth corner of a rectangle, three corners of which are to be held:
// by what those read meanwhile they were, or the open fourth proves nothing.
func (j *Keys) Ghost(t Rectangle, held []fixture.Resistance, reading fixture.Resistance) {
	if j.hidden(t) {
		return
	}
	if j.set.IsOpen(reading) {
		if !slices.ContainsFunc(held, j.set.IsOpen) {
			j.sheet.Shown.Note(prove.Rectangles, t.Under)
		}
		return
	}
	at := j.sheet.atKey(sequence.AtOtherKeys, t.Under, j.sheet.Labels(append([]int{t.Fourth}, t.Held[:]...))...)
	j.sheet.failAt(t.Under, "ghost key", at, ohms(reading, j.set.Closure))
}

// hidden reports whether the rectangle has a key that is not good by itself,
// so that the rectangle would prove nothing.
func (j *Keys) hidden(t Rectangle) bool {
	for _, k := range append(t.Held[:], t.Fourth) {
		if j.rest.Hidden(k) || j.sheet.Keys[k].Verdict != sequence.KeyPass {
			return true
		}
	}
	// Rows or columns that are joined close the fourth corner without its diode.
	under, fourth := j.set.Product.Keys[t.Under], j.set.Product.Keys[t.Fourth]
	return j.rest.Known.Same(under.A, fourth.A) || j.rest.Known.Same(under.B, fourth.B)
}
