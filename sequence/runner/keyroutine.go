package runner

import (
	"errors"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/nets"
	"padjig/sequence/product"
)

// Samples of a reading: few where only "nothing there" is asked, more for the
// value that is judged, many where a first reading fell into the guard band.
const (
	samplesGlance = 4
	samplesRest   = 16
	samplesValue  = 32
	samplesRepeat = 256
)

const (
	// joinSettles covers the switches of an electrical press.
	joinSettles = time.Millisecond
	minQuiet    = 2 * time.Millisecond
	extraWatch  = 20 * time.Millisecond
	// settleAfterLate lets a key that is slow to open do so before the next one.
	settleAfterLate = 100 * time.Millisecond
)

// routines makes the exchanges with the jig.
type routines struct {
	set  *judge.Setting
	calm *calm // nil: nothing is known to disturb readings
}

func (m routines) routine() *fixture.Routine { return fixture.NewRoutine(m.set.Jig) }

// channel is the jig channel under a line's tail pin.
func (m routines) channel(line int) int { return m.set.Product.Lines[line].Pin - 1 }

func (m routines) channels(lines []int) []int {
	out := make([]int, len(lines))
	for i, l := range lines {
		out[i] = m.channel(l)
	}
	return out
}

// ends are the channels to feed and to ground for key k.
func (m routines) ends(k int) (feed, ground int) {
	from, to := m.set.EndLines(k)
	return m.channel(from), m.channel(to)
}

// stage feeds the lines of a split against each other with others guarded, where the jig can.
func (m routines) stage(s judge.Split, guard []int, rng int) fixture.Stage {
	stage := fixture.Stage{Range: rng, Feed: m.channels(s.Feed), Ground: m.channels(s.Ground)}
	if m.set.Jig.Guard {
		stage.Guard = m.channels(guard)
	}
	return stage
}

// down presses key k and waits until it is down.
func (m routines) down(k int, settle time.Duration) *fixture.Routine {
	r := m.routine()
	r.Press(m.set.Product.Keys[k].Actuator)
	r.Wait(m.set.Jig.TravelDown + settle)
	return r
}

// up lets go of key k and waits until it is up.
func (m routines) up(k int) *fixture.Routine {
	r := m.routine()
	r.Release(m.set.Product.Keys[k].Actuator)
	r.Wait(m.set.Jig.TravelUp + settleAfterLate)
	return r
}

// groups adds group readings to a routine.
func (m routines) groups(r *fixture.Routine, all []judge.Split, rng, samples int) []fixture.Slot {
	slots := make([]fixture.Slot, len(all))
	for i, s := range all {
		slots[i] = m.between(r, m.stage(s, nil, rng), samples)
	}
	return slots
}

func readingsOf(d fixture.Done, slots []fixture.Slot) []fixture.Resistance {
	out := make([]fixture.Resistance, len(slots))
	for i, s := range slots {
		out[i] = d.Resistance(s)
	}
	return out
}

// watch says how a contact is watched: long enough to see bounce of twice the
// limit to its end, and quiet for the limit itself, so that a contact which
// comes back within it is still counted.
func (m routines) watch(k, channel int, travel, limit time.Duration) fixture.Watch {
	lower, upper := m.set.Thresholds(k)
	quiet := max(limit, minQuiet)
	return fixture.Watch{
		Channel: channel, Lower: lower, Upper: upper,
		Window: travel + 2*quiet + extraWatch, Quiet: quiet,
	}
}

// keyRoutine is an exchange with one key. The whole one is: press, watch it close, read
// it, show that nothing else closed, release, watch it open, confirm.
type keyRoutine struct {
	routines
	key          int
	feed, ground int // channels
	r            *fixture.Routine
	makes        fixture.Slot
	mid, low     fixture.Slot
	near, large  [2]fixture.Slot // at two currents, the second of each with the current the other way round
	diode        [3]fixture.Slot // three currents, largest first
	reverse      fixture.Slot    // against the diode
	groups       []fixture.Slot
	breaks, open fixture.Slot
}

// key begins an exchange with key k, on the range with which contacts are watched.
func (m routines) key(k int) *keyRoutine {
	q := &keyRoutine{routines: m, key: k, r: m.routine()}
	q.feed, q.ground = m.ends(k)
	q.across()
	return q
}

func (q *keyRoutine) across() {
	q.connect(q.r, fixture.Stage{Range: q.set.Mid, Feed: []int{q.feed}, Ground: []int{q.ground}})
}

// glance reads whether the key is closed.
func (q *keyRoutine) glance() { q.mid = q.r.Read(q.feed, q.ground, samplesGlance) }

// whole is the one exchange that tests a key, lines already known to be connected
// being treated as one net.
func (m routines) whole(k int, known *nets.Nets) *keyRoutine {
	q := m.key(k)
	q.press()
	q.glance()
	// Before the larger currents of the value: a thread of silver that these
	// would burn away has then been seen.
	key := m.set.Product.Keys[k]
	q.groups = m.groupsOf(q.r, known.With(key.A, key.B))
	q.value(known, samplesValue)
	q.letGo()
	return q
}

// groupsOf shows that no two nets touch.
func (m routines) groupsOf(r *fixture.Routine, n *nets.Nets) []fixture.Slot {
	return m.groups(r, m.set.Groups(n), m.set.Mid, samplesGlance)
}

// once presses key k: watch it close, read it, watch it open.
func (m routines) once(k int, known *nets.Nets) *keyRoutine {
	q := m.key(k)
	q.press()
	q.glance()
	q.value(known, samplesGlance)
	q.letGo()
	return q
}

// valueOf presses key k and reads only its value, with many samples.
func (m routines) valueOf(k int, known *nets.Nets) *keyRoutine {
	q := m.key(k)
	q.press()
	q.glance()
	q.value(known, samplesRepeat)
	q.release()
	return q
}

// asItIs reads key k, whoever holds it.
func (m routines) asItIs(k int, known *nets.Nets, samples int) *keyRoutine {
	q := m.key(k)
	q.glance()
	q.value(known, samples)
	return q
}

func (q *keyRoutine) press() {
	key := q.set.Product.Keys[q.key]
	if q.set.Actuation == sequence.Electrical {
		q.r.Join(q.feed, q.ground)
		q.r.Wait(joinSettles)
		return
	}
	q.r.Press(key.Actuator)
	q.makes = q.r.Capture(q.watch(q.key, q.feed, q.set.Jig.TravelDown, key.Limits.Make))
}

func (q *keyRoutine) release() {
	key := q.set.Product.Keys[q.key]
	if q.set.Actuation == sequence.Electrical {
		q.r.Part()
		q.r.Wait(joinSettles)
		return
	}
	q.r.Release(key.Actuator)
	q.breaks = q.r.Capture(q.watch(q.key, q.feed, q.set.Jig.TravelUp, key.Limits.Break))
}

// letGo watches the key open and confirms it.
func (q *keyRoutine) letGo() {
	q.across()
	q.release()
	q.open = q.r.Read(q.feed, q.ground, samplesGlance)
}

// value reads the key's own resistance, idle lines held at the sensed
// potential where the jig can.
func (q *keyRoutine) value(known *nets.Nets, samples int) {
	switch {
	case q.set.Actuation == sequence.Electrical, !q.hasDiode() && !q.set.AtTwoCurrents(q.key):
		q.low = q.guarded(known, q.set.Low, samples)
		return
	case !q.hasDiode():
		q.twoCurrents(known, samples/2)
		return
	}
	if !q.set.ThroughDiode(q.key) {
		for i, rng := range q.set.Ranges[:3] {
			q.diode[i] = q.guarded(known, rng, samples)
		}
	}
	q.connect(q.r, fixture.Stage{Range: q.set.Mid, Feed: []int{q.ground}, Ground: []int{q.feed}})
	q.reverse = q.r.Read(q.ground, q.feed, samplesGlance)
}

// twoCurrents reads the contact small, large, small, large: what moves meanwhile shows
// between two readings at the same current, and a film is read before it is broken down.
func (q *keyRoutine) twoCurrents(known *nets.Nets, samples int) {
	for i := range q.near {
		q.near[i] = q.guarded(known, q.set.Near, samples)
		q.large[i] = q.guarded(known, q.set.Large(q.key), samples)
		q.feed, q.ground = q.ground, q.feed // twice, so that it ends as it began
	}
}

func (q *keyRoutine) hasDiode() bool { return q.set.Product.Keys[q.key].Diode != product.NoDiode }

func (q *keyRoutine) guarded(known *nets.Nets, rng, samples int) fixture.Slot {
	q.connect(q.r, fixture.Stage{
		Range: rng, Feed: []int{q.feed}, Ground: []int{q.ground}, Guard: q.channels(q.set.Guarded(q.key, known)),
	})
	return q.r.Read(q.feed, q.ground, samples)
}

// valueIn is what was read of the key: the contact's resistance from the reading that
// knows it better, or from three currents where a diode is in series.
func (q *keyRoutine) valueIn(d fixture.Done) judge.Value {
	v := judge.Value{Glance: d.Resistance(q.mid)}
	switch {
	case q.set.AtTwoCurrents(q.key):
		two, closed := d.TwoCurrents(q.near, q.large, q.set.Product.ContactCurrent(q.key))
		v.Closed = closed
		if two.Conduction != "" { // else it is beyond a range
			v.Two = &two
		}
		return v
	case !q.hasDiode():
		v.Closed = fixture.Surest(d.Resistance(q.low), v.Glance)
		return v
	}
	v.Reverse = d.Resistance(q.reverse)
	if q.set.ThroughDiode(q.key) {
		v.NoLaw = true
		return v
	}
	diode, err := d.SeriesDiode(q.diode)
	v.Closed, v.Forward, v.NoLaw = diode.Contact, &diode.Forward, errors.Is(err, fixture.ErrNoDiode)
	return v
}

// edgesIn is how the key came and went.
func (q *keyRoutine) edgesIn(d fixture.Done) judge.Edges {
	return judge.Edges{Make: d.Make(q.makes), Break: d.Break(q.breaks), Open: d.Resistance(q.open)}
}
