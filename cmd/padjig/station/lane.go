package station

import (
	"context"
	"errors"
	"time"

	"padjig/cmd/padjig/station/lid"
	"padjig/cmd/padjig/station/note"
	"padjig/cmd/padjig/station/queue"
	"padjig/cmd/padjig/station/tally"
	"padjig/cmd/padjig/station/watch"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/plant/asked"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Setup is what a lane is made from.
type Setup struct {
	Store     *results.Store
	Product   *product.Product
	Jig       string // its port or serial number
	Press     sequence.Actuation
	Baud      int
	LockAfter time.Duration   // a verdict left alone; 0: never
	Shifts    []time.Duration // their starts, since midnight
	Twice     time.Duration   // within which the same number again is a slip of the scanner; 0: two seconds
	At        string          // see Records.At
	Dark      bool            // leave a signal tower dark
	Plant     *asked.Plant    // see Records.Plant
	// Staged is called after a stage of a returns case is stored and before it
	// shows, as to keep what its readings point to. An error shows in place of it.
	Staged func(context.Context, *product.Product, returns.Case, runs.Stored) error
	// Load is told of each unit before it is tested, nil for nobody: for
	// demonstrations, whose simulated jigs have units put in by it.
	Load func(serial string)
	// Told is told of each change; it must neither wait nor keep what it gets. Nil for nobody.
	Told func(before, after *State)
	// Open opens the jig at a port, Find the one with a serial number at whatever
	// port it is: fixture.Open and fixture.Find where they are nil.
	Open func(ctx context.Context, port string, o link.Options) (*fixture.Jig, error)
	Find func(ctx context.Context, serial string, o link.Options) (jig *fixture.Jig, port string, err error)

	around func(string, func() error) error // see Hooks
}

// doubleScan is how far apart the scans of a scanner that fires twice are at most (common practice, no source).
const doubleScan = 2 * time.Second

// Lane is one jig and what goes on at it. Run does the work; everything else
// may be called from any goroutine and never waits for the jig.
type Lane struct {
	setup   Setup
	shown   shown
	queue   *queue.Of[work]
	traffic watch.Traffic
	lid     watch.Notifier // whose subscribers watch the lid
}

// NewLane makes a lane; nothing happens until Run.
func NewLane(s Setup) *Lane {
	if s.Twice == 0 {
		s.Twice = doubleScan
	}
	if s.Open == nil {
		s.Open = fixture.Open
	}
	if s.Find == nil {
		s.Find = fixture.Find
	}
	if s.Told == nil {
		s.Told = func(*State, *State) {}
	}
	l := &Lane{setup: s, shown: shown{told: s.Told}, queue: queue.New[work]()}
	l.shown.state = State{Phase: Ready, Product: s.Product, Jig: JigState{Name: s.Jig}, Changed: time.Now()}
	l.shown.state.Tally.Since = tally.ShiftStart(time.Now(), s.Shifts)
	return l
}

// Run keeps the jig open and tests what is scanned until ctx ends; a unit under
// test is let go of then, and its run stored as aborted.
func (l *Lane) Run(ctx context.Context) { l.loop().run(ctx) }

func (l *Lane) loop() *loop { return &loop{l.setup, &l.shown, l.queue, &l.traffic, &l.lid} }

// Turning says why the lane's loop does not count as turning, nil if it does.
func (l *Lane) Turning() error { return l.shown.pulse.Turning() }

// State is how the lane stands now.
func (l *Lane) State() State { return l.shown.now() }

// Subscribe gives a channel that has an element in it after each change, and a
// function to stop listening. Many changes may be one element.
func (l *Lane) Subscribe() (changes <-chan struct{}, stop func()) {
	return l.shown.notifier.Subscribe()
}

// Traffic is what goes over the line to the jig while somebody looks.
func (l *Lane) Traffic() *watch.Traffic { return &l.traffic }

// WatchLid has the lane show how its lid stands while no unit is in hand, until stop is called.
// What somebody saw before says nothing of how it stands now.
func (l *Lane) WatchLid() (stop func()) {
	if !l.lid.Watched() {
		l.shown.changeIf(func(s *State) bool {
			known := s.Jig.Lid != lid.Unknown
			s.Jig.Lid = lid.Unknown
			return known
		})
	}
	_, stop = l.lid.Subscribe()
	return stop
}

// Scan takes a serial number that was scanned. It answers at once; what comes
// of it is in the state. Scans that can only be slips - the same unit twice,
// another one during a test - do nothing.
func (l *Lane) Scan(scan Scan) {
	var came scanned
	l.shown.change(func(s *State) {
		if came = s.scan(scan, l.setup.Twice); came != nothingDone {
			w := newWork(context.Background(), scan, nil)
			w.back = came == askedBack
			w.asked = l.loop().records().ask(Job{Product: s.Product, Serial: scan.Serial, Return: scan.Return})
			l.queue.Put(w)
		}
	})
	if came != nothingDone {
		watch.Put(l.queue.Wake)
	}
}

// Stop stops the test in hand: the jig lets go, the run is stored as aborted. A
// test that has not begun yet does not begin.
func (l *Lane) Stop() {
	stop := func() {}
	l.shown.change(func(s *State) {
		if !s.Phase.Busy() || s.Phase == Changing {
			s.say(note.NotNow)
			return
		}
		s.say(note.Stopping)
		stop = l.queue.InHand().stop
	})
	stop()
}

// Start starts the unit that waits for that, if it is this one; empty: whichever it is.
func (l *Lane) Start(serial string) {
	var press chan struct{}
	l.shown.change(func(s *State) {
		switch ours := serial == "" || serial == s.Unit.Serial; {
		case s.Phase == Armed && ours:
			press = l.queue.InHand().press
		case s.Phase == Lid && ours:
			s.say(note.Shut)
		default:
			s.say(note.NoStart)
		}
	})
	if press != nil {
		watch.Put(press)
	}
}

// Clear takes a refusal or a verdict away: the lane waits for the next unit.
func (l *Lane) Clear() {
	l.shown.advance(func(s *State) {
		if !s.Phase.Busy() && s.Phase != Locked {
			s.ready()
		}
	})
}

// Refresh looks again at what is due, as after something was replaced.
func (l *Lane) Refresh() { watch.Put(l.queue.Wake) }

// Release makes another revision of the product hold from the next unit on: at
// once, or when the unit in hand is done.
func (l *Lane) Release(p *product.Product) {
	l.shown.changeIf(func(s *State) bool {
		s.next = p
		return s.takeNext()
	})
	l.Refresh()
}

// ErrLetGo says that the jig was let go of on purpose, for somebody at the terminal.
var ErrLetGo = errors.New("let go of: taken back on the page of the jig")

// ErrNotLetGo says that there is nothing to take back: the jig was not let go
// of, was taken back already, or was let go of anew since.
var ErrNotLetGo = errors.New("not let go of, or not any more")

// LetGo lets go of the jig when no unit is in hand, so that it can be calibrated
// at the terminal, until TakeBack. It returns when the jig is free, when it was
// taken back before that, or when ctx ends.
func (l *Lane) LetGo(ctx context.Context) {
	changes, stop := l.Subscribe()
	defer stop()
	var since time.Time
	l.shown.changeIf(func(s *State) bool {
		asked := s.LetGo.IsZero()
		if asked {
			s.LetGo = time.Now()
			s.Epoch++
		}
		since = s.LetGo
		return asked
	})
	watch.Put(l.queue.Wake)
	for s := l.State(); s.LetGo.Equal(since) && !errors.Is(s.Jig.Why, ErrLetGo); s = l.State() {
		select {
		case <-ctx.Done():
			return
		case <-changes:
		}
	}
}

// TakeBack ends the letting go that State.LetGo gave; of any other it wants
// nothing, and changes nothing. The loop then looks for the jig again, or keeps it
// if it had not come to letting go.
func (l *Lane) TakeBack(since time.Time) error {
	if !l.shown.changeIf(func(s *State) bool {
		if s.LetGo.IsZero() || !s.LetGo.Equal(since) {
			return false
		}
		s.LetGo = time.Time{}
		if errors.Is(s.Jig.Why, ErrLetGo) {
			s.Jig.Why = nil
		}
		s.Epoch++
		return true
	}) {
		return ErrNotLetGo
	}
	watch.Put(l.queue.Wake)
	return nil
}

// RunExclusive does a task on the lane's jig, while nothing else moves it. It refuses
// at once when the lane has other work, and ends with ctx, with Stop, and with
// the lane.
func (l *Lane) RunExclusive(ctx context.Context, what ExclusiveTask) error {
	over := make(chan error, 1)
	e := &exclusive{ExclusiveTask: what, asked: ctx, over: func(err error) { over <- err }}
	if err := l.give(e, func(s *State) error { return exclusiveAllowed(s, what) }); err != nil {
		return err
	}
	select {
	case err := <-over:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}
