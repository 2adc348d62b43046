package hourly

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"padjig/results/store"
)

// Maker makes spans in the records of a station or of a plant. What it is called in must be the only
// transaction that changes cells: at a station there is one writer at all, at a plant see results/plant/count.
type Maker struct {
	Zone *time.Location // of the plant
	Many bool           // cells are those of many stations, and of one each
}

// nearby is how many hours without a cell are summed up with those around them, so that a week in which the line stands still
// leaves no hole: what is left between spans is looked for in cells.
const nearby = 40 * 24

// Next makes the newest span that is missing, of those that ended before an hour: days first, then months, which are
// put together from them. It reports whether it made one. Spans of another zone, and rows of spans that are
// gone, it takes out before.
func (m Maker) Next(ctx context.Context, tx *sql.Tx, before int64) (made bool, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("sum up a day or month: %w", err)
		}
	}()
	spans, err := store.Collect(ctx, tx, scanSpan, `SELECT span, level, detail, begins, ends FROM span`)
	if err != nil {
		return false, err
	}
	there, stray := m.sort(spans)
	for _, s := range stray {
		if _, err := tx.ExecContext(ctx, `DELETE FROM span WHERE span = ?`, s.Number); err != nil {
			return false, err
		}
	}
	today, _ := Day.around(before, m.Zone)
	day, err := m.missingDay(ctx, tx, there, today)
	if err != nil {
		return false, err
	}
	if day != nil {
		return true, m.make(ctx, tx, *day, nil)
	}
	if month := m.missingMonth(there, today); month != nil {
		return true, m.make(ctx, tx, *month, there)
	}
	return false, nil
}

// piece is a span in both details.
type piece struct {
	Level
	begins, ends int64
}

// sort gives the spans of the zone that are there in both details, with their numbers, and all others.
func (m Maker) sort(spans []Span) (there map[piece][2]int64, stray []Span) {
	there = map[piece][2]int64{}
	for _, s := range spans {
		p := piece{s.Level, s.Begins, s.Ends}
		begins, ends := s.Level.around(s.Begins, m.Zone)
		if begins != s.Begins || ends != s.Ends {
			stray = append(stray, s)
			continue
		}
		numbers := there[p]
		numbers[s.Detail] = s.Number
		there[p] = numbers
	}
	for _, s := range spans {
		p := piece{s.Level, s.Begins, s.Ends}
		if numbers, known := there[p]; known && (numbers[Coarse] == 0 || numbers[Fine] == 0) {
			stray = append(stray, s)
			delete(there, p)
		}
	}
	return there, stray
}

// missingDay is the newest day before an hour that has cells, or is near some that do, and is not there.
func (m Maker) missingDay(ctx context.Context, tx *sql.Tx, there map[piece][2]int64, at int64) (*piece, error) {
	earlier := map[int64]int64{} // where a day that is there begins, by where it ends
	for p := range there {
		if p.Level == Day {
			earlier[p.ends] = p.begins
		}
	}
	for {
		for begins, known := earlier[at]; known; begins, known = earlier[at] {
			at = begins
		}
		var hour sql.NullInt64
		if err := tx.QueryRowContext(ctx, `SELECT max(hour) FROM cell WHERE hour < ?`, at).Scan(&hour); err != nil || !hour.Valid {
			return nil, err
		}
		if hour.Int64 >= at-nearby {
			hour.Int64 = at - 1
		}
		begins, ends := Day.around(hour.Int64, m.Zone)
		day := piece{Day, begins, ends}
		if _, known := there[day]; !known {
			return &day, nil
		}
		at = ends
	}
}

// missingMonth is the newest month before an hour of which there are days, and that is not there.
func (m Maker) missingMonth(there map[piece][2]int64, before int64) (newest *piece) {
	for p := range there {
		begins, ends := Month.around(p.begins, m.Zone)
		month := piece{Month, begins, ends}
		if _, known := there[month]; !known && ends <= before && (newest == nil || begins > newest.begins) {
			newest = &month
		}
	}
	return newest
}

// The columns of cells and spans. Of the sums the first is the smallest and the second the largest.
const (
	spanKeys = "revision, jig, actuation, simulated, purpose"
	fineKeys = "shift, lots, operator"
	spanSums = "first_run, last_run, runs, reseat, incomplete, aborted, units, first_passed, last_passed, retests, cures, relapses"
	summedUp = `min(first_run), max(last_run), sum(runs), sum(reseat), sum(incomplete), sum(aborted), sum(units), sum(first_passed),
		sum(last_passed), sum(retests), sum(cures), sum(relapses)`
)

// make sums up a span, in both details: a day from cells, a month from its days, and what is coarse from what is fine.
func (m Maker) make(ctx context.Context, tx *sql.Tx, p piece, days map[piece][2]int64) error {
	if err := sweep(ctx, tx); err != nil {
		return err
	}
	from := source{"cell", "cell_reading", "cell_finding", "hour >= ? AND hour < ? AND runs <> 0", []any{p.begins, p.ends}}
	for _, detail := range []Detail{Fine, Coarse} {
		if p.Level == Month {
			from = sourceOf(daysIn(p, days, detail))
		}
		number, err := m.fill(ctx, tx, p, detail, from)
		if err != nil {
			return err
		}
		from = sourceOf([]any{number})
	}
	return nil
}

func daysIn(month piece, days map[piece][2]int64, detail Detail) (numbers []any) {
	for p, of := range days {
		if p.Level == Day && p.begins >= month.begins && p.ends <= month.ends {
			numbers = append(numbers, of[detail])
		}
	}
	return numbers
}

// source is where a span is summed up from: cells or rows of spans, their readings and findings, and which of them.
type source struct {
	rows, readings, findings string
	which                    string
	args                     []any
}

func sourceOf(spans []any) source {
	return source{"span_cell", "span_reading", "span_finding", "span IN (" + store.Placeholders(len(spans)) + ")", spans}
}

// sweep takes out the rows of spans that are gone, a span at a time.
func sweep(ctx context.Context, tx *sql.Tx) error {
	gone, err := store.Collect(ctx, tx, store.ScanInt, `SELECT DISTINCT span FROM span_cell WHERE span NOT IN (SELECT span FROM span)`)
	for _, span := range gone {
		for _, table := range []string{"span_reading", "span_finding"} {
			_, wrong := tx.ExecContext(ctx, `DELETE FROM `+table+` WHERE span_cell IN (SELECT span_cell FROM span_cell WHERE span = ?)`, span)
			err = errors.Join(err, wrong)
		}
		_, wrong := tx.ExecContext(ctx, `DELETE FROM span_cell WHERE span = ?`, span)
		err = errors.Join(err, wrong)
	}
	return err
}

// fill makes one span.
func (m Maker) fill(ctx context.Context, tx *sql.Tx, p piece, detail Detail, from source) (number int64, err error) {
	err = tx.QueryRowContext(ctx, `SELECT 1 + coalesce(max(span), 0) FROM (SELECT max(span) AS span FROM span UNION ALL SELECT max(span) FROM span_cell) AS used`).Scan(&number)
	if err == nil {
		_, err = tx.ExecContext(ctx, `INSERT INTO span (span, level, detail, begins, ends) VALUES (?, ?, ?, ?, ?)`,
			number, int64(p.Level), int64(detail), p.begins, p.ends)
	}
	if err != nil {
		return 0, err
	}
	keys, fine, grouped := spanKeys, "0, 0, ''", spanKeys
	if m.Many {
		keys, grouped = keys+", member", grouped+", member"
	}
	if detail == Fine {
		fine, grouped = fineKeys, grouped+", "+fineKeys
	}
	if _, err := tx.ExecContext(ctx, `
		INSERT INTO span_cell (span, `+keys+`, `+fineKeys+`, `+spanSums+`)
		SELECT CAST(? AS bigint), `+keys+`, `+fine+`, `+summedUp+` FROM `+from.rows+` WHERE `+from.which+` GROUP BY `+grouped+` ORDER BY `+grouped,
		append([]any{number}, from.args...)...); err != nil {
		return 0, err
	}
	of := m.belongs(detail)
	if _, err := tx.ExecContext(ctx, `
		INSERT INTO span_finding (span_cell, fault, units, worst, runs)
		SELECT s.span_cell, found.fault, sum(found.units), sum(found.worst), sum(found.runs)
		FROM `+from.rows+` AS c JOIN `+from.findings+` AS found ON found.`+from.rows+` = c.`+from.rows+` JOIN span_cell AS s ON `+of+`
		WHERE `+from.of("c")+` AND s.span = ? GROUP BY s.span_cell, found.fault`, append(slices.Clone(from.args), number)...); err != nil {
		return 0, err
	}
	return number, m.readings(ctx, tx, number, of, from)
}

// of is which, of rows under another name.
func (s source) of(name string) string {
	if s.rows == "cell" {
		return name + ".hour >= ? AND " + name + ".hour < ? AND " + name + ".runs <> 0"
	}
	return name + "." + s.which
}

// belongs says which row s of a span sums up a row c.
func (m Maker) belongs(detail Detail) string {
	of := "s.revision = c.revision AND s.jig = c.jig AND s.actuation = c.actuation AND s.simulated = c.simulated AND s.purpose = c.purpose"
	if m.Many {
		of += " AND s.member = c.member"
	}
	if detail == Fine {
		of += " AND s.shift = c.shift AND s.lots = c.lots AND s.operator = c.operator"
	}
	return of
}

// readings puts the histograms of a span together, a row after the other.
func (m Maker) readings(ctx context.Context, tx *sql.Tx, number int64, of string, from source) error {
	into := store.Into("span_reading (span_cell, packed)", 0)
	var open int64
	sums := new(Histograms)
	flush := func() {
		if open != 0 {
			into.Add(open, sums.Pack())
		}
	}
	err := m.eachReading(ctx, tx, number, of, from, func(of int64, packed []byte) error {
		if of != open {
			flush()
			open, sums = of, new(Histograms)
		}
		return sums.Merge(packed)
	})
	if err != nil {
		return err
	}
	flush()
	return into.Insert(store.Writer{Ctx: ctx, Tx: tx})
}

// eachReading gives what is summed up in a row of a span, the rows one after the other.
func (m Maker) eachReading(ctx context.Context, tx *sql.Tx, number int64, of string, from source, take func(of int64, packed []byte) error) error {
	return store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var of int64
		var packed sql.RawBytes
		if err := rows.Scan(&of, &packed); err != nil {
			return err
		}
		return take(of, packed)
	}, `SELECT s.span_cell, packed FROM `+from.rows+` AS c JOIN `+from.readings+` AS r ON r.`+from.rows+` = c.`+from.rows+` JOIN span_cell AS s ON `+of+`
	    WHERE `+from.of("c")+` AND s.span = ? ORDER BY s.span_cell`, append(slices.Clone(from.args), number)...)
}
