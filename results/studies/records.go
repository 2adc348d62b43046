// Package studies keeps gauge studies: the same parts measured again and again.
package studies

import "padjig/results/store"

// Records are what this room keeps in a store.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }
