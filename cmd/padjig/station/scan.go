package station

import (
	"time"

	"padjig/fixture/link"
	"padjig/sequence"
)

// Scan is a serial number as it was scanned, and by whom.
type Scan struct {
	Serial     string
	Operator   string
	Overridden bool    // see Job.Overridden
	Return     *Return // the stage of a returns case that it is for; nil for production
}

// scanned is what came of a scan.
type scanned int

const (
	nothingDone scanned = iota // it was a slip, or refused
	takenOn                    // to be tested
	broughtBack                // its verdict stands again
)

// scan takes a scan into the state; the same number again within twice is a slip.
func (s *State) scan(scan Scan, twice time.Duration) scanned {
	same := s.Unit.Serial == scan.Serial
	slip := s.Phase == Ended && same && !scan.Overridden && scan.Return == nil && time.Since(s.ended) < twice
	switch {
	case s.Phase.Busy() && same, slip:
		s.say(NoteTwice, scan.Serial)
		return nothingDone
	case s.Phase.Busy():
		s.say(NoteBusy, scan.Serial)
		return nothingDone
	}
	s.Note = nil
	s.Epoch++
	if s.Phase == Locked && same && scan.Return == nil {
		s.Phase, s.Note = Ended, &Note{NoteRecalled, []string{scan.Serial}}
		return broughtBack
	}
	s.hand(scan)
	why := AdmitSerial(s.Product, scan.Serial)
	if !s.Jig.Present {
		why = noJig(link.ErrLost, s.Jig.Name)
	}
	if why != nil {
		s.Phase, s.Refusal = Refused, RefusalOf(why)
		return nothingDone
	}
	s.Phase = Running
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
func (s *State) say(code NoteCode, args ...string) {
	s.Note = &Note{code, args}
	s.Epoch++
}

// takeNext takes a revision that was released, unless a unit is in hand.
func (s *State) takeNext() {
	if s.next == nil || s.Phase.Busy() {
		return
	}
	s.Product, s.next = s.next, nil
	if s.Phase != Ended && s.Phase != Locked { // a verdict stands as it was found
		s.ready()
	}
	s.say(NoteReleased, s.Product.Revision)
}
