package lines

import (
	"context"
	"database/sql"
	"slices"
	"sort"

	"padjig/results/store"
)

// Facets are the values that a [Filter] can choose among.
type Facets struct {
	Products, Revisions, Lots, Jigs, Shifts, Operators []string
	Stations                                           []string // of a plant
}

// Facets lists what there is among the production runs of a product, real or
// simulated; of all products when none is named. Products lists all in any case.
func (s *Records) Facets(ctx context.Context, product string, simulated bool) (Facets, error) {
	var f Facets
	err := s.db.Ask(ctx, "look up what can be chosen", func(tx *sql.Tx) error {
		from, err := Filter{Simulated: simulated}.summed(ctx, tx, countsOf, fine...)
		if err != nil {
			return err
		}
		rows, err := store.Collect(ctx, tx, scanFacets, `
			SELECT DISTINCT code, label, jig.serial, coalesce(shift.name, ''), cell.operator,
			       coalesce(membrane, ''), coalesce(dome, ''), coalesce(board, ''), coalesce(consumables, '')`+from.text+` AND runs > 0`, from.args...)
		for _, row := range rows {
			f.add(row, product)
		}
		if err == nil && s.db.OfMany() {
			f.Stations, err = store.Collect(ctx, tx, store.ScanText, `SELECT name FROM member ORDER BY name`)
		}
		return err
	})
	if err != nil {
		return Facets{}, err
	}
	for _, list := range []*[]string{&f.Products, &f.Revisions, &f.Lots, &f.Jigs, &f.Shifts, &f.Operators} {
		sort.Strings(*list)
		*list = slices.Compact(*list)
	}
	return f, nil
}

// facetRow is one combination.
type facetRow struct {
	product, revision, jig, shift, operator string
	lots                                    [4]string
}

func scanFacets(rows *sql.Rows) (r facetRow, err error) {
	return r, rows.Scan(&r.product, &r.revision, &r.jig, &r.shift, &r.operator,
		&r.lots[0], &r.lots[1], &r.lots[2], &r.lots[3])
}

func (f *Facets) add(r facetRow, product string) {
	f.Products = append(f.Products, r.product)
	if product != "" && r.product != product {
		return
	}
	f.Revisions = append(f.Revisions, r.revision)
	f.Jigs = append(f.Jigs, r.jig)
	f.Shifts = append(f.Shifts, filled([]string{r.shift})...)
	f.Operators = append(f.Operators, filled([]string{r.operator})...)
	f.Lots = append(f.Lots, filled(r.lots[:])...)
}
