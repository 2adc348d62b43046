package sequence

import (
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// Samples of a reading: few where only "nothing there" is asked, more for the
// value that is judged, many where a first reading fell into the guard band.
const (
	samplesGlance = 4
	samplesValue  = 32
	samplesRepeat = 256
)

// keyRoutine is the one exchange that tests a key: press, watch it close, read
// it, show that nothing else closed, release, watch it open, confirm.
type keyRoutine struct {
	key          int
	r            *fixture.Routine
	makes        fixture.Slot
	mid, low     fixture.Slot
	diode        [3]fixture.Slot // three currents, largest first
	reverse      fixture.Slot    // against the diode
	groups       []fixture.Slot
	breaks, open fixture.Slot
}

// keyRoutine builds the exchange for key k, lines already known to be
// connected being treated as one net.
func (plan *Plan) keyRoutine(k int, known *nets) *keyRoutine {
	q := &keyRoutine{key: k, r: fixture.NewRoutine(plan.Jig)}
	feed, ground := plan.ends(k)
	across := fixture.Stage{Range: plan.mid, Feed: []int{feed}, Ground: []int{ground}}

	q.r.Stage(across)
	q.press(plan, feed, ground)
	q.mid = q.r.Read(feed, ground, samplesGlance)
	// Before the larger currents of the value: a thread of silver that these
	// would burn away has then been seen.
	q.others(plan, known)
	q.value(plan, known, samplesValue)
	q.r.Stage(across)
	q.release(plan, feed)
	q.open = q.r.Read(feed, ground, samplesGlance)
	return q
}

// valueRoutine presses key k and reads only its value, with many samples.
func (plan *Plan) valueRoutine(k int, known *nets) *keyRoutine {
	q := &keyRoutine{key: k, r: fixture.NewRoutine(plan.Jig)}
	feed, ground := plan.ends(k)
	q.r.Stage(fixture.Stage{Range: plan.mid, Feed: []int{feed}, Ground: []int{ground}})
	q.press(plan, feed, ground)
	q.mid = q.r.Read(feed, ground, samplesGlance)
	q.value(plan, known, samplesRepeat)
	q.release(plan, feed)
	return q
}

// endLines are the lines to feed and to ground for key k: current runs the way
// its diode conducts.
func (plan *Plan) endLines(k int) (feed, ground int) {
	key := plan.Product.Keys[k]
	if key.Diode == product.BtoA {
		return key.B, key.A
	}
	return key.A, key.B
}

// ends are the channels of endLines.
func (plan *Plan) ends(k int) (feed, ground int) {
	from, to := plan.endLines(k)
	return plan.channel(from), plan.channel(to)
}

func (q *keyRoutine) press(plan *Plan, feed, ground int) {
	if plan.Actuation == Electrical {
		q.r.Join(feed, ground)
		q.r.Wait(joinSettles)
		return
	}
	limit := plan.Product.Keys[q.key].Limits.Make
	q.r.Press(plan.Product.Keys[q.key].Actuator)
	q.makes = q.r.Capture(plan.watch(q.key, feed, plan.Jig.TravelDown, limit))
}

func (q *keyRoutine) release(plan *Plan, feed int) {
	if plan.Actuation == Electrical {
		q.r.Part()
		q.r.Wait(joinSettles)
		return
	}
	limit := plan.Product.Keys[q.key].Limits.Break
	q.r.Release(plan.Product.Keys[q.key].Actuator)
	q.breaks = q.r.Capture(plan.watch(q.key, feed, plan.Jig.TravelUp, limit))
}

// joinSettles covers the switches of an electrical press.
const joinSettles = time.Millisecond

// watch says how a contact is watched: long enough to see bounce of twice the
// limit to its end, and quiet for the limit itself, so that a contact which
// comes back within it is still counted.
func (plan *Plan) watch(k, channel int, travel, limit time.Duration) fixture.Watch {
	lower, upper := plan.thresholds(k)
	quiet := max(limit, minQuiet)
	return fixture.Watch{
		Channel: channel, Lower: lower, Upper: upper,
		Window: travel + 2*quiet + extraWatch, Quiet: quiet,
	}
}

const (
	minQuiet   = 2 * time.Millisecond
	extraWatch = 20 * time.Millisecond
)

// thresholds are the two levels a contact is watched against, as fractions of
// the reference voltage: 0.3 and 0.7 as CMOS inputs have them (common practice,
// no source), moved up where a diode's drop or a high permitted resistance
// would keep a good contact from reaching the lower one.
func (plan *Plan) thresholds(k int) (lower, upper float64) {
	limits := plan.Product.Keys[k].Limits
	ref := float64(plan.Jig.Ranges[plan.mid].Ohm)
	worst := 1.5 * float64(limits.ClosedMax)
	lower = worst / (worst + ref)
	if plan.Product.Keys[k].Diode != product.NoDiode {
		lower += 1.1 * float64(limits.ForwardMax/plan.Jig.Vref)
	}
	lower = min(max(lower, 0.3), 0.75)
	return lower, max(0.7, (1+lower)/2)
}

// showsOpen reports whether a key whose lines have this resistance with nothing pressed
// reaches the level at which it is watched to open: beside a leak of no more than about
// twice the reference resistor it does not, however it opens.
func (plan *Plan) showsOpen(k int, open fixture.Resistance) bool {
	_, upper := plan.thresholds(k)
	return open.AtLeast || float64(open.Value/(open.Value+plan.Jig.Ranges[plan.mid].Ohm)) > upper
}

// value reads the key's own resistance, idle lines held at the sensed
// potential where the jig can.
func (q *keyRoutine) value(plan *Plan, known *nets, samples int) {
	if plan.Product.Keys[q.key].Diode == product.NoDiode || plan.Actuation == Electrical {
		q.low = q.across(plan, known, plan.low, samples)
		return
	}
	if plan.throughDiode(q.key) {
		q.low = q.mid
	} else {
		for i, rng := range plan.allowedRanges()[:3] {
			q.diode[i] = q.across(plan, known, rng, samples)
		}
		q.low = q.diode[0]
	}
	feed, ground := plan.ends(q.key)
	q.r.Stage(fixture.Stage{Range: plan.mid, Feed: []int{ground}, Ground: []int{feed}})
	q.reverse = q.r.Read(ground, feed, samplesGlance)
}

func (q *keyRoutine) across(plan *Plan, known *nets, rng, samples int) fixture.Slot {
	feed, ground := plan.ends(q.key)
	stage := fixture.Stage{Range: rng, Feed: []int{feed}, Ground: []int{ground}}
	stage.Guard = plan.channels(plan.guarded(q.key, known))
	q.r.Stage(stage)
	return q.r.Read(feed, ground, samples)
}

// guarded lists the lines held at the sensed potential while key k is read. A
// line known to be connected to one of the key's own floats: a guard on it
// would drive current through that connection into the line that is read.
func (plan *Plan) guarded(k int, known *nets) []int {
	if !plan.Jig.Guard {
		return nil
	}
	key := plan.Product.Keys[k]
	var out []int
	for _, l := range plan.except(key.A, key.B) {
		if !known.same(l, key.A) && !known.same(l, key.B) {
			out = append(out, l)
		}
	}
	return out
}

// others shows that no two nets touch besides the key's own two lines.
func (q *keyRoutine) others(plan *Plan, known *nets) {
	held := known.clone()
	key := plan.Product.Keys[q.key]
	held.join(key.A, key.B)
	q.groups = plan.groups(q.r, held, plan.mid, samplesGlance)
}

// groups adds the group readings of a set of nets to a routine.
func (plan *Plan) groups(r *fixture.Routine, n *nets, rng, samples int) []fixture.Slot {
	var slots []fixture.Slot
	for _, s := range splits(n.of(plan.lines)) {
		slots = append(slots, plan.group(r, s, rng, samples))
		if plan.diodes() {
			slots = append(slots, plan.group(r, s.reversed(), rng, samples))
		}
	}
	return slots
}

func (plan *Plan) group(r *fixture.Routine, s split, rng, samples int) fixture.Slot {
	feed, ground := plan.channels(s.feed), plan.channels(s.ground)
	r.Stage(fixture.Stage{Range: rng, Feed: feed, Ground: ground})
	return r.Read(feed[0], ground[0], samples)
}

// restLimit is the least resistance allowed between two lines at rest: that of
// the keys that join them, or the strictest of the product for lines that no
// key joins.
func (plan *Plan) restLimit(a, b int) (limit quantity.Ohm, guard float64) {
	for _, k := range plan.Product.Keys {
		if k.A == a && k.B == b || k.A == b && k.B == a {
			limit, guard = max(limit, k.Limits.RestMin), max(guard, k.Limits.Guard)
		}
	}
	if limit > 0 {
		return limit, guard
	}
	return plan.strictestRest()
}

func (plan *Plan) strictestRest() (limit quantity.Ohm, guard float64) {
	for _, k := range plan.Product.Keys {
		limit, guard = max(limit, k.Limits.RestMin), max(guard, k.Limits.Guard)
	}
	return limit, guard
}
