package lines

import (
	"context"
	"database/sql"
	"fmt"
)

// PadKey is a key as the product was defined when its runs were made.
type PadKey struct {
	Label, Group string
	Lines        []string
	X, Y, W, H   float64 // on the drawing, in key pitches
	Actuator     int
	Guard        float64 // band of the limits in expanded uncertainties, 0: none
}

// Pad gives the keys of the newest revision that a filter chooses, in the
// product's order; [ErrNoUnits] when it chooses none.
func (s *Records) Pad(ctx context.Context, f Filter) ([]PadKey, error) {
	var keys []PadKey
	err := s.ask(ctx, "look up the pad", f, nil, func(tx *sql.Tx) error {
		revisions, err := chosenRevisions(ctx, tx, f)
		if err != nil {
			return err
		}
		if len(revisions) == 0 {
			return fmt.Errorf("%w: %s", ErrNoUnits, f)
		}
		for _, k := range revisions[len(revisions)-1].keys {
			keys = append(keys, PadKey{Label: k.Label, Group: k.Group, Lines: k.Lines,
				X: k.Place[0], Y: k.Place[1], W: k.Place[2], H: k.Place[3], Actuator: k.Actuator, Guard: k.Limits.Guard})
		}
		return nil
	})
	return keys, err
}
