package lines

import (
	"context"
	"database/sql"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/results/hourly"
	"padjig/results/store"
)

// sums are what of the aggregates is asked for: columns of cells and spans c, or of a table f beside them, each under a name.
type sums struct{ columns, hours, spans string }

// The sums there are.
var (
	countsOf = sums{columns: `c.first_run, c.last_run, c.runs, c.reseat, c.incomplete, c.aborted, c.units, c.first_passed, c.last_passed,
		c.retests, c.cures, c.relapses`}
	foundIn = sums{"f.fault, f.units AS found_units, f.worst AS found_worst, f.runs AS found_runs",
		" CROSS JOIN cell_finding AS f ON f.cell = c.cell", " CROSS JOIN span_finding AS f ON f.span_cell = c.span_cell"}
	readIn = sums{"f.packed", " CROSS JOIN cell_reading AS f ON f.cell = c.cell", " CROSS JOIN span_reading AS f ON f.span_cell = c.span_cell"}
)

// summed is where sums are read from, with the condition on them: the end of a query that begins with SELECT and its columns.
// Its values come in this order.
type summed struct {
	text string
	args []any
}

// summed chooses where to read sums of a filter that are told apart by some dimensions: from spans as far as they go, from the cells
// of the hours that are left. Rows of "cell" have all columns of a cell that the dimensions and the filter need; hour is one of those summed up.
func (f Filter) summed(ctx context.Context, tx *sql.Tx, of sums, by ...Dimension) (summed, error) {
	whole, left, err := f.spans(ctx, tx, by)
	if err != nil {
		return summed{}, err
	}
	shared := "c.shift, c.revision, c.jig, c.lots, c.operator, c.actuation, c.simulated, c.purpose"
	if len(f.Stations) > 0 || slices.Contains(by, ByStation) {
		shared += ", c.member"
	}
	var parts []string
	var args []any
	if len(whole) > 0 {
		parts = append(parts, "SELECT "+shared+", span.begins AS hour, "+of.columns+" FROM span CROSS JOIN span_cell AS c ON c.span = span.span"+of.spans+
			" WHERE span.span IN ("+store.Placeholders(len(whole))+")")
		args = store.Each(whole, func(s hourly.Span) any { return s.Number })
	}
	if len(left) > 0 {
		condition, values := inHours("c.hour", left)
		parts = append(parts, "SELECT "+shared+", c.hour, "+of.columns+" FROM cell AS c"+of.hours+" WHERE "+condition)
		args = append(args, values...)
	}
	timeless := f
	timeless.From, timeless.To = time.Time{}, time.Time{}
	where, values := timeless.where()
	from := strings.Replace(cellsBy(by...), "FROM cell ", "FROM ("+strings.Join(parts, " UNION ALL ")+") AS cell ", 1)
	return summed{from + "WHERE " + where, append(args, values...)}, nil
}

// inHours is a condition on the hours of cells.
func inHours(column string, hours []hourly.Range) (condition string, args []any) {
	var any []string
	for _, r := range hours {
		switch {
		case r.From == math.MinInt64 && r.To == math.MaxInt64:
			return "1 = 1", nil
		case r.From == math.MinInt64:
			any, args = append(any, column+" <= ?"), append(args, r.To)
		case r.To == math.MaxInt64:
			any, args = append(any, column+" >= ?"), append(args, r.From)
		default:
			any, args = append(any, column+" BETWEEN ? AND ?"), append(args, r.From, r.To)
		}
	}
	return "(" + strings.Join(any, " OR ") + ")", args
}

// hours is the range that a filter takes.
func (f Filter) hours() hourly.Range {
	r := hourly.Range{From: math.MinInt64, To: math.MaxInt64}
	if !f.From.IsZero() {
		r.From = hourly.HourOf(f.From.UnixMicro())
	}
	if !f.To.IsZero() {
		r.To = hourly.HourOf(f.To.UnixMicro() - 1)
	}
	return r
}

// spans are those that answer a question, and the hours that cells answer.
func (f Filter) spans(ctx context.Context, tx *sql.Tx, by []Dimension) ([]hourly.Span, []hourly.Range, error) {
	hours := f.hours()
	if slices.Contains(by, ByHour) {
		return nil, []hourly.Range{hours}, nil
	}
	detail := hourly.Coarse
	if len(f.Shifts)+len(f.Lots)+len(f.Operators) > 0 || slices.ContainsFunc(by, func(b Dimension) bool { return slices.Contains(fine, b) }) {
		detail = hourly.Fine
	}
	there, err := hourly.Spans(ctx, tx, detail, hours.From, hours.To)
	if err == nil && slices.Contains(by, ByDay) {
		there = hourly.OfOneDay(there, f.zone())
	}
	whole, left := hourly.Cover(there, hours)
	return whole, left, err
}

// fine are what coarse spans are not told apart by.
var fine = []Dimension{ByShift, ByOperator, ByLot, ByMembrane, ByDome, ByBoard, ByConsumables}
