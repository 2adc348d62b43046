package sequence

import (
	"fmt"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// handPatience is how long a person may take for the next key before the run
// ends as incomplete.
const handPatience = 60 * time.Second

// handGlance is how long one exchange waits for a press; short, so that the
// run can be stopped between two.
const handGlance = 300 * time.Millisecond

// hand lets a person press the keys in any order, recognises each by the pair
// of lines it closes, and ticks it off.
func (r *runner) hand(step Step) error {
	if len(r.run.Findings) > 0 {
		return nil // connected at rest: no press could be recognised for sure
	}
	h := &handwork{runner: r, step: step, pending: map[int]bool{}}
	for _, k := range step.Keys {
		h.pending[k] = true
	}
	h.ask(AskEachKey, "press each key once, in any order, with the pad on a flat surface")
	return h.work()
}

// handwork is the state of a hand-press step.
type handwork struct {
	*runner
	step    Step
	pending map[int]bool // keys not pressed yet
	held    bool         // something is held that was told to be let go
}

func (h *handwork) work() error {
	last := time.Now()
	for len(h.pending) > 0 {
		made, pressed, err := h.glance()
		if err != nil {
			return err
		}
		if pressed {
			ticked, err := h.recognise(made)
			if err != nil {
				return err
			}
			if ticked {
				last = time.Now()
			}
			if h.held { // by now it was let go
				h.held = false
				h.say(h.next())
			}
		}
		if time.Since(last) > handPatience {
			return h.giveUp()
		}
	}
	return nil
}

// giveUp ends a run whose keys were not all pressed. A fault already found
// still makes it a fail.
func (h *handwork) giveUp() error {
	if len(h.run.Findings) > 0 {
		return nil
	}
	return h.stop(Incomplete, NeverPressed, strings.Join(h.left(), ", "))
}

func (h *handwork) left() []string {
	var out []string
	for _, k := range h.step.Keys {
		if h.pending[k] {
			out = append(out, h.label(k))
		}
	}
	return out
}

// glance waits a moment for any key, watching all of them at once: every line
// that keys are fed from on the bus, every line they lead to on ground.
func (h *handwork) glance() (made fixture.Edge, pressed bool, err error) {
	plan := h.plan
	routine := fixture.NewRoutine(plan.Jig)
	feed, ground := plan.sides()
	routine.Stage(fixture.Stage{Range: plan.mid, Feed: plan.channels(feed), Ground: plan.channels(ground)})
	watch := plan.watchAny(plan.channel(feed[0]))
	makes := routine.Capture(watch)
	groups := plan.groups(routine, h.known, plan.mid, samplesGlance)
	done, err := h.one(routine)
	if err != nil {
		return made, false, err
	}
	for _, g := range groups {
		pressed = pressed || !h.isOpen(done.Resistance(g))
	}
	if len(groups) == 0 { // one key between two lines: the watch itself tells
		pressed = done.Make(makes).Settled
	}
	return done.Make(makes), pressed, nil
}

// sides are the lines keys are fed from and the lines they lead to. A line
// that is both is fed, and its keys' bounce on make is not seen.
func (plan *Plan) sides() (feed, ground []int) {
	fed := map[int]bool{}
	for k := range plan.Product.Keys {
		from, _ := plan.endLines(k)
		fed[from] = true
	}
	led := map[int]bool{}
	for k := range plan.Product.Keys {
		if _, to := plan.endLines(k); !fed[to] {
			led[to] = true
		}
	}
	for _, l := range plan.lines {
		if fed[l] {
			feed = append(feed, l)
		} else if led[l] {
			ground = append(ground, l)
		}
	}
	return feed, ground
}

func (plan *Plan) watchAny(channel int) fixture.Watch {
	w := fixture.Watch{Channel: channel, Window: handGlance}
	for k := range plan.Product.Keys {
		lower, upper := plan.thresholds(k)
		w.Lower, w.Upper = max(w.Lower, lower), max(w.Upper, upper)
		w.Quiet = max(w.Quiet, plan.Product.Keys[k].Limits.Make, minQuiet)
	}
	return w
}

// recognise finds out what is held, judges it if it is one key, and waits
// until it is let go.
func (h *handwork) recognise(made fixture.Edge) (ticked bool, err error) {
	found, err := h.closePairs(h.known, h.plan.mid, func(int, int) (quantity.Ohm, float64) { return h.plan.closure, 0 })
	if err != nil {
		return false, err
	}
	switch keys := h.keysAt(found); {
	case len(found) == 0:
		return false, nil // let go before it could be read
	case len(found) == 1 && len(keys) == 0:
		h.ask(AskNowhere, fmt.Sprintf("%s and %s closed, where no key is", h.line(found[0].a), h.line(found[0].b)),
			h.line(found[0].a), h.line(found[0].b))
		h.noKeyThere(found[0])
		return true, h.untilOpen(fmt.Sprintf("%s and %s", h.line(found[0].a), h.line(found[0].b)))
	case len(found) > 1:
		h.ask(AskOne, fmt.Sprintf("%s pressed together: let go, and press one at a time", h.together(keys, found)), h.labels(keys)...)
		return false, h.untilOpen(h.together(keys, found))
	default:
		return true, h.judgeHeld(h.firstPending(keys), made)
	}
}

// keysAt lists the keys that join a found pair of lines.
func (h *handwork) keysAt(found []elsewhere) []int {
	var out []int
	for _, f := range found {
		for k, key := range h.plan.Product.Keys {
			if ordered(key.A, key.B) == ordered(f.a, f.b) {
				out = append(out, k)
			}
		}
	}
	return out
}

func (h *handwork) firstPending(keys []int) int {
	for _, k := range keys {
		if h.pending[k] {
			return k
		}
	}
	return keys[0]
}

func (h *handwork) together(keys []int, found []elsewhere) string {
	if len(keys) < 2 {
		return fmt.Sprintf("%d pairs of lines", len(found))
	}
	return strings.Join(h.labels(keys), " and ")
}

func (h *handwork) labels(keys []int) []string {
	var labels []string
	for _, k := range keys {
		labels = append(labels, h.label(k))
	}
	return labels
}

// noKeyThere records a contact between lines that no key joins, once.
func (h *handwork) noKeyThere(f elsewhere) {
	names := h.names(f.a, f.b)
	for _, p := range h.run.Pairs {
		if p.Lines == names {
			return
		}
	}
	h.run.Pairs = append(h.run.Pairs, h.pair(f, ""))
	finding := h.finding("second contact", h.atLines(AtNoKey, f.a, f.b), f.a, f.b)
	finding.measured(f.ohm, h.plan.closure)
	h.run.Findings = append(h.run.Findings, finding)
}

// judgeHeld reads the key that is held, waits for it to open, and ticks it off.
func (h *handwork) judgeHeld(k int, made fixture.Edge) error {
	if !h.pending[k] {
		h.ask(AskEnough, fmt.Sprintf("%s was pressed already", h.label(k)), h.label(k))
		return h.untilOpen(h.label(k))
	}
	q := &keyRoutine{key: k, r: fixture.NewRoutine(h.plan.Jig)}
	feed, ground := h.plan.ends(k)
	q.r.Stage(fixture.Stage{Range: h.plan.mid, Feed: []int{feed}, Ground: []int{ground}})
	q.mid = q.r.Read(feed, ground, samplesGlance)
	q.value(h.plan, h.known, samplesRepeat)
	done, err := h.one(q.r)
	if err != nil {
		return err
	}
	if h.isOpen(done.Resistance(q.mid)) {
		h.ask(AskAgain, fmt.Sprintf("%s was let go too soon: press it again", h.label(k)), h.label(k))
		return nil
	}
	h.run.Keys[k].Verdict = KeyPass
	// A first press is not repeated: what falls into the guard band stays open.
	if err := h.judgeValue(q, done, h.plan.Purpose != FirstPress); err != nil {
		return err
	}
	if made.Settled || made.Ends {
		// A watch that began before the press may end in the middle of its
		// bounce: that is neither unsteady nor teasing.
		made.Ends = true
		h.judgeMake(k, made)
	}
	h.ask(AskLetGo, h.label(k)+": let go", h.label(k))
	broke, seen, err := h.opening(k)
	if err != nil {
		return err
	}
	if seen {
		h.judgeBreak(k, broke, fixture.Resistance{AtLeast: true})
	}
	h.tick(k)
	return nil
}

// opening watches the held key until it opens; seen is false when it opened
// between two watches.
func (h *handwork) opening(k int) (broke fixture.Edge, seen bool, err error) {
	feed, ground := h.plan.ends(k)
	watch := h.plan.watchAny(feed)
	watch.Quiet = max(h.plan.Product.Keys[k].Limits.Break, minQuiet)
	for began := time.Now(); ; {
		routine := fixture.NewRoutine(h.plan.Jig)
		routine.Stage(fixture.Stage{Range: h.plan.mid, Feed: []int{feed}, Ground: []int{ground}})
		slot := routine.Capture(watch)
		open := routine.Read(feed, ground, samplesGlance)
		done, err := h.one(routine)
		if err != nil {
			return broke, false, err
		}
		broke = done.Break(slot)
		if h.isOpen(done.Resistance(open)) {
			return broke, broke.Settled, nil
		}
		if time.Since(began) > handPatience {
			return broke, false, h.neverOpened(h.label(k))
		}
	}
}

// untilOpen waits until nothing is pressed.
func (h *handwork) untilOpen(what string) error {
	h.held = true
	for began := time.Now(); ; {
		if _, pressed, err := h.glance(); err != nil || !pressed {
			return err
		}
		if time.Since(began) > handPatience {
			return h.neverOpened(what)
		}
	}
}

// neverOpened ends a run whose person does not let go. That a key stays closed by
// itself is not said: the next run sees at rest whether it does.
func (h *handwork) neverOpened(what string) error {
	return h.stop(Incomplete, NotLetGo, what, handPatience.String())
}

// tick counts a key that was let go, and says which is next.
func (h *handwork) tick(k int) {
	delete(h.pending, k)
	result, now := h.run.Keys[k], h.next()
	now.Key = &result
	h.say(now)
}

// next is what a person is to do while nothing is held.
func (h *handwork) next() Progress {
	now := h.now()
	if left := h.left(); len(left) > 0 {
		now.Prompt, now.Ask = "next: "+left[0], Ask{AskNext, left[:1]}
	} else {
		now.Prompt, now.Ask = "hands off", Ask{AskHandsOff, nil}
	}
	return now
}

// now is how far the step is.
func (h *handwork) now() Progress {
	return Progress{Step: h.step, Done: len(h.step.Keys) - len(h.pending), Total: len(h.step.Keys)}
}

// ask tells a person something. It holds until the next thing is told.
func (h *handwork) ask(code AskCode, prompt string, keys ...string) {
	now := h.now()
	now.Prompt, now.Ask = prompt, Ask{code, keys}
	h.say(now)
}
