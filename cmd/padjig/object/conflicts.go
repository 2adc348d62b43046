package object

import (
	"time"

	"padjig/results/plant/conflict"
)

// Conflicts is where the records of the stations of a plant speak against each other.
type Conflicts struct {
	Conflicts []Conflict `json:"conflicts"`
	Left      int        `json:"left"` // that there are beside these
	Retested  Retested   `json:"retested"`
}

// Retested is how far it was looked for two units under one serial number.
type Retested struct {
	Since time.Time `json:"since,omitzero"` // in runs stored since then
	Runs  int       `json:"runs"`           // that were compared with the one before under the same serial number
	More  bool      `json:"more"`           // there are more than are compared at a time
}

// ConflictNote is what somebody decided about a conflict.
type ConflictNote struct {
	Closed bool      `json:"closed"` // false: it was opened again
	By     string    `json:"by"`
	At     time.Time `json:"at"` // by the clock of the plant
	Reason string    `json:"reason"`
}

// Conflict are records that speak against each other.
type Conflict struct {
	Name      string         `json:"name"` // the same whenever it is asked for
	Code      string         `json:"code"` // overlap, passed elsewhere, two products, two units, attempt again, jig twice, run twice, label twice, lot twice or other meaning
	Of        string         `json:"of"`   // serial number of the unit or jig, id of the run, label of the revision or lot
	Product   string         `json:"product,omitempty"`
	Material  string         `json:"material,omitempty"` // of a lot
	Simulated bool           `json:"simulated"`
	Records   []ConflictRow  `json:"records"` // two at least, in the order of the plant
	Closed    bool           `json:"closed"`
	Came      bool           `json:"came"` // it was closed, and something came to it since, which opens it again
	Notes     []ConflictNote `json:"notes,omitempty"`
}

// ConflictRow is a record that speaks against another: a run, or a change of lots, which has no id.
type ConflictRow struct {
	Run          string    `json:"run,omitempty"`    // id
	Number       int64     `json:"number,omitempty"` // of the run at the plant
	Serial       string    `json:"serial,omitempty"`
	Member       string    `json:"member"` // the station
	Product      string    `json:"product"`
	Revision     string    `json:"revision,omitempty"` // label
	RevisionHash string    `json:"revision_hash,omitempty"`
	Jig          string    `json:"jig"`
	Purpose      string    `json:"purpose,omitempty"`
	Outcome      string    `json:"outcome,omitempty"`
	Attempt      int       `json:"attempt,omitempty"`
	Began        time.Time `json:"began"` // by the clock of the plant
	Ended        time.Time `json:"ended"`
	Plant        string    `json:"plant,omitempty"` // what became of the question to the plant before the run: given, late, away, refused or not asked
}

// ConflictsOf is an answer.
func ConflictsOf(a conflict.Answer) Conflicts {
	out := Conflicts{Conflicts: []Conflict{}, Left: a.Left, Retested: Retested{a.Twice.Since.UTC(), a.Twice.Looked, a.Twice.More}}
	for _, c := range a.Conflicts {
		o := Conflict{Name: c.ID(), Closed: c.Closed(), Came: c.Came(), Code: string(c.Code), Of: c.Of, Product: c.Product, Material: c.Material, Simulated: c.Simulated, Records: []ConflictRow{}}
		for _, k := range c.Known {
			o.Records = append(o.Records, ConflictRow{k.ID, k.Run, k.Serial, k.Station, k.Product, k.Revision, k.Hash, k.Jig,
				k.Purpose, k.Outcome, k.Attempt, k.Began.UTC(), k.Ended.UTC(), k.Plant})
		}
		for _, n := range c.Notes {
			o.Notes = append(o.Notes, ConflictNote{n.Closed, n.By, n.At.UTC(), n.Reason})
		}
		out.Conflicts = append(out.Conflicts, o)
	}
	return out
}
