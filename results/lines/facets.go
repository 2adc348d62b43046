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
		from, err := Filter{Simulated: simulated}.summed(ctx, tx, thatAre, append([]Dimension{ByRevision, ByJig}, fine...)...)
		if err != nil {
			return err
		}
		err = store.Visit(ctx, tx, func(rows *sql.Rows) error { return f.add(rows, product) },
			`WITH chosen AS (SELECT revision, jig, lots, shift, operator`+from.numbers+`)`+facets, from.args...)
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

// facets are what there is of each by itself: together they come in as many ways as there are sums.
const facets = `
	SELECT 'revision', code, label, '', '', '' FROM (SELECT DISTINCT revision FROM chosen) AS c JOIN revision USING (revision)
	UNION ALL SELECT DISTINCT 'jig', code, serial, '', '', ''
	FROM (SELECT DISTINCT revision, jig FROM chosen) AS c JOIN revision USING (revision) JOIN jig USING (jig)
	UNION ALL SELECT DISTINCT 'shift', code, name, '', '', ''
	FROM (SELECT DISTINCT revision, shift FROM chosen) AS c JOIN revision USING (revision) JOIN shift USING (shift)
	UNION ALL SELECT 'operator', code, operator, '', '', ''
	FROM (SELECT DISTINCT revision, operator FROM chosen) AS c JOIN revision USING (revision)
	UNION ALL SELECT DISTINCT 'lot', code, membrane, dome, board, consumables
	FROM (SELECT DISTINCT revision, lots FROM chosen) AS c JOIN revision USING (revision) JOIN lot_change ON lot_change.seq = c.lots`

func (f *Facets) add(rows *sql.Rows, product string) error {
	var kind, of string
	var values [4]string
	if err := rows.Scan(&kind, &of, &values[0], &values[1], &values[2], &values[3]); err != nil {
		return err
	}
	f.Products = append(f.Products, of)
	if product != "" && of != product {
		return nil
	}
	switch kind {
	case "revision":
		f.Revisions = append(f.Revisions, values[0])
	case "jig":
		f.Jigs = append(f.Jigs, values[0])
	case "shift":
		f.Shifts = append(f.Shifts, filled(values[:])...)
	case "operator":
		f.Operators = append(f.Operators, filled(values[:])...)
	default:
		f.Lots = append(f.Lots, filled(values[:])...)
	}
	return nil
}
