package results

import (
	"context"
	"fmt"
	"slices"

	"padjig/results/care"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/hourly"
	"padjig/results/nest"
	"padjig/results/releases"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/stops"
	"padjig/results/store"
	"padjig/results/studies"
)

// Check reads the whole store and tells everything wrong with it, in words;
// nothing when it is sound. It compares tables, indexes, triggers and views with
// those that the migrations make, and recomputes the hash of every run, product
// and release, so a record changed behind the store's back is found, and counts
// all sums over the runs again. A million runs take some minutes; testing may go
// on meanwhile.
func (s *Store) Check(ctx context.Context) ([]string, error) {
	checks := slices.Concat(
		[]store.Check{store.Integrity, s.db.Schema, store.ForeignKeys},
		runs.Checks(), releases.Checks(), nest.Checks(), care.Checks(), fails.Checks(), stops.Checks(), floor.Checks(), returns.Checks(),
		studies.Checks(), hourly.Checks())
	found, err := s.db.Check(ctx, checks...)
	if err != nil {
		return found, fmt.Errorf("check store %s: %w", s.Path(), err)
	}
	for _, part := range []struct {
		of   string
		look func() ([]string, error)
	}{
		{"runs", func() ([]string, error) { return s.Runs.Recompute(ctx, hourly.Recounted{}.Add) }},
		{"calibrations", func() ([]string, error) { return s.db.Check(ctx, care.Recompute) }},
		{"photos", func() ([]string, error) { return s.Returns.CheckPhotos(ctx) }},
	} {
		faults, err := part.look()
		if err != nil {
			return found, fmt.Errorf("check the %s of store %s: %w", part.of, s.Path(), err)
		}
		found = append(found, faults...)
	}
	return found, nil
}
