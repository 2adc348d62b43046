package forward

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strings"

	"padjig/results/plant/tables"
	"padjig/results/store"
)

// Records are those of a station, read at one unchanging state.
type Records interface {
	View(ctx context.Context, do func(*sql.Tx) error) error
}

// cursors say up to which row of each table, by the station's numbers.
type cursors map[string]int64

// batch is a stretch of the records of a station: of each table the rows after one number up to another,
// such that whatever they name is among them or came before.
type batch struct {
	from, to cursors
	newest   cursors // of the station
	rows     map[string][][]any
	words    map[string][][]any // that are named and not known yet
	cells    []cell             // of the runs
	earlier  map[int64]int64    // runs of before that are named, and when they were saved
}

// cell is what the station decided of a run.
type cell struct{ run, shift, lots int64 }

func (b *batch) empty() bool {
	return !slices.ContainsFunc(tables.All(), func(t tables.Table) bool { return b.to[t.Name] > b.from[t.Name] })
}

// known says whether the number of a word is known at the plant.
type known func(table string, local int64) bool

// read takes the next batch after some rows, none beyond others where there is a limit, and about
// so many rows at most.
func read(ctx context.Context, tx *sql.Tx, from, upTo cursors, size int, known known) (*batch, error) {
	b := newBatch(from)
	if err := b.look(ctx, tx); err != nil {
		return nil, err
	}
	if err := b.choose(ctx, tx, upTo, size); err != nil || b.empty() {
		return b, err
	}
	return b, b.takeAll(ctx, tx, known)
}

// readExactly reads some rows, whether or not what they name is among them.
func readExactly(ctx context.Context, tx *sql.Tx, from, to cursors, known known) (*batch, error) {
	b := newBatch(from)
	if err := b.look(ctx, tx); err != nil {
		return nil, err
	}
	b.to = to
	return b, b.takeAll(ctx, tx, known)
}

func newBatch(from cursors) *batch {
	return &batch{from: from, to: cursors{}, newest: cursors{}, rows: map[string][][]any{}, words: map[string][][]any{}, earlier: map[int64]int64{}}
}

func (b *batch) takeAll(ctx context.Context, tx *sql.Tx, known known) error {
	for _, t := range tables.All() {
		if err := b.take(ctx, tx, t); err != nil {
			return fmt.Errorf("read %s: %w", t.Name, err)
		}
	}
	if err := b.takeWords(ctx, tx, known); err != nil {
		return err
	}
	return b.takeOfRuns(ctx, tx)
}

// look finds the newest row of each table.
func (b *batch) look(ctx context.Context, tx *sql.Tx) error {
	var all []string
	for _, t := range tables.All() {
		if t.Kind == tables.Row {
			all = append(all, fmt.Sprintf(`SELECT '%s', coalesce(max(%s), 0) FROM %s`, t.Name, quoted(t.Key()), quoted(t.Name)))
		}
	}
	return store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var name string
		var newest int64
		err := rows.Scan(&name, &newest)
		b.newest[name] = newest
		return err
	}, strings.Join(all, " UNION ALL "))
}

// choose finds up to where to read. A row goes along when all that it names does, or went before; the
// largest stretch for which that holds is found by beginning with too much and taking away.
func (b *batch) choose(ctx context.Context, tx *sql.Tx, upTo cursors, size int) error {
	for name, newest := range b.newest {
		b.to[name] = max(b.from[name], min(newest, b.from[name]+int64(max(size/8, 1))))
		if upTo != nil {
			b.to[name] = min(b.to[name], upTo[name])
		}
	}
	runs, err := runsOf(ctx, tx, b.from["run"], b.to["run"], size)
	if err != nil {
		return err
	}
	b.to["run"] = runs
	for changed := true; changed; {
		changed = false
		for _, t := range tables.All() {
			if t.Kind != tables.Row || b.to[t.Name] <= b.from[t.Name] {
				continue
			}
			last, err := b.whole(ctx, tx, t)
			if err != nil {
				return err
			}
			changed = changed || last != b.to[t.Name]
			b.to[t.Name] = last
		}
	}
	return nil
}

// runsOf gives the last run such that there are not many more rows of runs than size, and one run at least.
func runsOf(ctx context.Context, tx *sql.Tx, from, to int64, size int) (last int64, err error) {
	last = from
	rows := 0
	err = store.Visit(ctx, tx, func(r *sql.Rows) error {
		var run int64
		var n int
		err := r.Scan(&run, &n)
		if rows == 0 || rows+n <= size {
			last = run
			rows += n
		} else {
			rows = math.MaxInt32
		}
		return err
	}, `SELECT seq, 2 + steps + seats + keys + pairs + findings + exercised + insulation FROM run WHERE seq > ? AND seq <= ? ORDER BY seq`, from, to)
	return last, err
}

// whole gives the last row of a table before the first one that names what is not along.
func (b *batch) whole(ctx context.Context, tx *sql.Tx, t tables.Table) (int64, error) {
	var beyond []string
	args := []any{b.from[t.Name], b.to[t.Name]}
	for _, c := range t.Columns {
		if to, counted := b.to[c.To]; c.Use == tables.Ref && counted {
			beyond = append(beyond, quoted(c.Name)+" > ?")
			args = append(args, to)
		}
	}
	if len(beyond) == 0 {
		return b.to[t.Name], nil
	}
	var first *int64
	key := quoted(t.Key())
	err := tx.QueryRowContext(ctx, fmt.Sprintf(`SELECT min(%s) FROM %s WHERE %[1]s > ? AND %[1]s <= ? AND (%[3]s)`,
		key, quoted(t.Name), strings.Join(beyond, " OR ")), args...).Scan(&first)
	if err != nil || first == nil {
		return b.to[t.Name], err
	}
	return *first - 1, nil
}

// take reads the rows of a table.
func (b *batch) take(ctx context.Context, tx *sql.Tx, t tables.Table) error {
	of := t.Name
	switch t.Kind {
	case tables.Word:
		return nil
	case tables.Of:
		of = t.Parent()
	}
	if b.to[of] <= b.from[of] {
		return nil
	}
	order := quoted(t.Key())
	if t.Kind == tables.Of {
		order += ", place"
	}
	all, err := rowsOf(ctx, tx, len(t.Columns), fmt.Sprintf(`SELECT %s FROM %s WHERE %s > ? AND %[3]s <= ? ORDER BY %s`,
		list(t.Names()), quoted(t.Name), quoted(t.Key()), order), b.from[of], b.to[of])
	if len(all) > 0 {
		b.rows[t.Name] = all
	}
	return err
}

// takeWords reads the words that rows name, and those that these name.
func (b *batch) takeWords(ctx context.Context, tx *sql.Tx, known known) error {
	wanted := map[string]map[int64]bool{}
	want := func(t tables.Table, rows [][]any) {
		for i, c := range t.Columns {
			if c.Use != tables.Ref {
				continue
			}
			for _, row := range rows {
				n, is := row[i].(int64)
				if !is || n == 0 || known(c.To, n) {
					continue
				}
				if wanted[c.To] == nil {
					wanted[c.To] = map[int64]bool{}
				}
				wanted[c.To][n] = true
			}
		}
	}
	all := tables.All()
	for _, t := range all {
		want(wordsOnly(t), b.rows[t.Name])
	}
	for _, t := range slices.Backward(all) { // what a word names stands before it
		if t.Kind != tables.Word || len(wanted[t.Name]) == 0 {
			continue
		}
		for local := range wanted[t.Name] {
			rows, err := rowsOf(ctx, tx, len(t.Columns), fmt.Sprintf(`SELECT %s FROM %s WHERE %s = ?`, list(t.Names()), quoted(t.Name), quoted(t.Key())), local)
			if err != nil || len(rows) == 0 {
				return fmt.Errorf("read %s %d: %w", t.Name, local, orMissing(err))
			}
			b.words[t.Name] = append(b.words[t.Name], rows...)
		}
		want(t, b.words[t.Name])
	}
	return nil
}

func orMissing(err error) error {
	if err == nil {
		return sql.ErrNoRows
	}
	return err
}

// wordsOnly is a table by those of its columns that name words.
func wordsOnly(t tables.Table) tables.Table {
	t.Columns = slices.Clone(t.Columns)
	for i, c := range t.Columns {
		if c.Use == tables.Ref && !slices.ContainsFunc(tables.All(), func(o tables.Table) bool { return o.Name == c.To && o.Kind == tables.Word }) {
			t.Columns[i].Use = tables.Value
		}
	}
	return t
}

// takeOfRuns reads what the station decided of the runs, and when runs of before were saved that rows name.
func (b *batch) takeOfRuns(ctx context.Context, tx *sql.Tx) error {
	for _, t := range tables.All() {
		for i, c := range t.Columns {
			if c.Use != tables.Ref || c.To != "run" {
				continue
			}
			for _, row := range b.rows[t.Name] {
				if n, is := row[i].(int64); is && n > 0 && n <= b.from["run"] {
					b.earlier[n] = 0
				}
			}
		}
	}
	for run := range b.earlier {
		var saved int64
		if _, err := store.RowOf(ctx, tx, `SELECT saved_us FROM run WHERE seq = ?`, []any{run}, &saved); err != nil {
			return fmt.Errorf("read run %d: %w", run, err)
		}
		b.earlier[run] = saved
	}
	return store.Visit(ctx, tx, func(r *sql.Rows) error {
		var c cell
		err := r.Scan(&c.run, &c.shift, &c.lots)
		b.cells = append(b.cells, c)
		return err
	}, `SELECT run, shift, lots FROM run_cell JOIN cell USING (cell) WHERE run > ? AND run <= ? ORDER BY run`, b.from["run"], b.to["run"])
}

// rowsOf reads rows of so many columns. A text is one that PostgreSQL takes.
func rowsOf(ctx context.Context, q querier, width int, query string, args ...any) ([][]any, error) {
	var all [][]any
	into := make([]any, width)
	err := store.Visit(ctx, q, func(r *sql.Rows) error {
		row := make([]any, width)
		for i := range row {
			into[i] = &row[i]
		}
		if err := r.Scan(into...); err != nil {
			return err
		}
		for i, v := range row {
			if text, is := v.(string); is {
				row[i] = store.Text(text)
			}
		}
		all = append(all, row)
		return nil
	}, query, args...)
	return all, err
}

// querier is a transaction or a connection.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// quoted is a name as both databases take it.
func quoted(name string) string { return `"` + name + `"` }

func list(names []string) string { return `"` + strings.Join(names, `", "`) + `"` }
