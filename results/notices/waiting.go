package notices

import (
	"context"
	"database/sql"

	"padjig/results/runs"
)

// Waiting is what was decided in an office's records and is in no notice yet.
type Waiting struct {
	Releases, Accounts, Lots int
}

// Any reports whether anything waits.
func (w Waiting) Any() bool { return w.Releases+w.Accounts+w.Lots > 0 }

// Waiting counts what [Records.Issue] would make notices of.
func (s *Records) Waiting(ctx context.Context) (w Waiting, err error) {
	err = s.db.Ask(ctx, "look up what no notice was made of", func(tx *sql.Tx) error {
		work := issuing{Records: s, tx: tx}
		upto, err := work.told(ctx, "release")
		if err != nil {
			return err
		}
		list, err := runs.ReleasesIn(ctx, tx)
		if err != nil {
			return err
		}
		if upto == 0 {
			list = needed(list)
		}
		for _, r := range list {
			if r.Seq > upto {
				w.Releases++
			}
		}
		const behind = ` > (SELECT coalesce(max(upto), 0) FROM notice WHERE source = `
		return tx.QueryRowContext(ctx, `SELECT
			(SELECT count(DISTINCT name) FROM (SELECT name FROM account_event WHERE seq`+behind+`'account_event')
				UNION ALL SELECT name FROM account_lock WHERE seq`+behind+`'account_lock')) AS decided),
			(SELECT count(*) FROM lot_change WHERE seq`+behind+`'lot_change'))`).Scan(&w.Accounts, &w.Lots)
	})
	return w, err
}
