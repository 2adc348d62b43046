package care

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// LastAdapter gives the adapter through which a jig last passed a unit of a product;
// known is false where it passed none. A jig that never stated any adapter but the one
// it states now is not looked into further: there is nothing it could have been changed from.
func (s *Records) LastAdapter(ctx context.Context, product, jig, stated string, simulated bool) (adapter string, known bool, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up the adapters of jig %s", jig), func(tx *sql.Tx) error {
		changed := false
		err := tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM jig WHERE serial = ? AND adapter <> ?)`, jig, stated).Scan(&changed)
		if err != nil || !changed {
			return err
		}
		err = tx.QueryRowContext(ctx, `
			SELECT jig.adapter FROM run JOIN jig USING (jig) JOIN revision ON revision.revision = run.revision
			WHERE jig.serial = ? AND revision.code = ? AND simulated = ? AND purpose = '' AND verdict = 'pass'
			ORDER BY run.seq DESC LIMIT 1`, jig, product, simulated).Scan(&adapter)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		known = err == nil
		return err
	})
	return adapter, known, err
}
