package station

import (
	"slices"
	"time"

	"padjig/cmd/padjig/station/lid"
	"padjig/cmd/padjig/station/note"
	"padjig/cmd/padjig/station/tally"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Phase is where a lane is in its work.
type Phase string

// The phases.
const (
	Ready     Phase = "ready"    // waits for a scan
	Lid       Phase = "lid"      // a unit is scanned, the lid is still open
	Armed     Phase = "armed"    // likewise, and it was closed since: waits for the start, see Lane.Start
	Running   Phase = "running"  // a unit is being tested
	Storing   Phase = "storing"  // tested, not yet in the records: nothing may be said of it
	Ended     Phase = "ended"    // the verdict stands
	Refused   Phase = "refused"  // what was scanned is not tested
	Exclusive Phase = "lent"     // something is done on the unit that is no test, see ExclusiveTask
	Changing  Phase = "changing" // another product is about to be tested, see Lane.ChangeProduct
	Locked    Phase = "locked"   // left alone too long: the unit in the jig must be scanned again
)

// Busy reports whether a unit is in the lane's hands.
func (p Phase) Busy() bool {
	return p == Lid || p == Armed || p == Running || p == Storing || p == Exclusive || p == Changing
}

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
	LidStarts  bool                 // in phase Lid: closing the lid starts the test, see start.ByLidWithin
	Note       *Note
	Conditions []Condition
	Tally      Tally
	Changed    time.Time
	Owed       []fails.Owed // on this jig: fails that were not put where they go
	LetGo      time.Time    // somebody asked that the jig be let go of, see Lane.LetGo; zero: nobody

	next  *product.Product // released while a unit was in hand
	ended time.Time        // the last verdict came up
	shown time.Time        // likewise, or was brought back
}

// Tally counts the units of the shift, and Counted says of which.
type (
	Tally   = tally.Tally
	Counted = tally.Counted
)

// count counts a run over anything but a reference unit.
func (s *State) count(r runs.Summary) {
	if _, reference := s.Product.Reference(r.Serial); !reference {
		s.Tally.Add(r)
	}
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
	Why       error     // it is not present
	Lid       lid.State // while somebody watches it, see Lane.WatchLid
}

// Note is said beside what stands and takes nothing away from it.
type Note = note.Note

// clone shares nothing that changes.
func (s State) clone() State {
	s.Keys = slices.Clone(s.Keys)
	s.Conditions = slices.Clone(s.Conditions)
	s.Owed = slices.Clone(s.Owed)
	s.Tally = s.Tally.Shown()
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

// Scan is a serial number as it was scanned, and by whom.
type Scan struct {
	Serial     string
	Operator   string
	Overridden bool     // see Job.Overridden
	Return     *Return  // the stage of a returns case that it is for; nil for production
	Reading    *Reading // of a gauge study that it is for; nil for none
}

// Reading is a place in the plan of a gauge study.
type Reading struct {
	Study int64
	Place int // from 0
}

// again reports whether the same unit, scanned anew, may be a slip, or be asked for its verdict:
// stages and readings are tests of their own.
func (s Scan) again() bool { return s.Return == nil && s.Reading == nil }

// scanned is what came of a scan.
type scanned int

const (
	nothingDone scanned = iota // it was a slip, or refused
	takenOn                    // to be tested
	askedBack                  // likewise, unless its verdict may stand again
)

// scan takes a scan into the state; the same number again within twice is a slip.
func (s *State) scan(scan Scan, twice time.Duration) scanned {
	same := s.Unit.Serial == scan.Serial
	slip := s.Phase == Ended && same && !scan.Overridden && scan.again() && time.Since(s.ended) < twice
	switch {
	case s.Phase.Busy() && same, slip:
		s.say(note.Twice, scan.Serial)
		return nothingDone
	case s.Phase.Busy():
		s.say(note.Busy, scan.Serial)
		return nothingDone
	}
	s.Note = nil
	s.Epoch++
	back := s.Phase == Locked && same && scan.again()
	why := CheckSerial(s.Product, scan.Serial)
	if !s.Jig.Present { // nor does a verdict come back: nobody knows what is in the jig
		why = noJig(link.ErrLost, s.Jig.Name)
	}
	if !back || why != nil {
		s.hand(scan)
	}
	if why != nil {
		s.Phase, s.Refusal = Refused, RefusalOf(why)
		return nothingDone
	}
	s.Phase = Running
	if back {
		return askedBack
	}
	return takenOn
}

// hand makes a scanned unit the one in hand: what stood before is gone.
func (s *State) hand(scan Scan) {
	s.Unit = sequence.Unit{Serial: scan.Serial, Operator: scan.Operator}
	s.Limit, s.How = s.Product.Attempts, ""
	s.Step, s.Done, s.Total, s.Left, s.Ask = "", 0, 0, 0, sequence.Ask{}
	s.Keys, s.Verdict, s.Refusal = nil, nil, nil
}

// ready makes the lane wait for the next unit.
func (s *State) ready() {
	s.hand(Scan{})
	s.Phase = Ready
}

// say says something beside what stands.
func (s *State) say(code note.Code, args ...string) {
	s.Note = note.Of(code, args...)
	s.Epoch++
}

// owe takes in what is owed on the jig. What stood because of it goes when it is owed
// no more: the unit was put where it goes, and the lane is ready.
func (s *State) owe(owed []fails.Owed, clock floor.Clock) {
	before := s.Owed
	s.Owed = owed
	var gone bool
	switch {
	case s.Phase == Refused && s.Refusal.Code == FailNotPlaced:
		gone = len(owed) == 0
		if !gone {
			s.Refusal = RefusalOf(notPlaced(owed[0], clock.Since(owed[0].Started, time.Now()), ""))
		}
	case (s.Phase == Ended || s.Phase == Locked) && s.Verdict != nil:
		gone = of(before, s.Verdict.ID) && !of(owed, s.Verdict.ID)
	}
	if gone {
		s.ready()
	}
}

func of(list []fails.Owed, run store.ID) bool {
	return slices.ContainsFunc(list, func(o fails.Owed) bool { return o.Run == run })
}

// takeNext takes a revision that was released, unless there is none or a unit is in hand.
func (s *State) takeNext() bool {
	if s.next != nil && s.next.Code != s.Product.Code { // the lane tests another product by now
		s.next = nil
	}
	if s.next == nil || s.Phase.Busy() {
		return false
	}
	s.Product, s.next = s.next, nil
	if s.Phase != Ended && s.Phase != Locked { // a verdict stands as it was found
		s.ready()
	}
	s.say(note.Released, s.Product.Revision)
	return true
}
