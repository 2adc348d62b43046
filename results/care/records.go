// Package care keeps what is done to the jigs: calibrations, checks by reference
// units and wear, how a jig stands by them, and which units it may have misjudged.
package care

import (
	"padjig/results/runs"
	"padjig/results/store"
)

// Records are what this room keeps in a store.
type Records struct {
	db   *store.DB
	runs *runs.Records
}

// On gives those of a store.
func On(db *store.DB, runs *runs.Records) *Records { return &Records{db, runs} }
