package object

import (
	"time"

	"padjig/results/handoff"
)

// Event is what is handed on to other systems of one thing that was stored. It is sent in
// its canonical form (RFC 8785), the same however often it is sent.
type Event struct {
	ID          string `json:"id"`          // of the event, as a UUID is written, and the same however often it is sent
	Number      int64  `json:"number"`      // in the order of these records, 1 for the first
	Type        string `json:"type"`        // run, override, placement, rework or disposition: which member there is
	At          string `json:"timestamp"`   // when it was stored
	Unit        string `json:"unit"`        // serial number
	Product     string `json:"product"`     // code; empty where the unit was never tested
	Simulated   bool   `json:"simulated"`   // of a simulated jig: never proof of a real unit
	Engineering bool   `json:"engineering"` // of a run that tries a definition

	Run         *Run         `json:"run,omitempty"`
	Override    *Override    `json:"override,omitempty"`
	Placement   *Placement   `json:"placement,omitempty"`
	Rework      *Rework      `json:"rework,omitempty"`
	Disposition *Disposition `json:"disposition,omitempty"`

	SHA256 string `json:"sha256,omitempty"` // hexadecimal, of the canonical form without this member
}

// Override is a person's decision that a unit goes on although something stood in the way.
type Override struct {
	What   string `json:"what"` // stood in the way
	Jig    string `json:"jig"`  // serial number; empty for none
	By     string `json:"by"`
	Reason string `json:"reason"`
}

// Disposition is how a returns case ended.
type Disposition struct {
	Case     int64  `json:"case"`
	Code     string `json:"disposition"` // or reopened
	Disposal string `json:"disposal"`    // what became of the unit; empty: not said
	Reason   string `json:"reason"`
	By       string `json:"by"`
}

// EventOf gives what is handed on of an event.
func EventOf(t handoff.Told) Event {
	e := Event{
		ID: t.ID.String(), Number: t.Number, Type: string(t.Kind), At: t.At.UTC().Format(time.RFC3339Nano), Unit: t.Unit, Product: t.Product,
		Simulated: t.Simulated, Engineering: t.Engineering,
		Run: turned(t.Run, RunOf), Placement: turned(t.Placement, PlacementOf), Rework: turned(t.Rework, ReworkOf),
	}
	if o := t.Override; o != nil {
		e.Override = &Override{o.What, o.Jig, o.By, o.Reason}
	}
	if d := t.Disposition; d != nil {
		e.Disposition = &Disposition{d.Case, d.Code, d.Disposal, d.Reason, d.By}
	}
	return e
}

func turned[A, B any](a *A, turn func(A) B) *B {
	if a == nil {
		return nil
	}
	b := turn(*a)
	return &b
}

// HandOff is how the receivers stand that records are handed on to.
type HandOff struct {
	Receivers []Receiver `json:"receivers"`
}

// Receiver is how one of them stands.
type Receiver struct {
	Name    string   `json:"receiver"`
	Has     int64    `json:"has"`            // number of the last event that it has, with all before; 0 for none
	Since   string   `json:"since"`          // it has it
	Behind  int64    `json:"behind"`         // events after that
	Oldest  *string  `json:"oldest_waiting"` // when the first of them was stored
	Sending bool     `json:"sending"`        // a station has it in hand
	Trouble *Trouble `json:"trouble"`        // none since the last one was delivered
	Aside   int      `json:"set_aside"`      // events that it never gets, by a person's decision
}

// Trouble is why the next event was not taken.
type Trouble struct {
	Event   string  `json:"event"` // id
	Number  int64   `json:"number"`
	Refused bool    `json:"refused"` // for good: nothing more is sent before a person decides
	Why     string  `json:"why"`
	At      string  `json:"at"`
	Next    *string `json:"next_try"` // none where it was refused
}

// ReceiverOf gives how a receiver stands.
func ReceiverOf(st handoff.Progress, sending bool) Receiver {
	r := Receiver{Name: st.Receiver, Has: st.Has, Since: st.Since.Format(time.RFC3339), Behind: st.Behind, Oldest: maybeAt(st.Oldest),
		Sending: sending, Aside: len(st.Aside)}
	if t := st.Trouble; t != nil {
		r.Trouble = &Trouble{t.ID.String(), t.Event, t.Refused, t.Why, t.At.Format(time.RFC3339), maybeAt(t.Next)}
	}
	return r
}

func maybeAt(at time.Time) *string {
	if at.IsZero() {
		return nil
	}
	text := at.UTC().Format(time.RFC3339)
	return &text
}
