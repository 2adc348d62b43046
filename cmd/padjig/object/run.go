package object

import (
	"padjig/results/care"
	"padjig/results/runs"
	"padjig/results/stops"
	"padjig/sequence"
)

// Run is the record of a run, and what is known of it besides; the help of padjig test
// describes it.
type Run struct {
	ID string `json:"run"` // id of the run, a UUID
	// RecordHash is the SHA-256 stored with the record, hexadecimal; of runs that are asked for over the network.
	RecordHash string `json:"record_hash,omitempty"`
	sequence.Run
	Reference *ReferenceCheck `json:"reference,omitempty"`
	Causes    []Likely        `json:"causes,omitempty"` // of a fail just tested
	Stops     []Stop          `json:"stops,omitempty"`  // that hold since a test just made, for the line or for this unit
	Check     *Check          `json:"check,omitempty"`
	Compared  *Compared       `json:"compared,omitempty"` // with the units before; of a unit's life
	Plant     string          `json:"plant,omitempty"`    // what became of the question to the plant before it: given, late, away, refused or not asked
}

// Stop is why no more units are tested on a line, or this one not again.
type Stop struct {
	Number  int64  `json:"number"`
	Rule    string `json:"rule"`
	Unit    string `json:"unit"` // the one that it holds for, empty for the line
	Finding string `json:"finding"`
	Key     string `json:"key"`
	Lines   string `json:"lines"` // with blanks between
	Pins    []int  `json:"pins"`  // of the tail, whose contact was doubtful
	Units   int    `json:"units"` // that met it, or reseats of the one; of a yield: that passed
	Of      int    `json:"of"`    // units that a yield is of
}

// StopsOf are stops as they are printed.
func StopsOf(list []stops.Stop) (out []Stop) {
	for _, s := range list {
		out = append(out, Stop{s.Number, string(s.Rule), s.Unit, s.Fault.Finding, s.Fault.Key, s.Fault.Lines, each(s.Pins, same), s.Count, s.Of})
	}
	return out
}

type ReferenceCheck struct {
	Good bool     `json:"good"`
	Why  []string `json:"why"`
}

// ReferenceCheckOf is nil for a unit that is no reference unit.
func ReferenceCheckOf(c *care.ReferenceCheck) *ReferenceCheck {
	if c == nil {
		return nil
	}
	return &ReferenceCheck{c.Good(), c.Sentences()}
}

func RunOf(r runs.Stored) Run {
	run := r.Run
	run.Started = run.Started.UTC()
	run.Steps, run.Seats, run.Keys, run.Pairs = each(run.Steps, same), each(run.Seats, same), each(run.Keys, same), each(run.Pairs, same)
	run.Insulation = each(run.Insulation, same)
	run.Findings = each(run.Findings, listed)
	return Run{ID: r.ID.String(), Run: run, Plant: r.Plant}
}

// listed has lists where there is nothing.
func listed(f sequence.Finding) sequence.Finding {
	f.Lines, f.Pins = each(f.Lines, same), each(f.Pins, same)
	return f
}
