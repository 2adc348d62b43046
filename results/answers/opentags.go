package answers

import (
	"context"
	"slices"

	"padjig/results"
	"padjig/results/fails"
	"padjig/results/lines"
)

// openTags gives the units that failed before the end of a selection, and whose tag was
// not scanned at a fail place until now: nobody knows where they lie.
func openTags(ctx context.Context, s *results.Store, f lines.Filter) ([]fails.Owed, error) {
	list, err := s.Fails.Open(ctx, f.Simulated)
	chosen := func(one string, of []string) bool { return len(of) == 0 || slices.Contains(of, one) }
	return slices.DeleteFunc(list, func(o fails.Owed) bool {
		return !f.To.IsZero() && !o.Started.Before(f.To) || f.Product != "" && o.Product != f.Product || !chosen(o.Jig, f.Jigs)
	}), err
}
