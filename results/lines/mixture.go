package lines

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
	"strings"

	"padjig/results/definition"
	"padjig/results/store"
)

// Mixture is what a selection pools that may not belong together.
type Mixture struct {
	Products  []string
	Revisions []MixedRevision // of one product, that judge by different limits
}

// MixedRevision is a revision and how its limits differ from those of the first.
type MixedRevision struct {
	Product, Label, Hash string
	Units                int
	Differs              []string // keys with other limits of closed resistance or bounce; none for the first
}

// Any reports whether anything is mixed.
func (m Mixture) Any() bool { return len(m.Products) > 1 || len(m.Revisions) > 1 }

func (m Mixture) withoutRevisions() Mixture {
	m.Revisions = nil
	return m
}

// String names what is mixed; empty for nothing.
func (m Mixture) String() string {
	var parts []string
	if len(m.Products) > 1 {
		parts = append(parts, "products "+strings.Join(m.Products, " and ")+" are counted together")
	}
	if len(m.Revisions) > 1 {
		var names []string
		for _, r := range m.Revisions {
			names = append(names, fmt.Sprintf("%s (%d units)", r.Label, r.Units))
		}
		parts = append(parts, fmt.Sprintf("revisions %s of %s judge by different limits (%s)", strings.Join(names, " and "),
			m.Revisions[0].Product, keysText(m.Revisions[len(m.Revisions)-1].Differs)))
	}
	return strings.Join(parts, "; ")
}

func keysText(keys []string) string {
	const most = 5
	switch n := len(keys); {
	case n == 1:
		return "key " + keys[0]
	case n > most:
		return fmt.Sprintf("keys %s and %d more", strings.Join(keys[:most], ", "), n-most)
	}
	return "keys " + strings.Join(keys, ", ")
}

// MixedError is returned where readings of several products, or of revisions
// with different limits, would have to be pooled.
type MixedError struct{ Mixture }

// Error names what is mixed and how to choose.
func (e *MixedError) Error() string {
	if len(e.Products) > 1 {
		return e.String() + ": choose one product"
	}
	return e.String() + ": choose one revision"
}

// mixture looks at the revisions that a filter chooses.
func mixture(ctx context.Context, tx *sql.Tx, f Filter) (Mixture, error) {
	_, of, err := yieldsByRevision(ctx, tx, f, nil)
	if err != nil {
		return Mixture{}, err
	}
	return mixtureOf(ctx, tx, of)
}

func mixtureOf(ctx context.Context, tx *sql.Tx, of map[int64]unitsOf) (Mixture, error) {
	if len(of) == 0 {
		return Mixture{}, nil
	}
	revisions, err := revisionsOf(ctx, tx, of)
	return mixed(revisions), err
}

// mixed says what of some revisions does not belong together.
func mixed(revisions []chosenRevision) (m Mixture) {
	for _, r := range revisions {
		if !slices.Contains(m.Products, r.Product) {
			m.Products = append(m.Products, r.Product)
		}
	}
	if len(m.Products) > 1 {
		return m
	}
	for i, r := range revisions {
		r.Differs = nil
		for _, first := range revisions[:min(i, 1)] {
			r.Differs = definition.Differing(first.keys, r.keys)
		}
		if i == 0 || len(r.Differs) > 0 {
			m.Revisions = append(m.Revisions, r.MixedRevision)
		}
	}
	if len(m.Revisions) < 2 {
		m.Revisions = nil
	}
	return m
}

// unitsOf is what there is of a revision: units, and its first run.
type unitsOf struct {
	units int
	first int64
}

func (u unitsOf) with(units int, first int64) unitsOf {
	if u.first == 0 || first < u.first {
		u.first = first
	}
	u.units += units
	return u
}

// chosenRevision is a revision with its keys.
type chosenRevision struct {
	MixedRevision
	number, first int64
	keys          []definition.Key
}

func chosenRevisions(ctx context.Context, tx *sql.Tx, f Filter) ([]chosenRevision, error) {
	_, of, err := yieldsByRevision(ctx, tx, f, nil)
	if err != nil || len(of) == 0 {
		return nil, err
	}
	return revisionsOf(ctx, tx, of)
}

// revisionsOf are revisions in the order of their first runs.
func revisionsOf(ctx context.Context, tx *sql.Tx, of map[int64]unitsOf) ([]chosenRevision, error) {
	numbers := slices.Collect(maps.Keys(of))
	list, err := store.Collect(ctx, tx, func(rows *sql.Rows) (r chosenRevision, err error) {
		var stored []byte
		err = rows.Scan(&r.number, &r.Product, &r.Label, &r.Hash, &stored)
		r.keys, r.Units, r.first = definition.Keys(stored), of[r.number].units, of[r.number].first
		return r, err
	}, `SELECT revision, code, label, hash, definition FROM revision WHERE revision IN (`+store.Placeholders(len(numbers))+`)`,
		store.Each(numbers, func(n int64) any { return n })...)
	slices.SortFunc(list, func(a, b chosenRevision) int { return cmp.Compare(a.first, b.first) })
	return list, err
}
