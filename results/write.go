package results

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
)

// writer writes one run inside a transaction.
type writer struct {
	ctx   context.Context
	tx    *sql.Tx
	words words
}

// words are the rows of the word tables whose numbers are known already, and
// the shift plans. Such rows never change, so a number holds for as long as its
// transaction did. open holds readings by the number of the jig; those do change,
// see [writer.known].
type words struct {
	numbers map[word]int64
	plans   map[int64]storedShifts
	open    map[int64]openPiles
}

func newWords() words {
	return words{map[word]int64{}, map[int64]storedShifts{}, map[int64]openPiles{}}
}

// word is a row of a word table: the table and what stands in it.
type word struct {
	table string
	is    [5]any
}

// wordColumns are the columns that make a word; its number is in the column
// named like the table.
var wordColumns = map[string][]string{
	"revision": {"hash", "code", "title", "label"},
	"key":      {"revision", "label", "line_a", "line_b"},
	"pin":      {"revision", "number", "line"},
	"step":     {"name"},
	"jig":      {"serial", "model", "firmware", "adapter"},
	"station":  {"host", "software", "boot_id"},
	"fault":    {"what", "location", "key", "lines", "pins"},
}

// run writes the record and counts it. The run row is the last of the record:
// its triggers refuse it unless all parts are there, and refuse any part afterwards.
func (w writer) run(seq int64, definition []byte, r *record) error {
	revision, err := w.revision(definition, r)
	if err != nil {
		return err
	}
	if err := w.recorded(seq, revision, r); err != nil {
		return err
	}
	jig, err := w.number("jig", r.Jig.Serial, r.Jig.Model, r.Jig.Firmware, r.Jig.Adapter)
	if err != nil {
		return err
	}
	return w.count(counted{seq, revision, jig, r, r.Purpose})
}

func (w writer) recorded(seq, revision int64, r *record) error {
	parts := []func(seq, revision int64, r *record) error{w.steps, w.seats, w.keys, w.pairs, w.findings, w.exercised, w.head}
	for _, part := range parts {
		if err := part(seq, revision, r); err != nil {
			return err
		}
	}
	return nil
}

func (w writer) head(seq, revision int64, r *record) error {
	jig, err := w.number("jig", r.Jig.Serial, r.Jig.Model, r.Jig.Firmware, r.Jig.Adapter)
	if err != nil {
		return err
	}
	station, err := w.number("station", r.Station.Host, r.Station.Software, r.Station.BootID)
	if err != nil {
		return err
	}
	hash, err := r.sum()
	if err != nil {
		return err
	}
	why, err := listColumn(r.Why)
	if err != nil {
		return err
	}
	of, err := w.caseNumber(r.Case)
	if err != nil {
		return err
	}
	_, err = w.tx.ExecContext(w.ctx, `
		INSERT INTO run (
			seq, id, serial, revision, jig, station, simulated, actuation, operator, attempt,
			started_us, duration_us, outcome, reason, saved_us, mono_ns, clock_synced,
			steps, seats, keys, pairs, findings, hash, purpose, return_case, exercised, start, ended
		) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		seq, r.ID, r.Serial, revision, jig, station, r.Simulated, r.Actuation, r.Operator, r.Attempt,
		r.Started, r.Duration, r.Outcome, r.Reason, r.Saved, r.Mono, r.ClockSynced,
		len(r.Steps), len(r.Seats), len(r.Keys), len(r.Pairs), len(r.Findings), hash,
		r.Purpose, of, len(r.Exercised), sql.NullInt64{Int64: r.start, Valid: r.start > 0}, why,
	)
	return err
}

// caseNumber gives the number of a returns case by its id; nil for none.
func (w writer) caseNumber(id string) (*int64, error) {
	if id == "" {
		return nil, nil
	}
	of, err := ParseID(id)
	if err != nil {
		return nil, fmt.Errorf("%w: returns case: %w", ErrRefused, err)
	}
	var number int64
	err = w.tx.QueryRowContext(w.ctx, `SELECT seq FROM return_case WHERE id = ?`, of).Scan(&number)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("%w: there is no returns case %s", ErrRefused, id)
	}
	return &number, err
}

func (w writer) steps(seq, _ int64, r *record) error {
	rows := w.table("run_step (run, place, step, done, took_us)", len(r.Steps))
	for place, step := range r.Steps {
		name, err := w.number("step", step.Name)
		if err != nil {
			return err
		}
		rows.add(seq, place, name, step.Done, step.Took)
	}
	return rows.insert(w)
}

func (w writer) seats(seq, revision int64, r *record) error {
	rows := w.table("run_seat (run, place, pin, good, loop_mohm, loop_u_mohm, loop_at_least)", len(r.Seats))
	for place, seat := range r.Seats {
		pin, err := w.number("pin", revision, seat.Pin, seat.Line)
		if err != nil {
			return err
		}
		rows.add(seq, place, pin, seat.Good, seat.Loop.MilliOhm, seat.Loop.U, seat.Loop.AtLeast)
	}
	return rows.insert(w)
}

func (w writer) keys(seq, revision int64, r *record) error {
	rows := w.table("run_key (run, place, key, passed, closed_mohm, closed_u_mohm, closed_at_least,"+
		" make_us, make_count, break_us, break_count, forward_uv, forward_u_uv,"+
		" reverse_mohm, reverse_u_mohm, reverse_at_least)", len(r.Keys))
	for place, k := range r.Keys {
		key, err := w.number("key", revision, k.Key, k.Lines[0], k.Lines[1])
		if err != nil {
			return err
		}
		rows.add(seq, place, key, k.Passed)
		rows.add(k.Closed.columns()...)
		rows.add(k.Make.columns()...)
		rows.add(k.Break.columns()...)
		rows.add(k.Forward.columns()...)
		rows.add(k.Reverse.columns()...)
	}
	return rows.insert(w)
}

func (w writer) pairs(seq, _ int64, r *record) error {
	rows := w.table("run_pair (run, place, line_a, line_b, held, mohm, u_mohm, at_least,"+
		" forward_mohm, forward_u_mohm, forward_at_least,"+
		" backward_mohm, backward_u_mohm, backward_at_least, trend)", len(r.Pairs))
	for place, p := range r.Pairs {
		rows.add(seq, place, p.Lines[0], p.Lines[1], p.While, p.Ohms.MilliOhm, p.Ohms.U, p.Ohms.AtLeast)
		rows.add(p.Forward.columns()...)
		rows.add(p.Backward.columns()...)
		rows.add(p.Trend)
	}
	return rows.insert(w)
}

func (w writer) findings(seq, _ int64, r *record) error {
	rows := w.table("run_finding (run, place, what, location, key, lines, pins,"+
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
		site, err := listColumn(f.Site)
		if err != nil {
			return err
		}
		how, err := listColumn(f.How)
		if err != nil {
			return err
		}
		rows.add(seq, place, f.What, f.Location, f.Key, string(lines), string(pins),
			f.Value, f.ValueOpen, f.U, f.Limit, f.Unit, site, how)
	}
	return rows.insert(w)
}

func (w writer) exercised(seq, revision int64, r *record) error {
	rows := w.table("run_exercise (run, place, key, presses, misses, high, sticks, first_bad,"+
		" least_mohm, least_u_mohm, most_mohm, most_u_mohm, make_us, break_us,"+
		" held_us, held_opened, held_longest_us, held_more,"+
		" flexed_us, flexed_opened, flexed_longest_us, flexed_more)", len(r.Exercised))
	lines := map[string][2]string{}
	for _, k := range r.Keys {
		lines[k.Key] = k.Lines
	}
	for place, e := range r.Exercised {
		key, err := w.number("key", revision, e.Key, lines[e.Key][0], lines[e.Key][1])
		if err != nil {
			return err
		}
		rows.add(seq, place, key, e.Presses, e.Misses, e.High, e.Sticks, e.First)
		rows.add(e.Least.columns()[:2]...)
		rows.add(e.Most.columns()[:2]...)
		rows.add(e.Make, e.Break)
		rows.add(e.Held.columns()...)
		rows.add(e.Flexed.columns()...)
	}
	return rows.insert(w)
}

func (h hold) columns() []any { return []any{h.Watched, h.Opened, h.Longest, h.More} }

func (o *ohms) columns() []any {
	if o == nil {
		return []any{nil, nil, nil}
	}
	return []any{o.MilliOhm, o.U, o.AtLeast}
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

// revision gives the number of the record's product revision. One hash has one
// definition: another one under it means that somebody's hash is wrong.
func (w writer) revision(definition []byte, r *record) (int64, error) {
	is := word{"revision", [5]any{r.Hash, r.Product, r.Title, r.Revision}}
	if number, ok := w.words.numbers[is]; ok {
		return number, nil
	}
	var stored []byte
	err := w.tx.QueryRowContext(w.ctx, `
		SELECT definition FROM revision WHERE hash = ? LIMIT 1`, r.Hash,
	).Scan(&stored)
	switch {
	case err != nil && !errors.Is(err, sql.ErrNoRows):
		return 0, err
	case err == nil && !bytes.Equal(stored, definition):
		return 0, fmt.Errorf("%w: product revision %s is stored with another definition", ErrRefused, r.Hash)
	}
	return w.numberOr(is, func() (sql.Result, error) {
		return w.tx.ExecContext(w.ctx, `
			INSERT INTO revision (hash, code, title, label, definition)
			VALUES (?, ?, ?, ?, ?)`,
			r.Hash, r.Product, r.Title, r.Revision, string(definition))
	})
}

// number gives the number of a word, writing it down when it is new.
func (w writer) number(table string, values ...any) (int64, error) {
	is := word{table: table}
	copy(is.is[:], values)
	if number, ok := w.words.numbers[is]; ok {
		return number, nil
	}
	return w.numberOr(is, func() (sql.Result, error) {
		columns := wordColumns[table]
		insert := fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s)", table,
			strings.Join(columns, ", "), placeholders(len(columns)))
		return w.tx.ExecContext(w.ctx, insert, values...)
	})
}

func (w writer) numberOr(is word, add func() (sql.Result, error)) (int64, error) {
	columns := wordColumns[is.table]
	find := fmt.Sprintf("SELECT %s FROM %s WHERE %s = ?", is.table, is.table, strings.Join(columns, " = ? AND "))
	var number int64
	err := w.tx.QueryRowContext(w.ctx, find, is.is[:len(columns)]...).Scan(&number)
	if errors.Is(err, sql.ErrNoRows) {
		var added sql.Result
		if added, err = add(); err == nil {
			number, err = added.LastInsertId()
		}
	}
	if err != nil {
		return 0, fmt.Errorf("%s %v: %w", is.table, is.is[:len(columns)], err)
	}
	w.words.numbers[is] = number
	return number, nil
}

// rows are to be inserted together: one statement for many rows costs a tenth
// of one for each.
type rows struct {
	into   string // table (columns)
	width  int
	values []any
}

// maxRows keeps a statement far below SQLite's 32,766 parameters.
const maxRows = 512

func (w writer) table(into string, expect int) *rows {
	width := strings.Count(into, ",") + 1
	return &rows{into: into, width: width, values: make([]any, 0, expect*width)}
}

func (r *rows) add(values ...any) { r.values = append(r.values, values...) }

func (r *rows) insert(w writer) error {
	for len(r.values) > 0 {
		n := min(len(r.values), maxRows*r.width)
		if _, err := w.tx.ExecContext(w.ctx, r.statement(n/r.width), r.values[:n]...); err != nil {
			return fmt.Errorf("insert into %s: %w", r.into, err)
		}
		r.values = r.values[n:]
	}
	return nil
}

func (r *rows) statement(count int) string {
	row := "(" + placeholders(r.width) + "), "
	return "INSERT INTO " + r.into + " VALUES " + strings.TrimSuffix(strings.Repeat(row, count), ", ")
}

func placeholders(n int) string { return strings.TrimSuffix(strings.Repeat("?, ", n), ", ") }
