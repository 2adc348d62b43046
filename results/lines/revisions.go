package lines

import (
	"context"
	"database/sql"
	"time"

	"padjig/results/hourly"
	"padjig/results/store"
)

// TestedRevision is a revision of which a filter chooses runs.
type TestedRevision struct {
	Product, Label, Hash string
	Units                int
	LastRun              int64 // the newest of them
}

// Tested lists the revisions of which a filter chooses runs, the one tested last first.
func (s *Records) Tested(ctx context.Context, f Filter) ([]TestedRevision, error) {
	var list []TestedRevision
	err := s.ask(ctx, "look up what was tested", f, nil, func(tx *sql.Tx) error {
		from, err := f.summed(ctx, tx, countsOf)
		if err != nil {
			return err
		}
		list, err = store.Collect(ctx, tx, func(rows *sql.Rows) (r TestedRevision, err error) {
			return r, rows.Scan(&r.Product, &r.Label, &r.Hash, &r.Units, &r.LastRun)
		}, `SELECT revision.code, revision.label, revision.hash, sum(units), max(last_run)`+from.text+`
		    AND runs > 0 GROUP BY revision.code, revision.label, revision.hash, cell.revision ORDER BY max(last_run) DESC`, from.args...)
		return err
	})
	return list, err
}

// LastTested is when the hour began in which a filter chooses its newest run; zero for none.
func (s *Records) LastTested(ctx context.Context, f Filter) (at time.Time, err error) {
	where, args := f.where()
	hours, err := listed(ctx, s, "look up the newest run", f, store.ScanInt,
		`SELECT cell.hour`+hourly.AggregatesFrom+`WHERE runs > 0 AND `+where+` ORDER BY cell.hour DESC LIMIT 1`, args...)
	if err == nil && len(hours) > 0 {
		at = time.Unix(hours[0]*3600, 0).UTC()
	}
	return at, err
}
