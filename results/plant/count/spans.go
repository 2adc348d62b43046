package count

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"padjig/results/floor"
	"padjig/results/hourly"
	"padjig/results/plant/postgres"
)

// Begins is a pool of connections, or one of them, with no transaction begun.
type Begins interface {
	BeginTx(ctx context.Context, options *sql.TxOptions) (*sql.Tx, error)
}

// Spans makes the next span of the plant that is missing (see [hourly.Span]), of those that ended before now by its
// clock, in a transaction of its own. It reports whether there may be more to make at once: not where another program makes
// them, or where those that count do not come to an end within two seconds; they would wait behind this one.
//
// Who counts runs is seen to wait for nobody that waits for this: it begins with nothing locked.
func Spans(ctx context.Context, db Begins) (more bool, err error) {
	tx, err := db.BeginTx(ctx, nil)
	if err == nil {
		defer func() { _ = tx.Rollback() }() // after Commit it does nothing
		more, err = spans(ctx, tx)
	}
	if postgres.Code(err) == postgres.LockNotAvailable {
		return false, nil
	}
	if err == nil {
		err = tx.Commit()
	}
	if err != nil {
		return false, fmt.Errorf("sum up days and months of the plant: %w", err)
	}
	return more, nil
}

func spans(ctx context.Context, tx *sql.Tx) (made bool, err error) {
	var mine bool
	err = tx.QueryRowContext(ctx, `SELECT pg_try_advisory_xact_lock(hashtext('padjig spans made'))`).Scan(&mine)
	if err != nil || !mine {
		return false, err
	}
	for _, statement := range []string{`SET LOCAL lock_timeout = '2s'`, `SELECT pg_advisory_xact_lock(hashtext('padjig spans'))`} {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return false, err
		}
	}
	var before int64
	zone, err := floor.ZoneIn(ctx, tx)
	err = errors.Join(err, tx.QueryRowContext(ctx, `SELECT floor(extract(epoch FROM clock_timestamp()) / 3600)::bigint`).Scan(&before))
	if err != nil {
		return false, err
	}
	return hourly.Maker{Zone: zone, Many: true}.Next(ctx, tx, before)
}
