package lines

import (
	"context"
	"database/sql"
	"time"

	"padjig/results/hourly"
)

// TestedRevision is a revision of which a filter chooses runs.
type TestedRevision struct {
	Product, Label, Hash string
	Units                int
	LastRun              int64 // the newest of them
}

// Tested lists the revisions of which a filter chooses runs, the one tested last first.
func (s *Records) Tested(ctx context.Context, f Filter) ([]TestedRevision, error) {
	where, args := f.where()
	return listed(ctx, s, "look up what was tested", f, func(rows *sql.Rows) (r TestedRevision, err error) {
		return r, rows.Scan(&r.Product, &r.Label, &r.Hash, &r.Units, &r.LastRun)
	}, `SELECT revision.code, revision.label, revision.hash, sum(units), max(last_run)`+hourly.AggregatesFrom+`
	    WHERE runs > 0 AND `+where+` GROUP BY revision.code, revision.label, revision.hash, cell.revision ORDER BY max(last_run) DESC`, args...)
}

// LastTested is when the hour began in which a filter chooses its newest run; zero for none.
func (s *Records) LastTested(ctx context.Context, f Filter) (at time.Time, err error) {
	where, args := f.where()
	hours, err := listed(ctx, s, "look up the newest run", f, func(rows *sql.Rows) (hour sql.NullInt64, err error) {
		return hour, rows.Scan(&hour)
	}, `SELECT max(cell.hour)`+hourly.AggregatesFrom+`WHERE runs > 0 AND `+where, args...)
	if err == nil && len(hours) > 0 && hours[0].Valid {
		at = time.Unix(hours[0].Int64*3600, 0).UTC()
	}
	return at, err
}
