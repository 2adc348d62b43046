package runs

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"padjig/results/store"
)

// Unit gives all runs of a unit, oldest first, complete; none when the serial
// number was never tested.
func (s *Records) Unit(ctx context.Context, serial string) ([]Stored, error) {
	var runs []Stored
	err := s.db.Ask(ctx, fmt.Sprintf("look up unit %q", serial), func(tx *sql.Tx) error {
		seqs, err := store.Collect(ctx, tx, store.ScanInt, `SELECT seq FROM run WHERE serial = ? ORDER BY seq`, serial)
		if err != nil {
			return err
		}
		runs, err = Reader{ctx, tx}.Runs(seqs)
		return err
	})
	return runs, err
}

// Run gives one run, complete; [ErrNotFound] when there is none of that id.
func (s *Records) Run(ctx context.Context, id store.ID) (Stored, error) {
	var runs []Stored
	err := s.db.Ask(ctx, fmt.Sprintf("look up run %s", id), func(tx *sql.Tx) error {
		var seq int64
		err := tx.QueryRowContext(ctx, `SELECT seq FROM run WHERE id = ?`, id).Scan(&seq)
		if errors.Is(err, sql.ErrNoRows) {
			return store.ErrNotFound
		}
		if err != nil {
			return err
		}
		runs, err = Reader{ctx, tx}.Runs([]int64{seq})
		return err
	})
	if err != nil {
		return Stored{}, err
	}
	return runs[0], nil
}

// Reader reads runs inside a transaction.
type Reader struct {
	Ctx context.Context
	Tx  *sql.Tx
}

// Runs gives the runs of these numbers.
func (r Reader) Runs(seqs []int64) ([]Stored, error) {
	var runs []Stored
	for _, seq := range seqs {
		rec, _, err := r.Record(seq)
		if err != nil {
			return nil, fmt.Errorf("run %d: %w", seq, err)
		}
		runs = append(runs, rec.stored(seq))
	}
	return runs, nil
}

// Record gives a run as it is stored, and the hash stored with it.
func (r Reader) Record(seq int64) (*Record, []byte, error) {
	all, err := r.Records(seq, seq)
	if err == nil && len(all) == 0 {
		err = sql.ErrNoRows
	}
	if err != nil {
		return nil, nil, err
	}
	return all[0].Record, all[0].kept, nil
}

// Records gives the runs of these numbers, first and last among them, in their order: one
// query for each sort of rows, however many runs there are.
func (r Reader) Records(from, to int64) ([]Kept, error) {
	list, err := store.Collect(r.Ctx, r.Tx, scanHead, `
		SELECT run.seq, run.id, run.serial, revision.code, revision.title, revision.label, revision.hash,
		       jig.serial, jig.model, jig.firmware, jig.adapter,
		       station.host, station.software, station.boot_id,
		       simulated, actuation, operator, attempt, started_us, duration_us, outcome, reason,
		       saved_us, mono_ns, clock_synced, run.hash, purpose, verdict,
		       (SELECT id FROM return_case WHERE return_case.seq = run.return_case),
		       (SELECT id FROM run_start WHERE run_start.seq = run.start), coalesce(run.start, 0),
		       coalesce((SELECT turn FROM run_cell WHERE run_cell.run = run.seq), 0), ended, proofs,
		       coalesce((SELECT answer FROM asked WHERE asked.start = run.start), '')
		FROM run CROSS JOIN revision USING (revision) CROSS JOIN jig USING (jig) CROSS JOIN station USING (station)
		WHERE seq BETWEEN ? AND ? ORDER BY seq`, from, to)
	if err != nil {
		return nil, err
	}
	p := page{r, from, to, make(map[int64]*Record, len(list))}
	for _, k := range list {
		p.runs[k.Seq] = k.Record
	}
	for _, part := range []func(page) error{steps, seats, keys, pairs, findings, exercised, insulation} {
		if err := part(p); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// page are runs that are read together.
type page struct {
	Reader
	from, to int64
	runs     map[int64]*Record
}

// rowsOf gives each row to its run, which the first column names. Tables are joined as they are written, so that
// rows come in their order and nothing is sorted.
func rowsOf[T any](p page, scan func(rows *sql.Rows, run *int64) (T, error), list func(*Record) *[]T, query string) error {
	return store.Visit(p.Ctx, p.Tx, func(rows *sql.Rows) error {
		var run int64
		row, err := scan(rows, &run)
		if rec := p.runs[run]; err == nil && rec != nil {
			*list(rec) = append(*list(rec), row)
		}
		return err
	}, query, p.from, p.to)
}

func scanHead(rows *sql.Rows) (Kept, error) {
	rec := Record{Steps: []stepRow{}, Seats: []seatRow{}, Keys: []KeyRow{}, Pairs: []pairRow{}, Findings: []FindingRow{}}
	k := Kept{Record: &rec}
	var of, start *store.ID // returns case, start
	err := rows.Scan(&k.Seq, &rec.ID, &rec.Serial, &rec.Product, &rec.Title, &rec.Revision, &rec.Hash,
		&rec.Jig.Serial, &rec.Jig.Model, &rec.Jig.Firmware, &rec.Jig.Adapter,
		&rec.Station.Host, &rec.Station.Software, &rec.Station.BootID,
		&rec.Simulated, &rec.Actuation, &rec.Operator, &rec.Attempt, &rec.Started, &rec.Duration,
		&rec.Outcome, &rec.Reason, &rec.Saved, &rec.Mono, &rec.ClockSynced, &k.kept,
		&rec.Purpose, &rec.Verdict, &of, &start, &rec.start, &rec.turn, store.JSON(&rec.Why), store.JSON(&rec.Proofs), &rec.plant)
	if of != nil {
		rec.Case = of.String()
	}
	if start != nil {
		rec.Start = start.String()
	}
	return k, err
}

func steps(p page) error {
	scan := func(rows *sql.Rows, run *int64) (s stepRow, err error) {
		return s, rows.Scan(run, &s.Name, &s.Done, &s.Took)
	}
	return rowsOf(p, scan, func(r *Record) *[]stepRow { return &r.Steps }, `
		SELECT run, step.name, done, took_us
		FROM run_step CROSS JOIN step USING (step) WHERE run BETWEEN ? AND ? ORDER BY run, place`)
}

func seats(p page) error {
	scan := func(rows *sql.Rows, run *int64) (s seatRow, err error) {
		return s, rows.Scan(run, &s.Pin, &s.Line, &s.Good, &s.Loop.MilliOhm, &s.Loop.U, &s.Loop.AtLeast, &s.Loop.Rest, &s.Loop.URest)
	}
	return rowsOf(p, scan, func(r *Record) *[]seatRow { return &r.Seats }, `
		SELECT run, pin.number, pin.line, good, loop_mohm, loop_u_mohm, loop_at_least, loop_rest_uohm, loop_u_rest_uohm
		FROM run_seat CROSS JOIN pin USING (pin) WHERE run BETWEEN ? AND ? ORDER BY run, place`)
}

func keys(p page) error {
	return rowsOf(p, scanKey, func(r *Record) *[]KeyRow { return &r.Keys }, `
		SELECT run, key.label, key.line_a, key.line_b, passed, closed_mohm, closed_u_mohm, closed_at_least,
		       make_us, make_count, break_us, break_count, forward_uv, forward_u_uv,
		       reverse_mohm, reverse_u_mohm, reverse_at_least, closed_rest_uohm, closed_u_rest_uohm, two_currents
		FROM run_key CROSS JOIN key USING (key) WHERE run BETWEEN ? AND ? ORDER BY run, place`)
}

func scanKey(rows *sql.Rows, run *int64) (k KeyRow, err error) {
	var closed, reverse maybeOhms
	var makes, makeCount, breaks, breakCount, forward, forwardU *int64
	err = rows.Scan(run, &k.Key, &k.Lines[0], &k.Lines[1], &k.Passed, &closed.MilliOhm, &closed.U, &closed.atLeast,
		&makes, &makeCount, &breaks, &breakCount, &forward, &forwardU,
		&reverse.MilliOhm, &reverse.U, &reverse.atLeast, &closed.Rest, &closed.URest, store.JSON(&k.Two))
	if err != nil {
		return k, err
	}
	k.Closed, k.Reverse = closed.read(), reverse.read()
	if makes != nil && makeCount != nil {
		k.Make = &bounce{*makes, *makeCount}
	}
	if breaks != nil && breakCount != nil {
		k.Break = &bounce{*breaks, *breakCount}
	}
	if forward != nil {
		k.Forward = &volts{*forward, forwardU}
	}
	return k, nil
}

func pairs(p page) error {
	return rowsOf(p, scanPair, func(r *Record) *[]pairRow { return &r.Pairs }, `
		SELECT run, line_a, line_b, held, mohm, u_mohm, at_least,
		       forward_mohm, forward_u_mohm, forward_at_least,
		       backward_mohm, backward_u_mohm, backward_at_least, trend
		FROM run_pair WHERE run BETWEEN ? AND ? ORDER BY run, place`)
}

func scanPair(rows *sql.Rows, run *int64) (p pairRow, err error) {
	var forward, backward maybeOhms
	err = rows.Scan(run, &p.Lines[0], &p.Lines[1], &p.While, &p.Ohms.MilliOhm, &p.Ohms.U, &p.Ohms.AtLeast,
		&forward.MilliOhm, &forward.U, &forward.atLeast,
		&backward.MilliOhm, &backward.U, &backward.atLeast, &p.Trend)
	p.Forward, p.Backward = forward.read(), backward.read()
	return p, err
}

// maybeOhms is a resistance that may not have been measured: then atLeast is nil.
type maybeOhms struct {
	Ohms
	atLeast *bool
}

func (m maybeOhms) read() *Ohms {
	if m.atLeast == nil {
		return nil
	}
	m.AtLeast = *m.atLeast
	return &m.Ohms
}

func findings(p page) error {
	return rowsOf(p, scanFinding, func(r *Record) *[]FindingRow { return &r.Findings }, `
		SELECT run, what, location, key, lines, pins, value, value_open, u, "limit", unit, site, how
		FROM run_finding WHERE run BETWEEN ? AND ? ORDER BY run, place`)
}

func scanFinding(rows *sql.Rows, run *int64) (f FindingRow, err error) {
	return f, rows.Scan(run, &f.What, &f.Location, &f.Key, store.JSON(&f.Lines), store.JSON(&f.Pins), &f.Value, &f.ValueOpen, &f.U, &f.Limit,
		&f.Unit, store.JSON(&f.Site), store.JSON(&f.How))
}

func insulation(p page) error {
	scan := func(rows *sql.Rows, run *int64) (one insulationRow, err error) {
		return one, rows.Scan(run, &one.Step, store.JSON(&one.Feed), store.JSON(&one.Ground), &one.Ohms.MilliOhm, &one.Ohms.U, &one.Ohms.AtLeast)
	}
	return rowsOf(p, scan, func(r *Record) *[]insulationRow { return &r.Insulation }, `
		SELECT run, step.name, fed, grounded, mohm, u_mohm, at_least
		FROM run_insulation CROSS JOIN step USING (step) CROSS JOIN line_split USING (line_split)
		WHERE run BETWEEN ? AND ? ORDER BY run, place`)
}

func exercised(p page) error {
	return rowsOf(p, scanExercise, func(r *Record) *[]exerciseRow { return &r.Exercised }, `
		SELECT run, key.label, presses, misses, high, sticks, first_bad,
		       least_mohm, least_u_mohm, least_rest_uohm, least_u_rest_uohm,
		       most_mohm, most_u_mohm, most_rest_uohm, most_u_rest_uohm, make_us, break_us,
		       held_us, held_opened, held_longest_us, held_more,
		       flexed_us, flexed_opened, flexed_longest_us, flexed_more
		FROM run_exercise CROSS JOIN key USING (key) WHERE run BETWEEN ? AND ? ORDER BY run, place`)
}

func scanExercise(rows *sql.Rows, run *int64) (e exerciseRow, err error) {
	var least, most Ohms
	err = rows.Scan(run, &e.Key, &e.Presses, &e.Misses, &e.High, &e.Sticks, &e.First,
		&least.MilliOhm, &least.U, &least.Rest, &least.URest, &most.MilliOhm, &most.U, &most.Rest, &most.URest, &e.Make, &e.Break,
		&e.Held.Watched, &e.Held.Opened, &e.Held.Longest, &e.Held.More,
		&e.Flexed.Watched, &e.Flexed.Opened, &e.Flexed.Longest, &e.Flexed.More)
	if least.MilliOhm != nil {
		e.Least, e.Most = &least, &most
	}
	return e, err
}

// Revision gives the product revision a run was tested as, by the run's hash
// and label; [ErrNotFound] when there is none.
func (s *Records) Revision(ctx context.Context, run Stored) (rev Revision, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up revision %s of %s", run.Run.Revision, run.Product), func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, `
			SELECT code, title, label, hash, definition FROM revision WHERE hash = ? AND label = ?`, run.Hash, run.Run.Revision,
		).Scan(&rev.Code, &rev.Title, &rev.Label, &rev.Hash, &rev.Definition)
		if errors.Is(err, sql.ErrNoRows) {
			return store.ErrNotFound
		}
		return err
	})
	return rev, err
}

// Numbered gives the runs of these numbers, complete, in their order.
func (s *Records) Numbered(ctx context.Context, seqs []int64) (runs []Stored, err error) {
	err = s.db.Ask(ctx, "look up runs", func(tx *sql.Tx) (err error) {
		runs, err = Reader{ctx, tx}.Runs(seqs)
		return err
	})
	return runs, err
}
