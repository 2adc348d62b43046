package bench

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results"
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
	At        string          // see Job.At
	// Staged is called after a stage of a returns case is stored and before it
	// shows, as to keep what its readings point to. An error shows in place of it.
	Staged func(context.Context, *product.Product, returns.Case, runs.Stored) error
	// Load is told of each unit before it is tested, nil for nobody: for
	// demonstrations, whose simulated jigs have units put in by it.
	Load func(serial string)
	// Open opens the jig at a port, Find the one with a serial number at whatever
	// port it is: fixture.Open and fixture.Find where they are nil.
	Open func(ctx context.Context, port string, o link.Options) (*fixture.Jig, error)
	Find func(ctx context.Context, serial string, o link.Options) (jig *fixture.Jig, port string, err error)
}

// Lane is one jig and what goes on at it. Run does the work; everything else
// may be called from any goroutine and never waits for the jig.
type Lane struct {
	setup   Setup
	orders  chan Scan // of one at most: a scan is taken only in a phase that is not busy
	errands chan lent // likewise
	refresh chan struct{}
	drop    chan struct{} // let go of the jig
	bell    Bell
	traffic Traffic

	mu    sync.Mutex
	state State
	idle  chan struct{}      // closed when the jig may be taken again; nil while it may
	next  *product.Product   // released while a unit was in hand
	stop  context.CancelFunc // of what is in hand, nil before the loop has taken it up
	halt  bool               // somebody said stop since a unit came in hand
	ended time.Time          // the last verdict came up
	shown time.Time          // likewise, or was brought back
}

// Scan is a serial number as it was scanned, and by whom.
type Scan struct {
	Serial     string
	Operator   string
	Overridden bool    // see Job.Overridden
	Return     *Return // the stage of a returns case that it is for; nil for production
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
	l := &Lane{
		setup: s, orders: make(chan Scan, 1), errands: make(chan lent, 1), refresh: make(chan struct{}, 1), drop: make(chan struct{}, 1),
	}
	l.state = State{Phase: Ready, Product: s.Product, Jig: JigState{Name: s.Jig}, Changed: time.Now()}
	l.state.Tally.Since = ShiftStart(time.Now(), s.Shifts)
	return l
}

// State is how the lane stands now.
func (l *Lane) State() State {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.state.clone()
}

// Listen gives a channel that has an element in it after each change, and a
// function to stop listening. Many changes may be one element.
func (l *Lane) Listen() (changes <-chan struct{}, stop func()) { return l.bell.Listen() }

// Traffic is what goes over the line to the jig while somebody looks.
func (l *Lane) Traffic() *Traffic { return &l.traffic }

// change changes the state and tells everybody.
func (l *Lane) change(do func(*State)) {
	l.mu.Lock()
	do(&l.state)
	l.changed()
	l.mu.Unlock()
}

// changed marks a change and tells everybody; ringing never waits.
func (l *Lane) changed() {
	l.state.Version++
	l.state.Changed = time.Now()
	l.bell.Ring()
}

// turn is a change to another phase, or another matter within it.
func (l *Lane) turn(do func(*State)) {
	l.change(func(s *State) {
		s.Note = nil
		do(s)
		s.Epoch++
	})
}

// How long between two looks for a jig that is not there, and between two looks
// at what may have become due.
const (
	lookAgain  = 500 * time.Millisecond
	lookFor    = 5 * time.Second
	dueAgain   = time.Minute
	doubleScan = 2 * time.Second // a scanner that fires twice does so within this (common practice, no source)
)

// Run keeps the jig open and tests what is scanned until ctx ends; a unit under
// test is let go of then, and its run stored as aborted.
func (l *Lane) Run(ctx context.Context) {
	for ctx.Err() == nil {
		if free := l.freed(); free != nil {
			l.absent(ErrLetGo)
			select {
			case <-ctx.Done():
			case <-free:
			}
			continue
		}
		jig, port, err := l.connect(ctx)
		if err != nil {
			l.absent(err)
			wait(ctx, lookAgain)
			continue
		}
		l.present(ctx, jig, port)
		l.attend(ctx, jig)
		why := jig.Err()
		_ = jig.Close()
		if l.freed() != nil {
			why = ErrLetGo
		}
		l.absent(why)
	}
}

// ErrLetGo says that the jig was let go of on purpose, for somebody at the
// terminal.
var ErrLetGo = errors.New("let go of: taken back on the page of the jig")

// ErrNotLetGo says that there is nothing to take back: the jig was not let go
// of, was taken back already, or was let go of anew since.
var ErrNotLetGo = errors.New("not let go of, or not any more")

// LetGo lets go of the jig when no unit is in hand, so that it can be calibrated
// at the terminal, until TakeBack. It returns when the jig is free, when it was
// taken back before that, or when ctx ends.
func (l *Lane) LetGo(ctx context.Context) {
	changes, stop := l.Listen()
	defer stop()
	var back <-chan struct{}
	l.change(func(s *State) {
		if l.idle == nil {
			l.idle, s.LetGo = make(chan struct{}), time.Now()
			s.Epoch++
			ring(l.drop)
		}
		back = l.idle
	})
	for !errors.Is(l.State().Jig.Why, ErrLetGo) {
		select {
		case <-ctx.Done():
			return
		case <-back:
			return
		case <-changes:
		}
	}
}

// TakeBack ends the letting go that State.LetGo gave; of any other it wants
// nothing, and changes nothing. The loop then looks for the jig again, or keeps it
// if it had not come to letting go.
func (l *Lane) TakeBack(since time.Time) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.idle == nil || !l.state.LetGo.Equal(since) {
		return ErrNotLetGo
	}
	close(l.idle)
	l.idle, l.state.LetGo = nil, time.Time{}
	select {
	case <-l.drop: // not yet heard, and not to be heard when the jig is back
	default:
	}
	if errors.Is(l.state.Jig.Why, ErrLetGo) {
		l.state.Jig.Why = nil
	}
	l.state.Epoch++
	l.changed()
	return nil
}

func (l *Lane) freed() <-chan struct{} {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.idle
}

func wait(ctx context.Context, d time.Duration) {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-timer.C:
	}
}

// connect opens the jig: by its port as long as nothing else is known, else by
// its serial number, under whatever name it has come back.
func (l *Lane) connect(ctx context.Context) (*fixture.Jig, string, error) {
	options := link.Options{Baud: l.setup.Baud, Trace: l.traffic.add}
	where, serial := l.setup.Jig, l.State().Jig.Serial
	if IsPort(where) {
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
// on, and what was taken on just before is refused.
func (l *Lane) absent(why error) {
	if was := l.State().Jig; was.Present || !sameText(was.Why, why) {
		l.change(func(s *State) {
			s.Jig.Present, s.Jig.Why = false, why
			s.Epoch++
		})
	}
	l.refuseWaiting()
}

func sameText(a, b error) bool {
	return a == nil && b == nil || a != nil && b != nil && a.Error() == b.Error()
}

// refuseWaiting refuses a scan or an errand that was taken just before the jig went: nothing
// may move later that nobody expects.
func (l *Lane) refuseWaiting() {
	select {
	case <-l.orders:
		l.refused(refuse(NotMeasured, link.ErrLost, nothing, NoJig, l.setup.Jig))
	case e := <-l.errands:
		l.giveBack(e, refuse(NotMeasured, link.ErrLost, nothing, NoJig, l.setup.Jig))
	default:
	}
}

func (l *Lane) present(ctx context.Context, jig *fixture.Jig, port string) {
	caps := jig.Capabilities()
	if l.State().Jig.Serial == "" {
		l.restore(ctx, caps)
	}
	l.change(func(s *State) {
		s.Jig = JigState{
			Name: s.Jig.Name, Serial: caps.Serial, Model: caps.Model, Firmware: caps.Firmware, Port: port,
			Simulated: caps.Simulated, Caps: caps, Present: true,
		}
		s.Epoch++
	})
	l.look(ctx, caps)
}

// look sees whether anything has become due, and whether another shift has begun.
func (l *Lane) look(ctx context.Context, caps fixture.Capabilities) {
	job := l.job(Scan{})
	list, err := job.Conditions(ctx, caps, time.Now())
	if err != nil && ctx.Err() == nil {
		r := RefusalOf(err)
		list = append(list, Condition{Warning{r.Code, r.Args, err.Error()}, true, r.Remedy})
	}
	if _, err := job.plan(caps); err != nil {
		r := RefusalOf(err)
		list = append(list, Condition{Warning{r.Code, r.Args, err.Error()}, true, r.Remedy})
	}
	if err := job.revision(ctx); err != nil && ctx.Err() == nil {
		r := RefusalOf(err)
		list = append(list, Condition{Warning{r.Code, r.Args, err.Error()}, true, r.Remedy})
	}
	shift := ShiftStart(time.Now(), l.setup.Shifts)
	l.change(func(s *State) {
		s.Conditions = list
		s.Tally.turn(shift)
		s.Epoch++
	})
}

// attend serves the lane until the jig or ctx is gone.
func (l *Lane) attend(ctx context.Context, jig *fixture.Jig) {
	due := time.NewTicker(dueAgain)
	defer due.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-jig.Gone():
			return
		case <-l.drop:
			return
		case scan := <-l.orders:
			l.test(ctx, jig, scan)
			l.takeNext()
			l.look(ctx, jig.Capabilities())
		case e := <-l.errands:
			l.errand(ctx, jig, e)
			l.takeNext()
			l.look(ctx, jig.Capabilities())
		case <-l.refresh:
			l.look(ctx, jig.Capabilities())
		case <-due.C:
			l.look(ctx, jig.Capabilities())
		}
	}
}

// rewind sets the time of the idle lock anew: a verdict came up, or came back. It
// runs whether the loop has its jig or not.
func (l *Lane) rewind() {
	if l.setup.LockAfter <= 0 {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.shown = time.Now()
	time.AfterFunc(l.setup.LockAfter, l.lock)
}

// lock hides a verdict that was left alone: nobody knows any more that it is
// about what lies in the jig.
func (l *Lane) lock() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.state.Phase != Ended || time.Since(l.shown) < l.setup.LockAfter {
		return
	}
	l.state.Phase, l.state.Note = Locked, nil
	l.state.Epoch++
	l.changed()
}

// restore counts what the jig did in this shift before the station started.
func (l *Lane) restore(ctx context.Context, caps fixture.Capabilities) {
	runs, err := l.setup.Store.Runs.Recent(ctx, restoreRuns)
	if err != nil {
		runs = nil // the first unit will say so
	}
	l.change(func(s *State) {
		s.Tally.Of = Counted{s.Product.Code, caps.Serial, caps.Simulated}
		for _, r := range slices.Backward(runs) {
			s.count(tallied{
				Counted{r.Product, r.Jig, r.Simulated}, r.Serial, r.Purpose, r.Attempt, r.Turn, r.Outcome, r.Started, r.Duration})
		}
	})
}
