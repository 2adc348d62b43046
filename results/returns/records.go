// Package returns keeps what happens to units that came back: cases with their
// intakes, photos, stages and dispositions, rework, and how a unit had left.
package returns

import (
	"padjig/results/care"
	"padjig/results/runs"
	"padjig/results/store"
)

// Records are what this room keeps in a store.
type Records struct {
	db   *store.DB
	runs *runs.Records
	care *care.Records
}

// On gives those of a store.
func On(db *store.DB, runs *runs.Records, care *care.Records) *Records {
	return &Records{db, runs, care}
}
