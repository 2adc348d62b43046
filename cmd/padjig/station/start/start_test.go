package start

import (
	"context"
	"errors"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
)

var (
	errLid  = errors.New("the lid is open")
	errStop = errors.New("the emergency stop is pressed")
)

// until has somebody do things at times after the scan, and gives when and how the wait ended.
func until(t *testing.T, w Wait, at map[time.Duration]func(why *error, press chan<- struct{})) (took time.Duration, err error) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		press := make(chan struct{}, 1)
		var lid sync.Mutex // guards why
		var why error
		if w.Opened {
			why = errLid
		}
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		for after, do := range at {
			timer := time.AfterFunc(after, func() {
				if do == nil {
					cancel()
					return
				}
				lid.Lock()
				defer lid.Unlock()
				do(&why, press)
			})
			defer timer.Stop()
		}
		w.Look = func(context.Context) error {
			synctest.Wait()
			lid.Lock()
			defer lid.Unlock()
			return why
		}
		w.Lid = func(why error) bool { return errors.Is(why, errLid) }
		w.Press, w.Shows = press, func(error) {}
		began := time.Now()
		err = w.Until(ctx)
		took = time.Since(began)
	})
	return took, err
}

type doing = map[time.Duration]func(*error, chan<- struct{})

func shut(why *error, _ chan<- struct{})    { *why = nil }
func open(why *error, _ chan<- struct{})    { *why = errLid }
func stop(why *error, _ chan<- struct{})    { *why = errStop }
func press(_ *error, press chan<- struct{}) { press <- struct{}{} }

func pressShut(why *error, to chan<- struct{}) {
	press(why, to)
	shut(why, to)
}

func yes(context.Context) (bool, error) { return true, nil }

func TestWhenAUnitBegins(t *testing.T) {
	const s = time.Second
	for name, c := range map[string]struct {
		wait       Wait
		at         doing
		from, till time.Duration
		err        error
	}{
		"scanned with the lid closed":               {Wait{}, nil, 0, 0, nil},
		"the lid is closed, then start pressed":     {Wait{Opened: true}, doing{10 * s: shut, 20 * s: press}, 20 * s, 21 * s, nil},
		"the lid is closed and nothing pressed":     {Wait{Opened: true}, doing{10 * s: shut}, 130 * s, 131 * s, ErrNotPressed},
		"the lid stays open":                        {Wait{Opened: true}, nil, 120 * s, 121 * s, errLid},
		"start is pressed, then the lid closed":     {Wait{Opened: true}, doing{5 * s: press, 10 * s: shut}, 130 * s, 131 * s, ErrNotPressed},
		"start is pressed as the lid closes":        {Wait{Opened: true}, doing{5 * s: pressShut}, 120 * s, 130 * s, ErrNotPressed},
		"asked for, opened, pressed as it closes":   {Wait{Opened: true}, doing{1 * s: shut, 5 * s: open, 7 * s: pressShut}, 120 * s, 130 * s, ErrNotPressed},
		"asked for, opened, pressed, closed":        {Wait{Opened: true}, doing{1 * s: shut, 5 * s: open, 6 * s: press, 7 * s: shut}, 120 * s, 130 * s, ErrNotPressed},
		"stopped while start is asked for":          {Wait{Opened: true}, doing{1 * s: shut, 5 * s: stop}, 5 * s, 6 * s, errStop},
		"stopped, pressed, released":                {Wait{Opened: true}, doing{1 * s: shut, 5 * s: stop, 6 * s: press, 7 * s: shut}, 5 * s, 6 * s, errStop},
		"given up while start is asked for":         {Wait{Opened: true}, doing{1 * s: shut, 5 * s: nil}, 5 * s, 6 * s, context.Canceled},
		"the lid is a start":                        {Wait{Opened: true, ByLid: yes}, doing{10 * s: shut}, 10 * s, 11 * s, nil},
		"the lid is a start, but not for ever":      {Wait{Opened: true, ByLid: yes}, doing{31 * s: shut}, 150 * s, 152 * s, ErrNotPressed},
		"too late for the lid, then start pressed":  {Wait{Opened: true, ByLid: yes}, doing{31 * s: shut, 40 * s: press}, 40 * s, 41 * s, nil},
		"nothing moves":                             {Wait{Opened: true, Still: true}, doing{100 * s: shut}, 100 * s, 101 * s, nil},
		"the lid was closed just after it was seen": {Wait{Opened: true}, doing{0: shut}, 120 * s, 121 * s, ErrNotPressed},
	} {
		t.Run(name, func(t *testing.T) {
			took, err := until(t, c.wait, c.at)
			assert.ErrorIs(t, err, c.err)
			assert.GreaterOrEqual(t, took, c.from)
			assert.LessOrEqual(t, took, c.till)
		})
	}
}

// Records that cannot be read say so, and nothing starts.
func TestTheLidIsNoStartWhereNobodyKnows(t *testing.T) {
	unread := errors.New("records")
	_, err := until(t, Wait{Opened: true, ByLid: func(context.Context) (bool, error) { return false, unread }}, doing{time.Second: shut})
	assert.ErrorIs(t, err, unread)
}
