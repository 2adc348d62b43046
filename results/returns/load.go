package returns

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// Case gives a case by its number; [ErrNotFound] when there is none.
func (s *Records) Case(ctx context.Context, number int64) (c Case, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up returns case %d", number), func(tx *sql.Tx) error {
		c, err = caseIn(ctx, tx, number)
		return err
	})
	return c, err
}

// CaseOf gives the newest case of a unit; [ErrNotFound] when there is none.
func (s *Records) CaseOf(ctx context.Context, serial string) (c Case, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up the returns case of unit %q", serial), func(tx *sql.Tx) error {
		var number int64
		found, err := store.RowOf(ctx, tx, `SELECT max(seq) FROM return_case WHERE serial = ? HAVING count(*) > 0`, []any{serial}, &number)
		switch {
		case err != nil:
			return err
		case !found:
			return store.ErrNotFound
		}
		c, err = caseIn(ctx, tx, number)
		return err
	})
	return c, err
}

// OpenCaseOf gives the number of a unit's open case, 0 for none; it is quick
// however many cases there are.
func (s *Records) OpenCaseOf(ctx context.Context, serial string) (number int64, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up the returns case of unit %q", serial), func(tx *sql.Tx) error {
		_, err := store.RowOf(ctx, tx, openCaseQuery, []any{serial}, &number)
		return err
	})
	return number, err
}

// CaseRuns gives the runs made for a case, oldest first, complete.
func (s *Records) CaseRuns(ctx context.Context, c Case) (made []runs.Stored, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up the runs of returns case %d", c.Number), func(tx *sql.Tx) error {
		seqs, err := store.Collect(ctx, tx, store.ScanInt, `SELECT seq FROM run WHERE return_case = ? ORDER BY seq`, c.Number)
		if err == nil {
			made, err = runs.Reader{Ctx: ctx, Tx: tx}.Runs(seqs)
		}
		return err
	})
	return made, err
}

func caseIn(ctx context.Context, tx *sql.Tx, number int64) (Case, error) {
	c := Case{Number: number}
	found, err := store.RowOf(ctx, tx, `SELECT id, serial, product, after_run, by, at_us FROM return_case WHERE seq = ?`,
		[]any{number}, &c.ID, &c.Serial, &c.Product, &c.AfterRun, &c.By, store.Time(&c.Opened))
	if !found && err == nil {
		err = store.ErrNotFound
	}
	for _, part := range c.parts() {
		if err == nil {
			err = part(ctx, tx, number)
		}
	}
	return c, err
}

// part reads one of the lists of a case.
type part func(ctx context.Context, tx *sql.Tx, number int64) error

// listed is the part that a query gives for the number of the case.
func listed[T any](into *[]T, scan func(*sql.Rows) (T, error), query string) part {
	return func(ctx context.Context, tx *sql.Tx, number int64) (err error) {
		*into, err = store.Collect(ctx, tx, scan, query, number)
		return err
	}
}

func (c *Case) parts() []part {
	return []part{
		listed(&c.Intakes, func(rows *sql.Rows) (in Intake, err error) {
			return in, rows.Scan(&in.Seq, store.Time(&in.Received), &in.Complaint, &in.ComplaintText, store.JSON(&in.Conditions), &in.ConditionText,
				&in.EndsTesting, &in.Customer, &in.Lot, &in.By, store.Time(&in.At))
		}, `SELECT seq, received_us, complaint, complaint_text, conditions, condition_text, ends_testing, customer, lot, by, at_us
		    FROM return_intake WHERE return_case = ? ORDER BY seq`),
		listed(&c.Photos, func(rows *sql.Rows) (p Photo, err error) {
			var sum []byte
			err = rows.Scan(&sum, &p.Bytes, &p.ContentType, &p.Name, &p.Note, &p.By, store.Time(&p.At))
			copy(p.SHA256[:], sum)
			return p, err
		}, `SELECT sha256, bytes, content_type, name, note, by, at_us FROM return_photo WHERE return_case = ? ORDER BY seq`),
		listed(&c.NoPhotos, func(rows *sql.Rows) (n NoPhoto, err error) {
			return n, rows.Scan(&n.Reason, &n.By, store.Time(&n.At))
		}, `SELECT reason, by, at_us FROM return_no_photo WHERE return_case = ? ORDER BY seq`),
		listed(&c.Unlocks, func(rows *sql.Rows) (u Unlock, err error) {
			return u, rows.Scan(&u.Intake, &u.Reason, &u.By, store.Time(&u.At))
		}, `SELECT intake, reason, by, at_us FROM return_unlock JOIN override ON override.seq = return_unlock.override
		    WHERE return_case = ? ORDER BY return_unlock.seq`),
		listed(&c.Stages, func(rows *sql.Rows) (s Stage, err error) {
			return s, rows.Scan(&s.Run, &s.Seq, &s.Purpose, &s.Outcome, &s.Simulated, store.Time(&s.Started), &s.Findings, &s.Worst)
		}, `SELECT run.id, run.seq, purpose, verdict, simulated, started_us, findings,
		           coalesce((SELECT what || ': ' || location FROM run_finding WHERE run = run.seq AND place = 0), '')
		    FROM run WHERE return_case = ? ORDER BY run.seq`),
		listed(&c.Unfinished, func(rows *sql.Rows) (p sequence.Purpose, err error) { return p, rows.Scan(&p) }, `
			SELECT purpose FROM run_start
			WHERE return_case = ? AND NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq) ORDER BY seq`),
		listed(&c.Diagnoses, func(rows *sql.Rows) (d Diagnosis, err error) {
			return d, rows.Scan(&d.Run, (*[]byte)(&d.Causes), &d.Software, store.Time(&d.At))
		}, `SELECT run, causes, software, at_us FROM return_diagnosis WHERE return_case = ? ORDER BY seq`),
		listed(&c.Dispositions, func(rows *sql.Rows) (d Disposition, err error) {
			return d, rows.Scan(&d.Code, &d.Reason, &d.By, store.Time(&d.At), &d.Disposal, store.JSON(&d.Answered))
		}, `SELECT return_disposition.disposition, reason, by, at_us, coalesce(disposal, ''), coalesce(contradictions, '[]')
		    FROM return_disposition LEFT JOIN return_disposal ON return_disposal.disposition = return_disposition.seq
		    WHERE return_case = ? ORDER BY return_disposition.seq`),
	}
}
