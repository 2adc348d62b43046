package object

import (
	"time"

	"padjig/results/fails"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
)

// Unit is the life of a unit: what was stored of it.
type Unit struct {
	Serial string `json:"serial"`
	// Products are those that it was tested as, and how it stands as each.
	Products []AsProduct `json:"products"`
	Runs     []Run       `json:"runs"`
	Starts   []Start     `json:"starts"`
	// Reworks are what was done to it, oldest first.
	Reworks []Rework `json:"reworks"`
	// Placements are where it was put when it had failed, oldest first.
	Placements []Placement `json:"placements"`
	// Owed are runs whose tag was not scanned at a fail place.
	Owed []Owed `json:"owed"`
	// Retired are months in which its runs have no readings at the plant any more.
	Retired []RetiredMonth `json:"retired,omitempty"`
}

// RetiredMonth is a month whose readings lie in files alone.
type RetiredMonth struct {
	Month   string    `json:"month"`            // such as 2025-01
	Folder  string    `json:"folder,omitempty"` // of the files; not known of a month that an older padjig retired
	By      string    `json:"by"`
	Dropped time.Time `json:"dropped"`
}

// UnitOf gives runs and starts without a result, rework, and where it was put, oldest first.
func UnitOf(serial string, runs []runs.Stored, starts []runs.Start, reworks []returns.Rework, placements []fails.Placement, owed []fails.Owed) Unit {
	return Unit{Serial: serial, Products: []AsProduct{}, Runs: each(runs, RunOf), Starts: each(starts, StartOf), Reworks: each(reworks, ReworkOf),
		Placements: each(placements, PlacementOf), Owed: each(owed, OwedOf)}
}

// AsProduct is how a unit stands as a product, by its production runs.
type AsProduct struct {
	Product   string `json:"product"`
	Simulated bool   `json:"simulated"`
	Verdict   string `json:"verdict"`  // of its last run; empty for none
	Passed    bool   `json:"passed"`   // it ever did
	Attempts  int    `json:"attempts"` // that it used
}

func AsProductOf(a runs.Attempts) AsProduct {
	return AsProduct{a.Product, a.Simulated, string(a.Last), a.Passed, a.Used()}
}

// Rework is what was done to a unit.
type Rework struct {
	Deed     string `json:"deed"`  // as it was written, where that was before there were codes
	Place    string `json:"place"` // "" for the whole unit
	Part     string `json:"part"`  // "" where none was put in
	Lot      string `json:"lot"`
	Note     string `json:"note"`
	Operator string `json:"operator"`
	Done     string `json:"done"`
	Case     int64  `json:"case"` // 0: not at the returns desk
	AfterRun int64  `json:"after_run"`
}

func ReworkOf(r returns.Rework) Rework {
	return Rework{r.What, r.Where, r.Part(), r.Lot, r.Note, r.By, r.Done.UTC().Format(time.RFC3339), r.Case, r.AfterRun}
}

// Placement is what became of a unit that failed.
type Placement struct {
	Run       string `json:"run"`
	Serial    string `json:"serial"`
	Jig       string `json:"jig"`
	Simulated bool   `json:"simulated"`
	How       string `json:"how"`   // placed or lifted
	Place     string `json:"place"` // name; empty where it was lifted
	By        string `json:"by"`
	Reason    string `json:"reason"` // why it was lifted
	At        string `json:"at"`
}

func PlacementOf(p fails.Placement) Placement {
	return Placement{p.Run.String(), p.Serial, p.Jig, p.Simulated, string(p.How), p.Place, p.By, p.Reason,
		p.At.UTC().Format(time.RFC3339Nano)}
}

// Owed is a run whose tag was not scanned at a fail place.
type Owed struct {
	Run     string `json:"run"`
	Jig     string `json:"jig"`
	Attempt int    `json:"attempt"`
}

func OwedOf(o fails.Owed) Owed { return Owed{o.Run.String(), o.Jig, o.Attempt} }

// Start is a run that was begun and has no result.
type Start struct {
	Start     string           `json:"start"`
	Product   string           `json:"product"`
	Revision  string           `json:"revision"`
	Simulated bool             `json:"simulated"`
	Started   string           `json:"started"`
	Station   string           `json:"station"`
	Jig       sequence.JigName `json:"jig"`
	Operator  string           `json:"operator"`
	Attempt   int              `json:"attempt"`
	Press     string           `json:"actuation"`
	Purpose   string           `json:"purpose,omitempty"`
	AfterRun  int64            `json:"after_run"`
	InHand    bool             `json:"in_hand"`
	Plant     string           `json:"plant,omitempty"` // what became of the question to the plant before it: given, late, away, refused or not asked
}

func StartOf(s runs.Start) Start {
	return Start{
		s.ID.String(), s.Product, s.Revision, s.Simulated, s.Started.UTC().Format(time.RFC3339Nano), s.Host, s.Jig,
		s.Operator, s.Attempt, string(s.Actuation), string(s.Purpose), s.AfterRun, s.InHand, s.Plant,
	}
}
