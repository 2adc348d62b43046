package sequence

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"padjig/fixture"
	"padjig/sequence/product"
)

// Exercising is what is done to a unit in which the production test found
// nothing, or not enough: many presses, each key held, the tail moved.
type Exercising struct {
	Keys        []int         // by number; nil for every key
	Presses     int           // of each key
	StopAtFirst bool          // end at the first press that is not good, and leave the unit as it then is
	Hold        time.Duration // each key is held and watched for so long; 0: not
	Flex        time.Duration // the same while somebody moves the tail; 0: not
}

// NewExercise plans an exercise. The error is Problems when the jig cannot do it.
func NewExercise(p *product.Product, jig fixture.Capabilities, e Exercising) (*Plan, error) {
	if !jig.Mechanical {
		return nil, Problems{fmt.Sprintf("jig %s has no actuators: nobody presses evenly hundreds of times by hand", jig.Serial)}
	}
	plan, err := newPlan(p, jig, Mechanical)
	if err != nil {
		return nil, err
	}
	if e.Keys == nil {
		e.Keys = plan.everyKey()
	}
	plan.Purpose, plan.exercise = Exercise, e
	plan.beforeKeys()
	if e.Presses > 0 {
		plan.wait("presses", fmt.Sprintf("each key closes within its limit and opens again, %d times", e.Presses), (*exercised).presses)
	}
	if e.Hold > 0 {
		plan.wait("held closed", fmt.Sprintf("each key stays closed while it is held for %v, watched every %v", e.Hold, jig.Tick), (*exercised).hold)
	}
	if e.Flex > 0 {
		plan.wait("tail moved", fmt.Sprintf("keys that reach every line stay closed for %v while the tail is moved", e.Flex), (*exercised).flex)
	}
	plan.afterKeys()
	return plan, plan.fits()
}

// wait adds a step that runs by itself.
func (plan *Plan) wait(name, proves string, work func(*exercised, Step) error) {
	plan.Steps = append(plan.Steps, Step{
		Name: name, Proves: proves, Keys: plan.exercise.Keys,
		work: func(r *runner, step Step) error {
			if r.over {
				return errLeftOut
			}
			return work(&exercised{runner: r, step: step}, step)
		},
	})
}

// errLeftOut is the error of a step that is left out and stays not done.
var errLeftOut = errors.New("left out")

// exercised is one step of an exercise at work.
type exercised struct {
	*runner
	step Step
	pace pace
}

// pace is how far a step is and how long it took so far.
type pace struct {
	began     time.Time
	done, all int           // presses, or keys that are held
	after     time.Duration // the steps behind this one
}

func (e *exercised) begin(all int, after time.Duration) {
	e.pace = pace{began: time.Now(), all: all, after: after}
}

// left is how long the exercise still takes when the rest goes as what was done.
func (p pace) left() time.Duration {
	if p.done == 0 {
		return 0
	}
	return time.Duration(float64(time.Since(p.began))/float64(p.done)*float64(p.all-p.done)) + p.after
}

// holding is how long keys are held for, one after the other.
func holding(keys int, each time.Duration) time.Duration { return time.Duration(keys) * each }

// flexing is how long the tail is moved for, with the time to get hold of it.
func (e *exercised) flexing() time.Duration {
	if e.plan.exercise.Flex == 0 {
		return 0
	}
	return readyToMove + holding(len(e.cover()), e.plan.exercise.Flex)
}

// seen are the keys of a step that are not hidden.
func (e *exercised) seen(step Step) int {
	n := 0
	for _, k := range step.Keys {
		if !e.hidden(k) {
			n++
		}
	}
	return n
}

// sayDone hands on a key that is done, with how long the rest takes.
func (e *exercised) sayDone(step Step, done, total, k int) {
	result := e.run.Keys[k]
	e.say(Progress{Step: step, Done: done, Total: total, Key: &result, Left: e.pace.left()})
}

// of is what the exercise found of key k so far.
func (e *exercised) of(k int) *KeyExercise {
	label := e.label(k)
	i := slices.IndexFunc(e.run.Exercised, func(x KeyExercise) bool { return x.Key == label })
	if i < 0 {
		i = len(e.run.Exercised)
		e.run.Exercised = append(e.run.Exercised, KeyExercise{Key: label})
		if key := &e.run.Keys[k]; key.Verdict == KeyUntested {
			key.Verdict = KeyPass
		}
	}
	return &e.run.Exercised[i]
}

// burst is how many presses are queued in a row; between two bursts a run can
// be stopped and says how far it is.
const burst = 25

// presses presses each key as often as asked, but for those that are hidden.
func (e *exercised) presses(step Step) error {
	seen := e.seen(step)
	e.begin(seen*e.plan.exercise.Presses, holding(seen, e.plan.exercise.Hold)+e.flexing())
	for i, k := range step.Keys {
		if e.hidden(k) {
			continue
		}
		for done := 0; done < e.plan.exercise.Presses && !e.over; {
			n := min(burst, e.plan.exercise.Presses-done)
			if err := e.burst(k, n); err != nil {
				return err
			}
			done += n
			e.pace.done += n
			e.say(Progress{Step: step, Done: i, Total: len(step.Keys), Press: done, Left: e.pace.left()})
		}
		e.sayDone(step, i+1, len(step.Keys), k)
		if e.over {
			return nil
		}
	}
	return nil
}

// hidden reports whether a key's lines are connected at rest.
func (e *exercised) hidden(k int) bool {
	key := e.plan.Product.Keys[k]
	return e.known.same(key.A, key.B)
}

// errEnough ends a burst at a press that is not good.
var errEnough = errors.New("enough")

func (e *exercised) burst(k, n int) error {
	var queue []*keyRoutine
	var routines []*fixture.Routine
	for range n {
		q := e.plan.pressRoutine(k, e.known)
		queue, routines = append(queue, q), append(routines, q.r)
	}
	err := e.perform(routines, func(i int, d fixture.Done) error {
		if good := e.pressed(queue[i], d); !good && e.plan.exercise.StopAtFirst {
			return errEnough
		}
		return nil
	})
	if errors.Is(err, errEnough) {
		e.over = true
		err = e.riseAgain()
	}
	return err
}

// riseAgain drops what is queued and lets the key come up that was begun.
func (r *runner) riseAgain() error {
	if err := r.jig.Inert(r.ctx); err != nil {
		return err
	}
	rise := fixture.NewRoutine(r.plan.Jig)
	rise.Wait(r.plan.Jig.TravelUp + settleAfterLate)
	_, err := r.one(rise)
	return err
}

// pressRoutine presses key k once: watch it close, read it, watch it open.
func (plan *Plan) pressRoutine(k int, known *nets) *keyRoutine {
	q := &keyRoutine{key: k, r: fixture.NewRoutine(plan.Jig)}
	feed, ground := plan.ends(k)
	across := fixture.Stage{Range: plan.mid, Feed: []int{feed}, Ground: []int{ground}}
	q.r.Stage(across)
	q.press(plan, feed, ground)
	q.mid = q.r.Read(feed, ground, samplesGlance)
	q.value(plan, known, samplesGlance)
	q.r.Stage(across)
	q.release(plan, feed)
	q.open = q.r.Read(feed, ground, samplesGlance)
	return q
}

// pressed counts one press and reports whether it was good.
func (e *exercised) pressed(q *keyRoutine, d fixture.Done) bool {
	x, limits := e.of(q.key), e.plan.Product.Keys[q.key].Limits
	before := x.Bad()
	x.Presses++
	made, broke := d.Make(q.makes), d.Break(q.breaks)
	switch closed, _, err := e.closedValue(q, d); {
	case e.isOpen(d.Resistance(q.mid)) || made.Teases(limits.Make) || err != nil || closed.AtLeast:
		x.Misses++
	default:
		x.closed(closed)
		e.run.Keys[q.key].Closed = x.Most
		x.Make, x.Break = max(x.Make, made.Bounce.Time), max(x.Break, broke.Bounce.Time)
		if closed.Value > limits.ClosedMax+2*closed.U {
			x.High++
		}
	}
	if !e.isOpen(d.Resistance(q.open)) {
		x.Sticks++
	}
	if x.Bad() == before {
		return true
	}
	e.bad(q.key, x)
	return false
}

// bad notes that the last press of a key was not good.
func (e *exercised) bad(k int, x *KeyExercise) {
	e.run.Keys[k].Verdict = KeyFail
	if x.First == 0 {
		x.First = x.Presses
	}
}

// closed takes a closed resistance into the smallest and the largest.
func (x *KeyExercise) closed(r fixture.Resistance) {
	if x.Least == nil || r.Value < x.Least.Value {
		x.Least = &r
	}
	if x.Most == nil || r.Value > x.Most.Value {
		x.Most = &r
	}
}

// judgeExercise says what is wrong with each key after all its presses, those
// for holding it among them.
func (r *runner) judgeExercise() {
	e := &exercised{runner: r}
	for _, x := range r.run.Exercised {
		e.judgePresses(r.plan.Product.Key(x.Key))
	}
}

func (e *exercised) judgePresses(k int) {
	x, limits, key := e.of(k), e.plan.Product.Keys[k].Limits, &e.run.Keys[k]
	if x.Most != nil {
		key.Closed, key.Make, key.Break = x.Most, &fixture.Bounce{Time: x.Make}, &fixture.Bounce{Time: x.Break}
	}
	if x.Misses > 0 {
		e.failOften(k, "misses", x.Misses, *x)
	}
	if x.High > 0 {
		e.fail(k, "key high", ohms(*x.Most, limits.ClosedMax))
		e.often(x.High, *x)
	}
	if x.Sticks > 0 {
		e.failOften(k, "sticks", x.Sticks, *x)
	}
	for _, edge := range []struct {
		what          string
		longest, most time.Duration
	}{{"bounce on make", x.Make, limits.Make}, {"bounce on break", x.Break, limits.Break}} {
		if bounceWithin(fixture.Bounce{Time: edge.longest}, edge.most, e.plan.Jig.Tick, limits.Guard) == rejected {
			e.fail(k, edge.what, millis(edge.longest, edge.most))
			e.last().odd(said(LongestOf, strconv.Itoa(x.Presses)))
		}
	}
}

// failOften adds a finding about a part of the presses, its value in percent.
func (e *exercised) failOften(k int, what string, times int, x KeyExercise) {
	e.fail(k, what, func(f *Finding) {
		percent := 100 * float64(times) / float64(x.Presses)
		f.Value, f.Unit = &percent, "%"
	})
	e.often(times, x)
}

func (e *exercised) often(times int, x KeyExercise) {
	e.last().odd(said(OfPresses, strconv.Itoa(times), strconv.Itoa(x.Presses), strconv.Itoa(x.First)))
}

// last is the finding that was added last.
func (e *exercised) last() *Finding { return &e.run.Findings[len(e.run.Findings)-1] }

// glanceHeld is how long a held key is watched in one exchange.
const glanceHeld = 250 * time.Millisecond

// hold holds each key closed and watches it.
func (e *exercised) hold(step Step) error {
	e.begin(e.seen(step), e.flexing())
	for i, k := range step.Keys {
		if e.hidden(k) {
			continue
		}
		if err := e.holdKey(k, e.plan.exercise.Hold, &e.of(k).Held); err != nil {
			return err
		}
		e.judgeHold(k, e.of(k).Held)
		e.pace.done++
		e.sayDone(step, i+1, len(step.Keys), k)
	}
	return nil
}

func (e *exercised) judgeHold(k int, h fixture.Hold, manner ...Said) {
	if h.Openings == 0 {
		return
	}
	e.fail(k, "drops out", func(f *Finding) {
		ms := float64(h.Longest) / float64(time.Millisecond)
		f.Value, f.Unit = &ms, "ms"
	})
	e.last().odd(append([]Said{openings(h)}, manner...)...)
}

func openings(h fixture.Hold) Said {
	times, watched := strconv.Itoa(h.Openings), h.Watched.Round(time.Millisecond).String()
	switch {
	case h.AtLeast:
		return said(OpenedMore, times, watched)
	case h.Openings == 1:
		return said(OpenedOnce, watched)
	}
	return said(Opened, times, watched)
}

// holdKey presses a key, watches it for a time, and lets it go. A press that
// does not close counts as one more press that missed and is tried once more; a
// key that stays open then has nothing to be watched for. One that closes is not
// counted: it is not judged as the others are.
func (e *exercised) holdKey(k int, long time.Duration, into *fixture.Hold) error {
	closed, err := e.pressToHold(k)
	if err == nil && !closed {
		if err = e.letUp(k); err == nil {
			closed, err = e.pressToHold(k)
		}
	}
	if err == nil && closed {
		var h fixture.Hold
		h, err = e.watchHeld(k, long)
		*into = fixture.Hold{Watched: h.Watched, Openings: h.Openings, Longest: h.Longest, AtLeast: h.AtLeast}
	}
	if err != nil {
		return err
	}
	return e.letUp(k)
}

func (e *exercised) pressToHold(k int) (closed bool, err error) {
	feed, ground := e.plan.ends(k)
	q := &keyRoutine{key: k, r: fixture.NewRoutine(e.plan.Jig)}
	q.r.Stage(fixture.Stage{Range: e.plan.mid, Feed: []int{feed}, Ground: []int{ground}})
	q.press(e.plan, feed, ground)
	q.mid = q.r.Read(feed, ground, samplesGlance)
	done, err := e.one(q.r)
	if err != nil {
		return false, err
	}
	if !e.isOpen(done.Resistance(q.mid)) {
		return true, nil
	}
	x := e.of(k)
	x.Presses++
	x.Misses++
	e.bad(k, x)
	return false, nil
}

func (e *exercised) letUp(k int) error {
	release := fixture.NewRoutine(e.plan.Jig)
	release.Release(e.plan.Product.Keys[k].Actuator)
	release.Wait(e.plan.Jig.TravelUp + settleAfterLate)
	_, err := e.one(release)
	return err
}

// watchHeld watches a key that is held, in exchanges queued one behind the other.
func (e *exercised) watchHeld(k int, long time.Duration) (sum fixture.Hold, err error) {
	feed, ground := e.plan.ends(k)
	lower, upper := e.plan.thresholds(k)
	var routines []*fixture.Routine
	for range int(math.Ceil(long.Seconds() / glanceHeld.Seconds())) {
		r := fixture.NewRoutine(e.plan.Jig)
		r.Stage(fixture.Stage{Range: e.plan.mid, Feed: []int{feed}, Ground: []int{ground}})
		r.Capture(fixture.Watch{Channel: feed, Lower: lower, Upper: upper, Window: glanceHeld, Quiet: glanceHeld})
		routines = append(routines, r)
	}
	err = e.perform(routines, func(i int, d fixture.Done) error {
		if i == 0 {
			sum = d.Hold(0)
		} else {
			sum = sum.Then(d.Hold(0))
		}
		return nil
	})
	return sum, err
}
