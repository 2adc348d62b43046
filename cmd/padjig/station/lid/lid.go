// Package lid is whether a jig would move, as somebody sees it who looks at its lid.
package lid

import (
	"errors"

	"padjig/fixture"
)

// State is what is known of it.
type State string

// The states.
const (
	Unknown State = ""        // nobody watches, or the jig is at work
	Shut    State = "closed"  // it would move
	Up      State = "open"    // it would not
	Stopped State = "stopped" // the emergency stop is pressed
	None    State = "none"    // the jig has no interlock: it would move at any time
)

// Of is the state of a jig by what [fixture.Jig.Ready] said.
func Of(ready error, caps fixture.Capabilities) State {
	switch {
	case errors.Is(ready, fixture.ErrInterlock):
		return Up
	case errors.Is(ready, fixture.ErrEmergency):
		return Stopped
	case ready == nil && !caps.Interlock:
		return None
	case ready == nil, errors.Is(ready, fixture.ErrBarred):
		return Shut
	}
	return Unknown
}
