package calibration

import (
	"context"
	"sync"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/watch"
	"padjig/fixture"
	"padjig/results"
	"padjig/sequence"
)

// Stage is where a calibration on a lane is.
type Stage string

// The stages.
const (
	Awaits Stage = "awaits" // the lid is open, or it has not begun yet
	Reads  Stage = "reads"
	Over   Stage = "over" // with a result that is stored, or without one
)

// State is a calibration on a lane's jig: the one under way, or the last one.
type State struct {
	Order
	Stage       Stage        // empty: there was none yet
	Stilled     station.Code // why the jig would not answer; empty: it would
	Done, Total int          // readings
	Result      *sequence.Calibration
	Why         error // there is no result
}

// Under reports whether it is under way.
func (s State) Under() bool { return s.Stage == Awaits || s.Stage == Reads }

// Keeper has the jig of a lane calibrated, and knows how far that is, whoever looks on.
type Keeper struct {
	lane     *station.Lane
	store    *results.Store
	load     func(sequence.CalibrationKind)
	notifier watch.Notifier

	mu  sync.Mutex
	now State
}

// NewKeeper is that of a lane. Load is told of each calibration before it is taken, nil for
// nobody: for demonstrations, whose simulated jigs have plug and box put in by it.
func NewKeeper(lane *station.Lane, store *results.Store, load func(sequence.CalibrationKind)) *Keeper {
	return &Keeper{lane: lane, store: store, load: load}
}

// State is how the calibration stands.
func (k *Keeper) State() State {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.now
}

// Subscribe gives a channel that has an element in it after each change, and a function to
// stop listening.
func (k *Keeper) Subscribe() (changes <-chan struct{}, stop func()) { return k.notifier.Subscribe() }

// Begin has the lane's jig zeroed or verified, while nothing else uses it. It answers at
// once; what comes of it is in the state, and in the records. Stop of the lane ends it.
func (k *Keeper) Begin(o Order) error {
	begun := make(chan struct{})
	err := k.lane.RunOnJig(o.Operator, func(ctx context.Context, jig *fixture.Jig) error {
		<-begun
		return k.take(ctx, jig, o)
	}, func(err error) {
		<-begun
		k.change(func(s *State) { s.Stage, s.Why = Over, err })
	})
	if err == nil {
		k.change(func(s *State) { *s = State{Order: o, Stage: Awaits} })
		close(begun)
	}
	return err
}

func (k *Keeper) take(ctx context.Context, jig *fixture.Jig, o Order) error {
	if k.load != nil {
		k.load(o.Kind)
	}
	taken, err := Take(ctx, k.store, jig, o, Hooks{
		// Nothing moves in a calibration; what a hand in the nest would spoil is the reading.
		Await: func(ctx context.Context, jig *fixture.Jig) error {
			return station.AwaitLid(ctx, jig, func(why error) {
				k.change(func(s *State) { s.Stilled = station.RefusalOf(why).Code })
			})
		},
		Tell: func(done, total int) {
			k.change(func(s *State) { s.Stage, s.Stilled, s.Done, s.Total = Reads, "", done, total })
		},
	})
	if err == nil {
		k.change(func(s *State) { s.Result = &taken })
	}
	return err
}

// change changes the state and tells of it, where that changes anything.
func (k *Keeper) change(do func(*State)) {
	k.mu.Lock()
	before := k.now
	do(&k.now)
	changed := k.now != before
	k.mu.Unlock()
	if changed {
		k.notifier.Notify()
	}
}
