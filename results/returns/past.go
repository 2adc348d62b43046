package returns

import (
	"context"
	"database/sql"

	"padjig/results/runs"
	"padjig/results/runs/elsewhere"
	"padjig/results/store"
)

// RepairLoop is what an override of the loop of failing and being repaired is about.
const RepairLoop = "repair loop"

// PastOf gives what desk and repair say of a unit, for whoever is about to test it for production.
func PastOf(ctx context.Context, tx *sql.Tx, serial string) (past runs.Past, err error) {
	numbers, err := store.Collect(ctx, tx, store.ScanInt, `SELECT seq FROM return_case WHERE serial = ? ORDER BY after_run, seq`, serial)
	for _, number := range numbers {
		c, failed := caseIn(ctx, tx, number)
		if failed != nil {
			return past, failed
		}
		past.Case, past.Open, past.Disposal, past.Closed = c.Number, !c.Closed(), c.Disposition().Disposal, c.Disposition().At
		if past.Disposal != ToProduction {
			continue
		}
		back := elsewhere.Point{At: c.Disposition().At}
		if err := tx.QueryRowContext(ctx, `
			SELECT after_run FROM return_disposal JOIN return_disposition AS disposition ON disposition.seq = return_disposal.disposition
			WHERE return_case = ? ORDER BY disposition.seq DESC LIMIT 1`, number).Scan(&back.After); err != nil {
			return past, err
		}
		if past.Back == nil {
			past.Back = map[bool]elsewhere.Point{}
		}
		if len(c.Stages) == 0 || !c.Simulated() {
			past.Back[false] = back
		}
		if len(c.Stages) == 0 || c.Simulated() {
			past.Back[true] = back
		}
	}
	if err == nil {
		var list []elsewhere.Point
		list, err = store.Collect(ctx, tx, func(rows *sql.Rows) (p elsewhere.Point, err error) {
			return p, rows.Scan(&p.After, store.Time(&p.At))
		}, `SELECT after_run, at_us FROM rework WHERE serial = ? ORDER BY after_run, seq`, serial)
		past.Reworks = append(past.Reworks, list...) // none is nil
	}
	if err == nil {
		_, err = store.RowOf(ctx, tx, `SELECT after_run, at_us FROM override WHERE serial = ? AND what = ? ORDER BY after_run DESC, seq DESC LIMIT 1`,
			[]any{serial, RepairLoop}, &past.Decided.After, store.Time(&past.Decided.At))
	}
	return past, err
}
