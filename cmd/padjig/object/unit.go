package object

import (
	"time"

	"padjig/results/runs"
	"padjig/sequence"
)

// Unit is the life of a unit: what was stored of it.
type Unit struct {
	Serial string  `json:"serial"`
	Runs   []Run   `json:"runs"`
	Starts []Start `json:"starts"`
}

// UnitOf gives runs and starts without a result, oldest first.
func UnitOf(serial string, runs []runs.Stored, starts []runs.Start) Unit {
	return Unit{serial, each(runs, RunOf), each(starts, StartOf)}
}

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
}

func StartOf(s runs.Start) Start {
	return Start{
		s.ID.String(), s.Product, s.Revision, s.Simulated, s.Started.UTC().Format(time.RFC3339Nano), s.Host, s.Jig,
		s.Operator, s.Attempt, string(s.Actuation), string(s.Purpose), s.AfterRun, s.InHand,
	}
}
