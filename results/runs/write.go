package runs

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"padjig/results/store"
	"padjig/sequence"
)

// The tables of interned rows of a run.
var (
	revisionTable = store.Table{Name: "revision", Columns: []string{"hash", "code", "title", "label"}}
	keyTable      = store.Table{Name: "key", Columns: []string{"revision", "label", "line_a", "line_b"}}
	pinTable      = store.Table{Name: "pin", Columns: []string{"revision", "number", "line"}}
	splitTable    = store.Table{Name: "line_split", Columns: []string{"fed", "grounded"}}
	stepTable     = store.Table{Name: "step", Columns: []string{"name"}}
	jigTable      = store.Table{Name: "jig", Columns: []string{"serial", "model", "firmware", "adapter"}}
	stationTable  = store.Table{Name: "station", Columns: []string{"host", "software", "boot_id"}}
)

// JigNumber gives the number of a jig.
func JigNumber(w store.Writer, j sequence.JigName) (int64, error) {
	return w.Intern(jigTable, j.Serial, j.Model, j.Firmware, j.Adapter)
}

// StationNumber gives the number of a station.
func StationNumber(w store.Writer, s store.Station) (int64, error) {
	return w.Intern(stationTable, s.Host, s.Software, s.BootID)
}

// KeyNumber gives the number of a key of a revision.
func KeyNumber(w store.Writer, revision int64, k KeyRow) (int64, error) {
	return w.Intern(keyTable, revision, k.Key, k.Lines[0], k.Lines[1])
}

// writer writes one run inside a transaction.
type writer struct{ store.Writer }

// write writes the record and has it counted. The run row is the last of the record:
// its triggers refuse it unless all parts are there, and refuse any part afterwards.
func (s *Records) write(w writer, seq int64, rev Revision, r *Record) error {
	revision, err := rev.Number(w.Writer)
	if err != nil {
		return err
	}
	if err := w.recorded(seq, revision, r); err != nil {
		return err
	}
	jig, err := JigNumber(w.Writer, r.Jig)
	if err != nil {
		return err
	}
	return s.links.Counter.Count(w.Writer, Counted{seq, revision, jig, r, r.Purpose})
}

func (w writer) recorded(seq, revision int64, r *Record) error {
	parts := []func(seq, revision int64, r *Record) error{w.steps, w.seats, w.keys, w.pairs, w.findings, w.exercised, w.insulation, w.head}
	for _, part := range parts {
		if err := part(seq, revision, r); err != nil {
			return err
		}
	}
	return nil
}

func (w writer) head(seq, revision int64, r *Record) error {
	jig, err := JigNumber(w.Writer, r.Jig)
	if err != nil {
		return err
	}
	station, err := StationNumber(w.Writer, r.Station)
	if err != nil {
		return err
	}
	hash, err := r.sum()
	if err != nil {
		return err
	}
	why, err := saidColumn(r.Why)
	if err != nil {
		return err
	}
	proofs, err := proofsColumn(r.Proofs)
	if err != nil {
		return err
	}
	of, err := w.caseNumber(r.Case)
	if err != nil {
		return err
	}
	_, err = w.Tx.ExecContext(w.Ctx, `
		INSERT INTO run (
			seq, id, serial, revision, jig, station, simulated, actuation, operator, attempt,
			started_us, duration_us, outcome, reason, saved_us, mono_ns, clock_synced,
			steps, seats, keys, pairs, findings, hash, purpose, return_case, exercised, start, ended,
			proofs, insulation
		) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		seq, r.ID, r.Serial, revision, jig, station, r.Simulated, r.Actuation, r.Operator, r.Attempt,
		r.Started, r.Duration, r.Outcome, r.Reason, r.Saved, r.Mono, r.ClockSynced,
		len(r.Steps), len(r.Seats), len(r.Keys), len(r.Pairs), len(r.Findings), hash,
		r.Purpose, of, len(r.Exercised), sql.NullInt64{Int64: r.start, Valid: r.start > 0}, why,
		proofs, len(r.Insulation),
	)
	return err
}

// caseNumber gives the number of a returns case by its id; nil for none.
func (w writer) caseNumber(id string) (*int64, error) {
	if id == "" {
		return nil, nil
	}
	of, err := store.ParseID(id)
	if err != nil {
		return nil, fmt.Errorf("%w: returns case: %w", store.ErrRefused, err)
	}
	var number int64
	err = w.Tx.QueryRowContext(w.Ctx, `SELECT seq FROM return_case WHERE id = ?`, of).Scan(&number)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("%w: there is no returns case %s", store.ErrRefused, id)
	}
	return &number, err
}

func (w writer) steps(seq, _ int64, r *Record) error {
	rows := store.Into("run_step (run, place, step, done, took_us)", len(r.Steps))
	for place, step := range r.Steps {
		name, err := w.Intern(stepTable, step.Name)
		if err != nil {
			return err
		}
		rows.Add(seq, place, name, step.Done, step.Took)
	}
	return rows.Insert(w.Writer)
}

func (w writer) seats(seq, revision int64, r *Record) error {
	rows := store.Into("run_seat (run, place, pin, good, loop_mohm, loop_u_mohm, loop_at_least,"+
		" loop_rest_uohm, loop_u_rest_uohm)", len(r.Seats))
	for place, seat := range r.Seats {
		pin, err := w.Intern(pinTable, revision, seat.Pin, seat.Line)
		if err != nil {
			return err
		}
		rows.Add(seq, place, pin, seat.Good)
		rows.Add(seat.Loop.columns()...)
		rows.Add(seat.Loop.rests()...)
	}
	return rows.Insert(w.Writer)
}

func (w writer) keys(seq, revision int64, r *Record) error {
	rows := store.Into("run_key (run, place, key, passed, closed_mohm, closed_u_mohm, closed_at_least,"+
		" make_us, make_count, break_us, break_count, forward_uv, forward_u_uv,"+
		" reverse_mohm, reverse_u_mohm, reverse_at_least, closed_rest_uohm, closed_u_rest_uohm, two_currents)", len(r.Keys))
	for place, k := range r.Keys {
		key, err := KeyNumber(w.Writer, revision, k)
		if err != nil {
			return err
		}
		rows.Add(seq, place, key, k.Passed)
		rows.Add(k.Closed.columns()...)
		rows.Add(k.Make.columns()...)
		rows.Add(k.Break.columns()...)
		rows.Add(k.Forward.columns()...)
		rows.Add(k.Reverse.columns()...)
		rows.Add(k.Closed.rests()...)
		two, err := k.Two.column()
		if err != nil {
			return err
		}
		rows.Add(two)
	}
	return rows.Insert(w.Writer)
}

// column is the text of the record, or nothing.
func (r *twoRow) column() (any, error) {
	if r == nil {
		return nil, nil
	}
	text, err := json.Marshal(r)
	return string(text), err
}

func (w writer) pairs(seq, _ int64, r *Record) error {
	rows := store.Into("run_pair (run, place, line_a, line_b, held, mohm, u_mohm, at_least,"+
		" forward_mohm, forward_u_mohm, forward_at_least,"+
		" backward_mohm, backward_u_mohm, backward_at_least, trend)", len(r.Pairs))
	for place, p := range r.Pairs {
		rows.Add(seq, place, p.Lines[0], p.Lines[1], p.While, p.Ohms.MilliOhm, p.Ohms.U, p.Ohms.AtLeast)
		rows.Add(p.Forward.columns()...)
		rows.Add(p.Backward.columns()...)
		rows.Add(p.Trend)
	}
	return rows.Insert(w.Writer)
}

func (w writer) findings(seq, _ int64, r *Record) error {
	rows := store.Into("run_finding (run, place, what, location, key, lines, pins,"+
		" value, value_open, u, \"limit\", unit, site, how)", len(r.Findings))
	for place, f := range r.Findings {
		lines, err := json.Marshal(f.Lines)
		if err != nil {
			return err
		}
		pins, err := json.Marshal(f.Pins)
		if err != nil {
			return err
		}
		site, err := saidColumn(f.Site)
		if err != nil {
			return err
		}
		how, err := listColumn(f.How)
		if err != nil {
			return err
		}
		rows.Add(seq, place, f.What, f.Location, f.Key, string(lines), string(pins),
			f.Value, f.ValueOpen, f.U, f.Limit, f.Unit, site, how)
	}
	return rows.Insert(w.Writer)
}

func (w writer) insulation(seq, _ int64, r *Record) error {
	rows := store.Into("run_insulation (run, place, step, line_split, mohm, u_mohm, at_least)", len(r.Insulation))
	for place, one := range r.Insulation {
		step, err := w.Intern(stepTable, one.Step)
		if err != nil {
			return err
		}
		fed, err := json.Marshal(one.Feed)
		if err != nil {
			return err
		}
		grounded, err := json.Marshal(one.Ground)
		if err != nil {
			return err
		}
		split, err := w.Intern(splitTable, string(fed), string(grounded))
		if err != nil {
			return err
		}
		rows.Add(seq, place, step, split, one.Ohms.MilliOhm, one.Ohms.U, one.Ohms.AtLeast)
	}
	return rows.Insert(w.Writer)
}

func (w writer) exercised(seq, revision int64, r *Record) error {
	rows := store.Into("run_exercise (run, place, key, presses, misses, high, sticks, first_bad,"+
		" least_mohm, least_u_mohm, least_rest_uohm, least_u_rest_uohm,"+
		" most_mohm, most_u_mohm, most_rest_uohm, most_u_rest_uohm, make_us, break_us,"+
		" held_us, held_opened, held_longest_us, held_more,"+
		" flexed_us, flexed_opened, flexed_longest_us, flexed_more)", len(r.Exercised))
	lines := map[string][2]string{}
	for _, k := range r.Keys {
		lines[k.Key] = k.Lines
	}
	for place, e := range r.Exercised {
		key, err := w.Intern(keyTable, revision, e.Key, lines[e.Key][0], lines[e.Key][1])
		if err != nil {
			return err
		}
		rows.Add(seq, place, key, e.Presses, e.Misses, e.High, e.Sticks, e.First)
		for _, ohms := range []*Ohms{e.Least, e.Most} {
			rows.Add(ohms.columns()[:2]...)
			rows.Add(ohms.rests()...)
		}
		rows.Add(e.Make, e.Break)
		rows.Add(e.Held.columns()...)
		rows.Add(e.Flexed.columns()...)
	}
	return rows.Insert(w.Writer)
}

func (h hold) columns() []any { return []any{h.Watched, h.Opened, h.Longest, h.More} }

func (o *Ohms) columns() []any {
	if o == nil {
		return []any{nil, nil, nil}
	}
	return []any{o.MilliOhm, o.U, o.AtLeast}
}

func (o *Ohms) rests() []any {
	if o == nil {
		return []any{nil, nil}
	}
	return []any{o.Rest, o.URest}
}

func (b *bounce) columns() []any {
	if b == nil {
		return []any{nil, nil}
	}
	return []any{b.Micro, b.Count}
}

func (v *volts) columns() []any {
	if v == nil {
		return []any{nil, nil}
	}
	return []any{v.MicroVolt, v.U}
}
