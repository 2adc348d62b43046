// Package accounts keeps who may do what at a station, who signed in, and what
// somebody decided against padjig's advice.
package accounts

import (
	"sync/atomic"

	"padjig/results/store"
)

// Records are what this room keeps in a store.
type Records struct {
	db    *store.DB
	known atomic.Pointer[knownAccounts]
}

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db: db} }
