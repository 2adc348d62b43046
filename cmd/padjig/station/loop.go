package station

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"padjig/cmd/padjig/station/lid"
	"padjig/cmd/padjig/station/note"
	"padjig/cmd/padjig/station/pulse"
	"padjig/cmd/padjig/station/queue"
	"padjig/cmd/padjig/station/tally"
	"padjig/cmd/padjig/station/watch"
	"padjig/fixture"
	"padjig/fixture/caught"
	"padjig/fixture/link"
	"padjig/results/nest"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// loop is what has a lane's jig: it finds it, serves the queue, and shows how the jig stands.
type loop struct {
	setup   Setup
	shown   *shown
	queue   *queue.Of[work]
	traffic *watch.Traffic
	lid     *watch.Notifier
}

// How long between two looks for a jig that is not there, and between two looks at what may have become due.
const (
	lookAgain = 500 * time.Millisecond
	lookFor   = 5 * time.Second
	dueAgain  = time.Minute
	owedAgain = 3 * time.Second // between two looks whether it was put where it goes, also by another program
	lidAgain  = 300 * time.Millisecond
)

func (l *loop) run(ctx context.Context) {
	l.shown.pulse.Beat()
	for ctx = store.Reserved(ctx); ctx.Err() == nil; {
		if err := caught.Panic(func() { l.tend(ctx) }); err != nil {
			l.fell(err)
		}
	}
}

// tend has the jig, as long as it is there.
func (l *loop) tend(ctx context.Context) {
	if l.letGo() {
		l.absent(ErrLetGo)
		l.shown.pulse.Rest(ctx, l.queue.Wake, 0)
		return
	}
	jig, port, err := l.connect(ctx)
	if err != nil {
		l.absent(err)
		l.shown.pulse.Rest(ctx, nil, lookAgain)
		return
	}
	defer jig.Close() // also in a panic: the jig makes itself inert when nobody has it
	l.present(ctx, jig, port)
	l.attend(ctx, jig)
	why := jig.Err()
	_ = jig.Close()
	if l.letGo() {
		why = ErrLetGo
	}
	l.absent(why)
}

// fell has the lane let go of its jig after a panic, until somebody takes it back: how it stands nobody knows. The other
// lanes have nothing of it but the records, where what was not committed is not.
func (l *loop) fell(err error) {
	if w := l.queue.InHand(); w != nil {
		w.stop()
		if w.exclusive != nil {
			w.exclusive.over(err)
		}
	}
	l.queue.Take()
	l.shown.advance(func(s *State) {
		s.Jig.Present, s.Jig.Why, s.LetGo = false, fmt.Errorf("%w: %w", ErrLetGo, err), time.Now()
		if unit := s.Unit.Serial; s.Phase.Busy() {
			s.ready()
			s.say(note.Fell, unit)
		}
	})
}

// letGo reports whether somebody asked that the jig be let go of.
func (l *loop) letGo() bool { return !l.shown.now().LetGo.IsZero() }

// connect opens the jig: by its port as long as nothing else is known, else by
// its serial number, under whatever name it has come back.
func (l *loop) connect(ctx context.Context) (*fixture.Jig, string, error) {
	options := link.Options{Baud: l.setup.Baud, Trace: l.traffic.Add}
	where, serial := l.setup.Jig, l.shown.now().Jig.Serial
	if link.IsPort(where) {
		jig, err := l.setup.Open(ctx, where, options)
		if serial == "" || err == nil && jig.Capabilities().Serial == serial {
			return jig, where, err
		}
		if err == nil { // another jig on this port: ours may have come back on another
			_ = jig.Close()
		}
	} else if serial == "" {
		serial = where
	}
	search, cancel := context.WithTimeout(ctx, lookFor)
	defer cancel()
	return l.setup.Find(search, serial, options)
}

// absent says that the loop does not have the jig. Nothing is taken on from then
// on, and what was taken on just before is refused: nothing may move later that
// nobody expects.
func (l *loop) absent(why error) {
	l.shown.changeIf(func(s *State) bool {
		if !s.Jig.Present && (fmt.Sprint(s.Jig.Why) == fmt.Sprint(why) || errors.Is(s.Jig.Why, ErrLetGo) && errors.Is(why, ErrLetGo)) {
			return false // it stands already, or why it was let go of
		}
		s.Jig.Present, s.Jig.Why = false, why
		s.Epoch++
		return true
	})
	w := l.queue.Take()
	if w == nil {
		return
	}
	w.stop()
	if refusal := noJig(link.ErrLost, l.setup.Jig); w.exclusive != nil {
		l.giveBack(w.exclusive, refusal)
	} else {
		l.refuse(refusal)
	}
}

func (l *loop) refuse(why error) {
	l.shown.advance(func(s *State) { s.Phase, s.Refusal = Refused, RefusalOf(why) })
}

func (l *loop) present(ctx context.Context, jig *fixture.Jig, port string) {
	caps := jig.Capabilities()
	if l.shown.now().Jig.Serial == "" {
		l.resume(ctx, caps)
		l.restore(ctx, caps)
	}
	l.shown.change(func(s *State) {
		s.Jig = JigState{
			Name: s.Jig.Name, Serial: caps.Serial, Model: caps.Model, Firmware: caps.Firmware, Port: port,
			Simulated: caps.Simulated, Caps: caps, Present: true,
		}
		s.Epoch++
	})
	l.look(ctx, caps)
}

// attend serves the lane until the jig or ctx is gone, or the jig is let go of.
func (l *loop) attend(ctx context.Context, jig *fixture.Jig) {
	due, owed, lid := time.NewTicker(dueAgain), time.NewTicker(owedAgain), time.NewTicker(lidAgain)
	defer due.Stop()
	defer owed.Stop()
	defer lid.Stop()
	var glance <-chan time.Time // never, where the jig counts openings
	if nest.ProofOf(jig.Capabilities()) == nest.Seen {
		look := time.NewTicker(nestGlance)
		defer look.Stop()
		glance = look.C
	}
	if jig.Capabilities().Tower && !l.setup.Dark {
		lit, dark := context.WithCancel(ctx)
		var beside sync.WaitGroup
		beside.Go(func() {
			if err := caught.Panic(func() { l.light(lit, jig) }); err != nil {
				l.fell(err)
				watch.Put(l.queue.Wake)
			}
		})
		defer beside.Wait()
		defer dark()
	}
	memory := new(runner.Memory)
	empty := false // the nest was seen so since the last unit
	for {
		l.shown.pulse.Beat()
		select {
		case <-ctx.Done():
			return
		case <-jig.Gone():
			return
		case <-owed.C:
			if len(l.shown.now().Owed) > 0 {
				l.lookOwed(ctx, jig.Capabilities())
			}
			continue
		case <-due.C:
		case <-lid.C:
			l.lookLid(ctx, jig)
			continue
		case <-glance:
			if !empty {
				empty = l.glance(ctx, jig)
			}
			continue
		case <-l.queue.Wake:
			if w := l.queue.Take(); w != nil {
				l.do(ctx, jig, w, memory)
				empty = false
			}
			if l.letGo() {
				return
			}
		}
		l.look(ctx, jig.Capabilities())
	}
}

// lookLid sees how the lid stands, while anybody watches it.
func (l *loop) lookLid(ctx context.Context, jig *fixture.Jig) {
	now := lid.Unknown
	if l.lid.Watched() {
		now = lid.Of(jig.Ready(ctx), jig.Capabilities())
	}
	l.shown.changeIf(func(s *State) bool {
		if s.Jig.Lid == now {
			return false
		}
		s.Jig.Lid = now
		return true
	})
}

// do does what was taken on.
func (l *loop) do(ctx context.Context, jig *fixture.Jig, w *work, memory *runner.Memory) {
	defer w.stop()
	defer context.AfterFunc(ctx, w.stop)()
	if ctx.Err() != nil {
		w.stop() // at once, not a moment later
	}
	if w.exclusive != nil {
		defer l.shown.pulse.Work(pulse.OnJig)()
		l.runExclusive(jig, w)
	} else {
		defer l.shown.pulse.Work(pulse.AtUnit)()
		l.test(jig, w, memory)
	}
	l.shown.changeIf((*State).takeNext)
}

// test tests a unit. The verdict comes up when it is stored.
func (l *loop) test(jig *fixture.Jig, w *work, memory *runner.Memory) {
	if w.back && l.bringBack(w, jig) {
		return
	}
	d := &laneHooks{setup: l.setup, shown: l.shown, scan: w.scan, asked: w.asked, product: l.shown.now().Product, press: w.press}
	d.opened = errors.Is(jig.Ready(w.ctx), fixture.ErrInterlock) // at once: records may take their time, and it be closed by then
	err := l.records().Test(w.ctx, d.job(), Hooks{
		Open: Held(jig), Await: d.await, Watcher: d, Keep: d.keep, Show: d.show, Memory: memory, around: l.setup.around,
	})
	if err != nil && !d.begun { // what went wrong because somebody said stop is just that
		err = stopped(w.ctx, err)
	}
	if err != nil {
		l.refuse(err)
	}
}

func (l *loop) records() Records { return Records{l.setup.Store, l.setup.At, l.setup.Plant} }

func (l *loop) fitness(p *product.Product, caps fixture.Capabilities) Fitness {
	return Fitness{l.records(), p, caps, time.Now()}
}

// look sees whether anything has become due, and whether another shift has begun.
func (l *loop) look(ctx context.Context, caps fixture.Capabilities) {
	job := Job{Product: l.shown.now().Product, How: l.setup.Press}
	list, err := l.fitness(job.Product, caps).Conditions(ctx)
	plan, unplanned := job.plan(caps)
	if unplanned == nil {
		unplanned = job.provable(plan, func(Warning) {})
	}
	for _, err := range []error{err, unplanned, eligibility{l.records(), job}.revision(ctx)} {
		if err != nil && ctx.Err() == nil {
			r := RefusalOf(err)
			list = append(list, Condition{Warning: Warning{r.Code, r.Args, err.Error()}, Blocks: true, Remedy: r.Remedy})
		}
	}
	l.lookOwed(ctx, caps)
	if nest.ProofOf(caps) == nest.None {
		unseen := RefusalOf(refuse(Wrong, nil, sequence.Said{}, NestUnseen, caps.Serial))
		list = append(list, Condition{Warning: Warning{unseen.Code, unseen.Args, unseen.Error()}, Remedy: unseen.Remedy})
	}
	l.shown.change(func(s *State) {
		s.Conditions = list
		s.Tally.StartShift(tally.ShiftStart(time.Now(), l.setup.Shifts))
		s.Epoch++
	})
}

// lookOwed sees whether a unit that failed on this jig lies where it should.
func (l *loop) lookOwed(ctx context.Context, caps fixture.Capabilities) {
	owed, err := l.setup.Store.Fails.On(ctx, caps.Serial, caps.Simulated)
	clock, without := l.setup.Store.Floor.Clock(ctx)
	if err != nil || without != nil {
		return // the next unit will say so
	}
	l.shown.changeIf(func(s *State) bool {
		if slices.Equal(s.Owed, owed) {
			return false
		}
		s.owe(owed, clock)
		s.Epoch++
		return true
	})
}

// restore counts what the jig did in this shift before the station started, or before it
// tested this product again.
func (l *loop) restore(ctx context.Context, caps fixture.Capabilities) {
	shift, err := tally.SinceShift(func(n int) ([]runs.Summary, error) { return l.setup.Store.Runs.Recent(ctx, n) }, l.shown.now().Tally.Since)
	if err != nil {
		shift = nil // the first unit will say so
	}
	l.shown.change(func(s *State) {
		s.Tally = Tally{Of: Counted{Product: s.Product.Code, Jig: caps.Serial, Simulated: caps.Simulated}, Since: s.Tally.Since}
		for _, r := range slices.Backward(shift) {
			s.count(r)
		}
	})
}

// movable refuses while the jig would not move.
func movable(ctx context.Context, jig *fixture.Jig, name string) error {
	err := jig.Unbar(ctx)
	switch code := Stilled(err); {
	case err == nil:
		return nil
	case code == LidOpen, code == EmergencyStop:
		return refuse(NotMeasured, err, sequence.Said{}, code)
	}
	return noJig(err, name)
}

// Stilled names what keeps a jig still, or has stopped a run, where a person at
// the jig can see to it; it is empty for anything else.
func Stilled(cause error) Code {
	switch {
	case errors.Is(cause, fixture.ErrInterlock):
		return LidOpen
	case errors.Is(cause, fixture.ErrEmergency):
		return EmergencyStop
	case errors.Is(cause, context.Canceled):
		return Stopped
	}
	return ""
}
