// Package floor keeps what people set down about the line: lots, shifts and
// handovers. It is what runs are counted by and charts are read against.
package floor

import "padjig/results/store"

// Records are the lots, shifts and handovers of a store.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }
