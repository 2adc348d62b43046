// Package lines answers what a quality engineer asks about the line: what a
// [Filter] chooses, what came of it, why, and every reading of it. It holds
// questions in SQL and the types of their answers, no numerics, and keeps the
// baselines that were frozen for charts.
package lines

import "padjig/results/store"

// Records are what this room keeps in a store.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }
