package returns

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

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

// Cases gives the last n cases, newest first.
func (s *Records) Cases(ctx context.Context, n int) (list []Case, err error) {
	err = s.db.Ask(ctx, "list returns cases", func(tx *sql.Tx) error {
		numbers, err := store.Collect(ctx, tx, store.ScanInt, `SELECT seq FROM return_case ORDER BY seq DESC LIMIT ?`, max(n, 0))
		for _, number := range numbers {
			c, failed := caseIn(ctx, tx, number)
			err = errors.Join(err, failed)
			list = append(list, c)
		}
		return err
	})
	return list, err
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
	var at int64
	found, err := store.RowOf(ctx, tx, `SELECT id, serial, product, after_run, by, at_us FROM return_case WHERE seq = ?`,
		[]any{number}, &c.ID, &c.Serial, &c.Product, &c.AfterRun, &c.By, &at)
	if !found && err == nil {
		err = store.ErrNotFound
	}
	c.Opened = time.UnixMicro(at).UTC()
	parts := []func(context.Context, *sql.Tx) error{c.readIntakes, c.readPhotos, c.readStages, c.readUnfinished, c.readDiagnoses, c.readDispositions}
	for _, part := range parts {
		if err == nil {
			err = part(ctx, tx)
		}
	}
	return c, err
}

func (c *Case) readIntakes(ctx context.Context, tx *sql.Tx) (err error) {
	scan := func(rows *sql.Rows) (in Intake, err error) {
		var received, at int64
		var conditions []byte
		err = rows.Scan(&received, &in.Complaint, &in.ComplaintText, &conditions, &in.ConditionText, &in.EndsTesting,
			&in.Customer, &in.Lot, &in.By, &at)
		in.Received, in.At = time.UnixMicro(received).UTC(), time.UnixMicro(at).UTC()
		if err == nil {
			err = json.Unmarshal(conditions, &in.Conditions)
		}
		return in, err
	}
	c.Intakes, err = store.Collect(ctx, tx, scan, `
		SELECT received_us, complaint, complaint_text, conditions, condition_text, ends_testing, customer, lot, by, at_us
		FROM return_intake WHERE return_case = ? ORDER BY seq`, c.Number)
	return err
}

func (c *Case) readPhotos(ctx context.Context, tx *sql.Tx) (err error) {
	scan := func(rows *sql.Rows) (p Photo, err error) {
		var at int64
		var sum []byte
		err = rows.Scan(&sum, &p.Bytes, &p.ContentType, &p.Name, &p.Note, &p.By, &at)
		copy(p.SHA256[:], sum)
		p.At = time.UnixMicro(at).UTC()
		return p, err
	}
	c.Photos, err = store.Collect(ctx, tx, scan, `
		SELECT sha256, bytes, content_type, name, note, by, at_us
		FROM return_photo WHERE return_case = ? ORDER BY seq`, c.Number)
	return err
}

func (c *Case) readStages(ctx context.Context, tx *sql.Tx) (err error) {
	scan := func(rows *sql.Rows) (s Stage, err error) {
		var started int64
		var purpose, outcome string
		err = rows.Scan(&s.Run, &s.Seq, &purpose, &outcome, &s.Simulated, &started, &s.Findings, &s.Worst)
		s.Purpose, s.Outcome = sequence.Purpose(purpose), sequence.Outcome(outcome)
		s.Started = time.UnixMicro(started).UTC()
		return s, err
	}
	c.Stages, err = store.Collect(ctx, tx, scan, `
		SELECT run.id, run.seq, purpose, verdict, simulated, started_us, findings,
		       coalesce((SELECT what || ': ' || location FROM run_finding WHERE run = run.seq AND place = 0), '')
		FROM run WHERE return_case = ? ORDER BY run.seq`, c.Number)
	return err
}

func (c *Case) readUnfinished(ctx context.Context, tx *sql.Tx) (err error) {
	scan := func(rows *sql.Rows) (p sequence.Purpose, err error) { return p, rows.Scan(&p) }
	c.Unfinished, err = store.Collect(ctx, tx, scan, `
		SELECT purpose FROM run_start
		WHERE return_case = ? AND NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq) ORDER BY seq`, c.Number)
	return err
}

func (c *Case) readDiagnoses(ctx context.Context, tx *sql.Tx) (err error) {
	scan := func(rows *sql.Rows) (d Diagnosis, err error) {
		var at int64
		var causes string
		err = rows.Scan(&d.Run, &causes, &d.Software, &at)
		d.Causes, d.At = json.RawMessage(causes), time.UnixMicro(at).UTC()
		return d, err
	}
	c.Diagnoses, err = store.Collect(ctx, tx, scan, `
		SELECT run, causes, software, at_us FROM return_diagnosis WHERE return_case = ? ORDER BY seq`, c.Number)
	return err
}

func (c *Case) readDispositions(ctx context.Context, tx *sql.Tx) (err error) {
	scan := func(rows *sql.Rows) (d Disposition, err error) {
		return d, rows.Scan(&d.Code, &d.Reason, &d.By, store.Time(&d.At))
	}
	c.Dispositions, err = store.Collect(ctx, tx, scan, `
		SELECT disposition, reason, by, at_us FROM return_disposition WHERE return_case = ? ORDER BY seq`, c.Number)
	return err
}
