package runner

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/prove"
)

// handPatience is how long a person may take for the next key before the run
// ends as incomplete.
const handPatience = 60 * time.Second

// handGlance is how long one exchange waits for a press; short, so that the
// run can be stopped between two.
const handGlance = 300 * time.Millisecond

// handwork lets a person press the keys in any order, recognises each by the pair
// of lines it closes, and ticks it off.
type handwork struct {
	finder
	watch   watcher
	sheet   *judge.Sheet
	keys    *judge.Keys
	step    sequence.Step
	pending map[int]bool // keys not pressed yet
	unseen  map[int]int  // how often a key was pressed whose bounce was not seen
	proves  prove.Subjects
	held    bool // something is held that was told to be let go
}

func (h *handwork) work() error {
	for _, k := range h.step.Keys {
		h.pending[k] = true
	}
	h.ask(sequence.AskEachKey, "press each key once, in any order, with the pad on a flat surface")
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
				h.watch.say(h.next())
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
	if len(h.sheet.Findings) > 0 {
		return nil
	}
	return ended{sequence.Incomplete, sequence.Fact(sequence.NeverPressed, strings.Join(h.left(), ", "))}
}

func (h *handwork) left() []string {
	return h.sheet.Labels(slices.DeleteFunc(slices.Clone(h.step.Keys), func(k int) bool { return !h.pending[k] }))
}

// glance waits a moment for any key, watching all of them at once: every line
// that keys are fed from on the bus, every line they lead to on ground.
func (h *handwork) glance() (made fixture.Edge, pressed bool, err error) {
	routine := h.routine()
	sides := h.sides()
	routine.Stage(h.stage(sides, nil, h.set.Mid))
	makes := routine.Capture(h.watchAny(h.channel(sides.Feed[0])))
	groups := h.groupsOf(routine, h.known)
	done, err := h.line.one(routine)
	if err != nil {
		return made, false, err
	}
	made = done.Make(makes)
	if len(groups) == 0 { // one key between two lines: the watch itself tells
		return made, made.Settled, nil
	}
	closed := func(g fixture.Resistance) bool { return !h.set.IsOpen(g) }
	return made, slices.ContainsFunc(readingsOf(done, groups), closed), nil
}

// sides are the lines keys are fed from and the lines they lead to. A line
// that is both is fed, and its keys' bounce on make is not seen.
func (m routines) sides() (s judge.Split) {
	fed := map[int]bool{}
	for k := range m.set.Product.Keys {
		from, _ := m.set.EndLines(k)
		fed[from] = true
	}
	led := map[int]bool{}
	for k := range m.set.Product.Keys {
		if _, to := m.set.EndLines(k); !fed[to] {
			led[to] = true
		}
	}
	for _, l := range m.set.Lines {
		if fed[l] {
			s.Feed = append(s.Feed, l)
		} else if led[l] {
			s.Ground = append(s.Ground, l)
		}
	}
	return s
}

func (m routines) watchAny(channel int) fixture.Watch {
	w := fixture.Watch{Channel: channel, Window: handGlance}
	for k, key := range m.set.Product.Keys {
		lower, upper := m.set.Thresholds(k)
		w.Lower, w.Upper = max(w.Lower, lower), max(w.Upper, upper)
		w.Quiet = max(w.Quiet, key.Limits.Make, minQuiet)
	}
	return w
}

// recognise finds out what is held, judges it if it is one key, and waits
// until it is let go.
func (h *handwork) recognise(made fixture.Edge) (ticked bool, err error) {
	found, err := h.closePairs(h.set.Mid, h.set.WhileHeld)
	if err != nil {
		return false, err
	}
	switch keys := h.keysAt(found); {
	case len(found) == 0:
		return false, nil // let go before it could be read
	case len(found) == 1 && len(keys) == 0:
		h.ask(sequence.AskNowhere, fmt.Sprintf("%s and %s closed, where no key is", h.pin(found[0].A), h.pin(found[0].B)),
			h.pin(found[0].A), h.pin(found[0].B))
		h.keys.NoKeyThere(found[0])
		return true, h.untilOpen(fmt.Sprintf("%s and %s", h.pin(found[0].A), h.pin(found[0].B)))
	case len(found) > 1:
		h.ask(sequence.AskOne, fmt.Sprintf("%s pressed together: let go, and press one at a time", h.together(keys, found)), h.sheet.Labels(keys)...)
		return false, h.untilOpen(h.together(keys, found))
	default:
		k := h.firstPending(keys)
		h.keys.Only(k)
		return true, h.judgeHeld(k, made)
	}
}

// keysAt lists the keys that join a found pair of lines.
func (h *handwork) keysAt(found []judge.Connection) []int {
	var out []int
	for _, c := range found {
		for k, key := range h.set.Product.Keys {
			if judge.Joins(key, c.A, c.B) {
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

func (h *handwork) together(keys []int, found []judge.Connection) string {
	if len(keys) < 2 {
		return fmt.Sprintf("%d pairs of lines", len(found))
	}
	return strings.Join(h.sheet.Labels(keys), " and ")
}

func (h *handwork) label(k int) string { return h.sheet.Keys[k].Key }

// pin is a line with its pin.
func (h *handwork) pin(l int) string {
	return fmt.Sprintf("%s (pin %d)", h.set.Product.Lines[l].Name, h.set.Product.Lines[l].Pin)
}

// judgeHeld reads the key that is held, waits for it to open, and ticks it off.
func (h *handwork) judgeHeld(k int, made fixture.Edge) error {
	if !h.pending[k] {
		h.ask(sequence.AskEnough, fmt.Sprintf("%s was pressed already", h.label(k)), h.label(k))
		return h.untilOpen(h.label(k))
	}
	q := h.asItIs(k, h.known, samplesRepeat)
	done, err := h.line.one(q.r)
	if err != nil {
		return err
	}
	v := q.valueIn(done)
	if h.set.IsOpen(v.Glance) {
		h.ask(sequence.AskAgain, fmt.Sprintf("%s was let go too soon: press it again", h.label(k)), h.label(k))
		return nil
	}
	if err := h.keys.Held(k, v); err != nil {
		return err
	}
	if whole := made.Ends; made.Settled || whole {
		// A watch that began before the press may end in the middle of its
		// bounce: that is neither unsteady nor teasing.
		made.Ends = true
		h.keys.Made(k, made, whole)
	}
	h.ask(sequence.AskLetGo, h.label(k)+": let go", h.label(k))
	broke, seen, err := h.opening(k)
	if err != nil {
		return err
	}
	if seen {
		h.keys.Broke(k, broke, fixture.Resistance{AtLeast: true})
	}
	h.keys.LetGo(k)
	if h.keys.Unseen(k, h.asks(prove.BounceClosing, k), h.asks(prove.BounceOpening, k)) && h.unseen[k] < mostUnseen {
		h.unseen[k]++
		h.ask(sequence.AskUnseen, h.label(k)+": how it closed or opened was not seen: press it again", h.label(k))
		return nil
	}
	h.tick(k)
	return nil
}

// mostUnseen is how often a person is asked to press a key again whose closing or opening
// fell between two watches. It then stays not proved.
const mostUnseen = 3

// asks reports whether a proof is to be given of key k here.
// A first press is not repeated.
func (h *handwork) asks(p prove.Proof, k int) bool {
	return !h.set.Gentle && slices.Contains(h.proves[p], k)
}

// opening watches the held key until it opens; seen is false when it opened
// between two watches.
func (h *handwork) opening(k int) (broke fixture.Edge, seen bool, err error) {
	for began := time.Now(); ; {
		q := h.key(k)
		watch := h.watchAny(q.feed)
		watch.Quiet = max(h.set.Product.Keys[k].Limits.Break, minQuiet)
		slot := q.r.Capture(watch)
		q.glance()
		done, err := h.line.one(q.r)
		if err != nil {
			return broke, false, err
		}
		broke = done.Break(slot)
		if h.set.IsOpen(done.Resistance(q.mid)) {
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
	return ended{sequence.Incomplete, sequence.Fact(sequence.NotLetGo, what, handPatience.String())}
}

// tick counts a key that was let go, and says which is next.
func (h *handwork) tick(k int) {
	delete(h.pending, k)
	now := h.next()
	now.Key = new(h.sheet.Keys[k])
	h.watch.say(now)
}

// next is what a person is to do while nothing is held.
func (h *handwork) next() sequence.Progress {
	now := h.now()
	if left := h.left(); len(left) > 0 {
		now.Prompt, now.Ask = "next: "+left[0], sequence.Ask{Code: sequence.AskNext, Keys: left[:1]}
	} else {
		now.Prompt, now.Ask = "hands off", sequence.Ask{Code: sequence.AskHandsOff}
	}
	return now
}

// now is how far the step is.
func (h *handwork) now() sequence.Progress {
	return sequence.Progress{Step: h.step, Done: len(h.step.Keys) - len(h.pending), Total: len(h.step.Keys)}
}

// ask tells a person something. It holds until the next thing is told.
func (h *handwork) ask(code sequence.AskCode, prompt string, keys ...string) {
	now := h.now()
	now.Prompt, now.Ask = prompt, sequence.Ask{Code: code, Keys: keys}
	h.watch.say(now)
}
