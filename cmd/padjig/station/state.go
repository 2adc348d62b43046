package station

import (
	"slices"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Phase is where a lane is in its work.
type Phase string

// The phases.
const (
	Ready   Phase = "ready"   // waits for a scan
	Lid     Phase = "lid"     // a unit is scanned, the lid is still open
	Running Phase = "running" // a unit is being tested
	Storing Phase = "storing" // tested, not yet in the records: nothing may be said of it
	Ended   Phase = "ended"   // the verdict stands
	Refused Phase = "refused" // what was scanned is not tested
	Lent    Phase = "lent"    // something is done on the unit that is no test, see Errand
	Locked  Phase = "locked"  // left alone too long: the unit in the jig must be scanned again
)

// Busy reports whether a unit is in the lane's hands.
func (p Phase) Busy() bool { return p == Lid || p == Running || p == Storing || p == Lent }

// State is how a lane stands, a copy of its own.
type State struct {
	Version    uint64 // rises with every change
	Epoch      uint64 // rises with every change but a step forward
	Phase      Phase
	Product    *product.Product
	Jig        JigState
	Unit       sequence.Unit
	Limit      int // attempts the product allows
	How        sequence.Actuation
	Step       string
	Done       int           // keys done of the step
	Total      int           // keys of the step
	Left       time.Duration // see sequence.Progress
	Ask        sequence.Ask
	Keys       []sequence.KeyResult // by key, of the unit in hand
	Verdict    *Done                // stored; nil before
	Refusal    *Refusal             // in phase Refused, and why Lid waits
	Note       *Note
	Conditions []Condition
	Tally      Tally
	Changed    time.Time
	LetGo      time.Time // somebody asked that the jig be let go of, see Lane.LetGo; zero: nobody

	next  *product.Product // released while a unit was in hand
	ended time.Time        // the last verdict came up
	shown time.Time        // likewise, or was brought back
}

// JigState is what is known of a lane's jig.
type JigState struct {
	Name      string // as it was asked for
	Serial    string // empty before it was ever there
	Model     string
	Firmware  string
	Port      string
	Simulated bool
	Caps      fixture.Capabilities // as it last stated them
	Present   bool
	Why       error // it is not present
}

// NoteCode is something said beside what stands.
type NoteCode string

// The notes.
const (
	NoteTwice    NoteCode = "twice"    // the same unit was scanned again at once: nothing done
	NoteBusy     NoteCode = "busy"     // another unit was scanned during a test: nothing done
	NoteRecalled NoteCode = "recalled" // the unit was scanned again after a lock: its verdict again
	NoteStopping NoteCode = "stopping" // the test is being stopped
	NoteNotNow   NoteCode = "not now"  // nothing runs that could be stopped
	NoteReleased NoteCode = "released" // another revision holds from now on
)

// Note is said beside what stands and takes nothing away from it.
type Note struct {
	Code NoteCode
	Args []string
}

// clone shares nothing that changes.
func (s State) clone() State {
	s.Keys = slices.Clone(s.Keys)
	s.Conditions = slices.Clone(s.Conditions)
	s.Tally.units, s.Tally.gaps = nil, nil
	return s
}

// Blocked gives the first condition that keeps units from being tested, nil if
// there is none.
func (s State) Blocked() *Condition {
	for i := range s.Conditions {
		if s.Conditions[i].Blocks {
			return &s.Conditions[i]
		}
	}
	return nil
}
