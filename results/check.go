package results

import (
	"context"
	"database/sql"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"padjig/results/accounts"
	"padjig/results/backup"
	"padjig/results/care"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/handoff"
	"padjig/results/hourly"
	"padjig/results/nest"
	"padjig/results/notices"
	"padjig/results/releases"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/stops"
	"padjig/results/store"
	"padjig/results/studies"
	"padjig/results/tokens"
)

// Check reads the whole store and tells everything wrong with it, in words;
// nothing when it is sound. It compares tables, indexes, triggers and views with
// those that the migrations make, and recomputes the hash of every run, product
// and release, so a record changed behind the store's back is found, and counts
// all sums over the runs again. Testing may go on meanwhile; runs that are stored
// later are not looked at.
func (s *Store) Check(ctx context.Context) ([]string, error) {
	return s.CheckTold(ctx, func(float64) {})
}

// CheckTold does so and tells how much of it is done, from 0 to 1. It works on as many
// processors as there are, and tells from any of them, one after another.
func (s *Store) CheckTold(ctx context.Context, told func(done float64)) ([]string, error) {
	var newest int64
	err := s.db.View(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM run`).Scan(&newest)
	})
	if err != nil {
		return nil, fmt.Errorf("check store %s: %w", s.Path(), err)
	}
	looks := append(s.looks(int(newest)), s.pages(newest)...)
	c := checking{looks: looks, found: make([][]string, len(looks)), told: told}
	for _, l := range looks {
		c.all += l.weight
	}
	c.carryOut(ctx, min(runtime.GOMAXPROCS(0), store.MaxReaders))
	if c.failed != nil {
		c.failed = fmt.Errorf("check %s of store %s: %w", c.at, s.Path(), c.failed)
	}
	return slices.Concat(c.found...), c.failed
}

// look is one part of a check, and what it weighs beside the others.
type look struct {
	at     string
	weight int
	take   func(ctx context.Context) ([]string, error)
}

const (
	checkedTogether = 500 // runs of one look
	runWeighs       = 200 // about as many microseconds of a processor, as what the other looks weigh for each run
)

// looks are all but those at each run.
func (s *Store) looks(runCount int) (all []look) {
	for _, part := range []struct {
		at     string
		weight int // for each run
		checks []store.Check
	}{
		{"the file", 14, []store.Check{store.Integrity}},
		{"the schema", 0, []store.Check{s.db.Schema}},
		{"the references", 4, []store.Check{store.ForeignKeys}},
		{"the sums", 6, hourly.Checks()},
		{"the runs", 12, runs.Checks()},
		{"the releases", 0, releases.Checks()},
		{"the nests", 0, nest.Checks()},
		{"the jigs", 0, care.Checks()},
		{"the calibrations", 0, []store.Check{care.Recompute}},
		{"the fails", 0, fails.Checks()},
		{"the stops", 0, stops.Checks()},
		{"the floor", 0, floor.Checks()},
		{"the returns", 0, returns.Checks()},
		{"the studies", 0, studies.Checks()},
		{"the accounts", 0, accounts.Checks()},
		{"the backups", 0, backup.Checks()},
		{"the tokens", 0, tokens.Checks()},
		{"the hand-off", 0, handoff.Checks()},
		{"the notices", 0, notices.Checks()},
		{"the programs", 0, []store.Check{store.Entries("program")}},
	} {
		for _, check := range part.checks {
			all = append(all, look{part.at, 1 + part.weight*runCount, func(ctx context.Context) ([]string, error) { return s.db.Check(ctx, check) }})
		}
	}
	return append(all, look{"the photos", 1, s.Returns.CheckPhotos})
}

// pages are the looks at each run. Their readings are summed up in the order of the runs.
func (s *Store) pages(newest int64) (all []look) {
	sums := hourly.Recount(s.db)
	turn := make(chan struct{})
	close(turn)
	for from := int64(1); from <= newest; from += checkedTogether {
		before, done := turn, make(chan struct{})
		all = append(all, look{"the runs", runWeighs * checkedTogether, func(ctx context.Context) ([]string, error) {
			defer close(done)
			kept, found, err := s.Runs.Recompute(ctx, from, min(from+checkedTogether-1, newest))
			<-before
			if err != nil {
				return found, err
			}
			faults, err := sums.Add(ctx, kept)
			return append(found, faults...), err
		}})
		turn = done
	}
	return all
}

// checking carries looks out, several at a time and begun in their order.
type checking struct {
	looks []look
	told  func(done float64)
	all   int // what they weigh together

	mu     sync.Mutex
	next   int
	done   int // of all
	found  [][]string
	at     string
	failed error
}

func (c *checking) carryOut(ctx context.Context, workers int) {
	var together sync.WaitGroup
	for range workers {
		together.Go(func() {
			for n := c.begin(); n < len(c.looks); n = c.begin() {
				c.taken(ctx, n)
			}
		})
	}
	together.Wait()
}

func (c *checking) begin() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.next++
	return c.next - 1
}

// taken takes a look, or none any more after one failed: those that wait for it then end too.
func (c *checking) taken(ctx context.Context, n int) {
	c.mu.Lock()
	over := c.failed != nil
	c.mu.Unlock()
	if over {
		var stop context.CancelFunc
		ctx, stop = context.WithCancel(ctx)
		stop()
	}
	found, err := c.looks[n].take(ctx)
	c.mu.Lock()
	defer c.mu.Unlock()
	c.found[n] = found
	if err != nil && c.failed == nil {
		c.at, c.failed = c.looks[n].at, err
	}
	c.done += c.looks[n].weight
	c.told(float64(c.done) / float64(c.all))
}
