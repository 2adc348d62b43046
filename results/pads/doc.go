// Package pads knows keypads by their readings: which unit of the records a run
// reads like, whatever its label says.
//
// A [Comparison] is made anew from the records whenever it is asked for; nothing of
// it is stored but what a run ended with because of it. What is compared, and how
// sure that is, is sequence/samepad.
package pads

import (
	"padjig/results/store"
)

// Records are the readings of a store.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }
