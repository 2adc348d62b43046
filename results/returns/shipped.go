package returns

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"

	"padjig/fixture/quantity"
	"padjig/results/care"
	"padjig/results/definition"
	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// Shipped is the run a unit left the line with, and what speaks for it.
type Shipped struct {
	Run     runs.Stored
	Lots    floor.Lots // it was made of, as far as they are known
	Margins []Margin   // of each key read, the one nearest to its limit first
	Before  *care.StoredCalibration
	After   *care.StoredCalibration // verifications of the jig around the run; nil for none
}

// Margin is how far inside its limit a key's closed resistance was.
type Margin struct {
	Key    string
	Closed quantity.Ohm
	U      quantity.Ohm // expanded uncertainty, k = 2; Open if unknown
	Limit  quantity.Ohm
	Margin quantity.Ohm // below zero beyond the limit
	Guard  float64      // guard band that the product asked for, in U
}

// Band is the guard band that a limit needs for a false accept to be unlikely:
// U, or what the product asked for where that is more. With a band of U the
// risk at its edge is 2.28 % (JCGM 106:2012, for a normal distribution; computed).
func (m Margin) Band() quantity.Ohm { return m.U * quantity.Ohm(max(m.Guard, 1)) }

// Thin reports whether the margin is less than the guard band.
func (m Margin) Thin() bool { return !m.U.IsOpen() && m.Margin < m.Band() }

// Thin lists the margins that were less than their guard band.
func (s Shipped) Thin() []Margin {
	return slices.DeleteFunc(slices.Clone(s.Margins), func(m Margin) bool { return !m.Thin() })
}

// Doubts says why the jig that passed the unit is doubtful, with days by a clock; nothing
// where it is not.
func (s Shipped) Doubts(clock floor.Clock) (doubts []string) {
	day := func(c *care.StoredCalibration) string { return clock.Day(c.Performed) }
	if c := s.Before; c != nil && !c.Good {
		doubts = append(doubts, fmt.Sprintf("the verification of jig %s of %s, the last before the unit, was out of tolerance", s.Run.Jig.Serial, day(c)))
	}
	if c := s.Before; c != nil && c.Good && c.Due().Before(s.Run.Started) {
		doubts = append(doubts, fmt.Sprintf("the verification of jig %s had been due since %s", s.Run.Jig.Serial, clock.Day(c.Due())))
	}
	if c := s.After; c != nil && !c.Good {
		doubts = append(doubts, fmt.Sprintf("jig %s was found out of tolerance at its next verification, %s", s.Run.Jig.Serial, day(c)))
	}
	return doubts
}

// Shipped gives the last production run a unit passed among those up to a run
// number, nil if it never did. Real runs and simulated ones are kept apart.
func (s *Records) Shipped(ctx context.Context, serial string, simulated bool, upTo int64) (*Shipped, error) {
	var found *Shipped
	err := s.db.View(ctx, func(tx *sql.Tx) error {
		var seq int64
		var stored []byte
		there, err := store.RowOf(ctx, tx, `
			SELECT seq, definition FROM run JOIN revision USING (revision)
			WHERE run.serial = ? AND simulated = ? AND seq <= ? AND purpose = '' AND verdict = 'pass'
			ORDER BY seq DESC LIMIT 1`, []any{serial, simulated, upTo}, &seq, &stored)
		if err != nil || !there {
			return err
		}
		made, err := runs.Reader{Ctx: ctx, Tx: tx}.Runs([]int64{seq})
		if err != nil {
			return err
		}
		found = &Shipped{Run: made[0], Margins: margins(definition.Keys(stored), made[0].Keys)}
		from, err := originOf(ctx, tx, found)
		found.Lots = from.made()
		return err
	})
	if err == nil && found != nil {
		err = s.vouch(ctx, found)
	}
	if err != nil {
		return nil, fmt.Errorf("look up how unit %q left in %s: %w", serial, s.db.Path(), err)
	}
	return found, nil
}

// vouch finds the verifications before and after the run, by the order of records.
func (s *Records) vouch(ctx context.Context, shipped *Shipped) error {
	list, err := s.care.Calibrations(ctx, shipped.Run.Jig.Serial, shipped.Run.Simulated)
	for _, c := range list {
		switch {
		case c.Kind != sequence.KindVerify:
		case c.AfterRun < shipped.Run.Seq:
			shipped.Before = new(c)
		case shipped.After == nil:
			shipped.After = new(c)
		}
	}
	return err
}

// margins compares keys with the limits of a product definition.
func margins(defined []definition.Key, keys []sequence.KeyResult) []Margin {
	var all []Margin
	for _, k := range keys {
		if k.Closed == nil || k.Closed.AtLeast {
			continue
		}
		for _, def := range defined {
			if def.Label == k.Key {
				m := Margin{Key: k.Key, Closed: k.Closed.Value, U: 2 * k.Closed.U, Guard: def.Limits.Guard}
				if m.nearest(def.Limits.Closed) {
					all = append(all, m)
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b Margin) int { return cmp.Compare(a.Margin/a.Limit, b.Margin/b.Limit) })
	return all
}

// nearest takes the nearer of two limits, zero and infinity being none.
func (m *Margin) nearest(limits [2]float64) bool {
	for i, limit := range limits {
		l := quantity.Ohm(limit)
		if l <= 0 || l.IsOpen() {
			continue
		}
		margin := l - m.Closed
		if i == 0 {
			margin = m.Closed - l
		}
		if m.Limit == 0 || margin < m.Margin {
			m.Limit, m.Margin = l, margin
		}
	}
	return m.Limit > 0
}
