// Package runs keeps what was found, unit by unit, so that it can be proved a year
// later.
//
// [Records.Begin] commits the start of a run and claims the unit before anything
// moves; [Begun.Save] writes the whole [sequence.Run] in one transaction and
// returns only after it is durable: show a verdict after it, never before.
// [Records.History] says what must be known of a unit before anything moves,
// [Records.Unit] and [Records.Run] give runs back complete. A run is of a product
// revision, which is kept once with its definition, and its releases with it.
//
// Nothing is ever changed or removed. A retest is a new run; runs are ordered
// by their sequence number and never by a clock.
//
// Readings are kept as whole numbers, milliohm, microvolt and microseconds, so
// what comes back is what went in rounded to those.
package runs

import (
	"context"
	"database/sql"
	"sync"

	"padjig/results/store"
)

// Records are the runs of a store, their units and their product revisions.
type Records struct {
	db    *store.DB
	links Links

	saving sync.Mutex // held while a run is saved; guards words and last
	words  store.Interned
	last   store.ID // newest id this store has given out
}

// Links are what others have to do in the transaction of a run. They are handed
// in: the record of a run stands without what is counted from it, and whoever
// counts reads records.
type Links struct {
	Counter Counter
	// Case gives the attempt of a run begun for a returns case, or says why it may not be.
	Case func(ctx context.Context, tx *sql.Tx, number int64, start Start) (attempt int, err error)
	// Past gives what the returns desk and repair say of a unit; nil: nothing.
	Past func(ctx context.Context, tx *sql.Tx, serial string) (Past, error)
}

// Counter counts each run in the transaction that stores it.
type Counter interface {
	Count(w store.Writer, run Counted) error
	Forget() // what is known from a transaction that is gone
}

// Counted is a stored run on its way into what is counted from it.
type Counted struct {
	Seq, RevisionNumber, JigNumber int64
	*Record
	As string // the purpose it counts as
}

// On gives the runs of a store.
func On(db *store.DB, links Links) *Records {
	return &Records{db: db, links: links, words: store.Interned{}}
}

// forget lets go of numbers that may have been in a transaction that is gone.
func (s *Records) forget() {
	s.words = store.Interned{}
	s.links.Counter.Forget()
}
