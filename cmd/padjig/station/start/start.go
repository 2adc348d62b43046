// Package start decides when a unit that was scanned begins to move. Where the lid was closed
// when it was scanned, the scan is the start. Otherwise closing the lid is none: somebody
// presses start once it is closed (ISO 12100, 6.2.11, from memory: closing a guard must not by
// itself start anything, but where a guard with a start function was assessed as one).
package start

import (
	"cmp"
	"context"
	"errors"
	"time"
)

// How long somebody may take.
const (
	Patience    = 2 * time.Minute        // to close the lid, and from then on to press start
	ByLidWithin = 30 * time.Second       // from the scan on, for the lid to be the start where it is one
	glance      = 150 * time.Millisecond // between two looks at the lid
)

// ErrNotPressed is the end of a wait in which the lid was closed and nobody pressed start.
var ErrNotPressed = errors.New("start was not pressed")

// Wait is a unit that was scanned and is to be tested once it may.
type Wait struct {
	Look   func(context.Context) error         // why the jig would not move now; nil: it would
	Lid    func(why error) bool                // opening or closing the lid puts it right
	Opened bool                                // the lid was open as the unit was scanned
	Still  bool                                // nothing will move: closing the lid is the start
	ByLid  func(context.Context) (bool, error) // closing the lid is a start on this jig; nil: it is not
	Press  <-chan struct{}                     // start was pressed, while it was asked for
	Shows  func(why error)                     // why it waits; nil: for the start
}

// Until waits until the unit may begin: at once where nothing stood in the way, else when start
// is pressed and nothing does then. A press while the lid is open is forgotten. Any other reason
// why the jig would not move ends the wait: releasing an emergency stop, or a jig that comes back,
// starts nothing (ISO 13850, from memory: a reset only permits a restart).
func (w Wait) Until(ctx context.Context) error {
	scanned := time.Now()
	since, waited, asked, pressed := scanned, w.Opened, false, false
	for {
		why := w.Look(ctx)
		switch {
		case ctx.Err() != nil:
			return cmp.Or(why, ctx.Err())
		case why != nil && !w.Lid(why):
			return why
		case why != nil:
			waited, asked = true, false
			w.Shows(why)
		case !waited, asked && pressed:
			return nil
		case !asked:
			if is, err := w.lidStarts(ctx, time.Since(scanned)); is || err != nil {
				return err
			}
			since, asked = time.Now(), true
			w.Shows(nil)
		}
		if time.Since(since) > Patience {
			return cmp.Or(why, ErrNotPressed)
		}
		pressed = w.pressed(ctx)
	}
}

// lidStarts reports whether the lid, that is closed now, is the start.
func (w Wait) lidStarts(ctx context.Context, since time.Duration) (bool, error) {
	if w.Still || w.ByLid == nil || since > ByLidWithin {
		return w.Still, nil
	}
	return w.ByLid(ctx)
}

// pressed waits for a moment, or until start is pressed.
func (w Wait) pressed(ctx context.Context) bool {
	moment := time.NewTimer(glance)
	defer moment.Stop()
	select {
	case <-w.Press:
		return true
	case <-moment.C:
	case <-ctx.Done():
	}
	return false
}
