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
type sums struct {
	columns, hours, spans string
	together              string // the columns of several put together; "" for each by itself
}

// The sums there are.
var (
	countsOf = sums{
		columns: `c.first_run, c.last_run, c.runs, c.reseat, c.incomplete, c.aborted, c.units, c.first_passed, c.last_passed, c.retests, c.cures, c.relapses`,
		together: `min(first_run) AS first_run, max(last_run) AS last_run, sum(runs) AS runs, sum(reseat) AS reseat, sum(incomplete) AS incomplete,
		sum(aborted) AS aborted, sum(units) AS units, sum(first_passed) AS first_passed, sum(last_passed) AS last_passed, sum(retests) AS retests,
		sum(cures) AS cures, sum(relapses) AS relapses`,
	}
	foundIn = sums{
		"f.fault, f.units AS found_units, f.worst AS found_worst, f.runs AS found_runs",
		" CROSS JOIN cell_finding AS f ON f.cell = c.cell", " CROSS JOIN span_finding AS f ON f.span_cell = c.span_cell",
		"fault, sum(found_units) AS found_units, sum(found_worst) AS found_worst, sum(found_runs) AS found_runs",
	}
	readIn  = sums{"f.packed", " CROSS JOIN cell_reading AS f ON f.cell = c.cell", " CROSS JOIN span_reading AS f ON f.span_cell = c.span_cell", ""}
	thatAre = sums{columns: "c.runs", together: "sum(runs) AS runs"}
)

// apart is what a dimension is told apart by in sums, and what gives that its name.
var apart = map[Dimension][2]string{
	ByProduct: {"revision", "JOIN revision ON revision.revision = cell.revision "}, ByRevision: {"revision", "JOIN revision ON revision.revision = cell.revision "},
	ByJig: {"jig", "JOIN jig ON jig.jig = cell.jig "}, ByOperator: {"operator", ""}, ByHour: {"hour", ""}, ByDay: {"hour", ""},
	ByShift: {"shift", "LEFT JOIN shift ON shift.shift = cell.shift "}, ByStation: {"member", "JOIN member ON member.member = cell.member "},
	ByLot: {"lots", ofLots}, ByMembrane: {"lots", ofLots}, ByDome: {"lots", ofLots}, ByBoard: {"lots", ofLots}, ByConsumables: {"lots", ofLots},
}

const ofLots = "LEFT JOIN lot_change ON lot_change.seq = cell.lots "

// summed is where sums are read from: the end of a query that begins with SELECT and its columns, and its values.
type summed struct {
	text    string
	numbers string // the same without names
	args    []any
}

// summed chooses where to read sums of a filter that are told apart by some dimensions: from spans as far as they go, from the cells
// of the hours that are left. They are put together by numbers before these get their names, as there are many more sums than names: rows
// of "cell" are told apart by revision and the dimensions, and have columns for no others.
func (f Filter) summed(ctx context.Context, tx *sql.Tx, of sums, by ...Dimension) (summed, error) {
	whole, left, err := f.spans(ctx, tx, by)
	if err != nil {
		return summed{}, err
	}
	told, names := []string{"revision"}, ""
	for _, b := range by {
		if !slices.Contains(told, apart[b][0]) {
			told = append(told, apart[b][0])
		}
		if !strings.Contains(names, apart[b][1]) {
			names += apart[b][1]
		}
	}
	condition, chosen := f.byNumbers()
	var parts []string
	var args []any
	part := func(hour, from, where string, values []any) {
		columns := store.Each(told, func(name string) string {
			if name == "hour" {
				return hour + " AS hour"
			}
			return "c." + name
		})
		parts = append(parts, "SELECT "+strings.Join(columns, ", ")+", "+of.columns+" FROM "+from+" WHERE "+where+" AND "+condition)
		args = append(append(args, values...), chosen...)
	}
	if len(whole) > 0 {
		part("span.begins", "span CROSS JOIN span_cell AS c ON c.span = span.span"+of.spans, "span.span IN ("+store.Placeholders(len(whole))+")",
			store.Each(whole, func(s hourly.Span) any { return s.Number }))
	}
	if len(left) > 0 {
		hours, values := hourly.InHours("c.hour", left)
		part("c.hour", "cell AS c"+of.hours, hours, values)
	}
	from := strings.Join(parts, " UNION ALL ")
	if of.together != "" {
		grouped := strings.Join(told, ", ")
		if strings.HasPrefix(of.together, "fault, ") {
			grouped += ", fault"
		}
		from = "SELECT " + strings.Join(told, ", ") + ", " + of.together + " FROM (" + from + ") AS part GROUP BY " + grouped
	}
	from = " FROM (" + from + ") AS cell "
	return summed{from + names, from, args}, nil
}

// byNumbers is the condition on cells c, or rows of spans, without times: what is chosen by name is looked up first.
func (f Filter) byNumbers() (condition string, args []any) {
	conditions, args := []string{"c.purpose = ''", "c.simulated = ?", "c.runs > 0"}, []any{f.Simulated}
	also := func(condition string, values ...any) {
		conditions, args = append(conditions, condition), append(args, values...)
	}
	in := func(column string, list []string) (condition string, values []any) {
		return column + " IN (" + store.Placeholders(len(list)) + ")", store.Each(list, func(v string) any { return v })
	}
	if f.Product != "" {
		also("c.revision IN (SELECT revision FROM revision WHERE code = ?)", f.Product)
	}
	if f.Actuation != "" {
		also("c.actuation = ?", string(f.Actuation))
	}
	for _, of := range []struct {
		number, from string
		columns      []string
		list         []string
	}{
		{"c.lots", "SELECT seq FROM lot_change", []string{"membrane", "dome", "board", "consumables"}, f.Lots},
		{"c.revision", "SELECT revision FROM revision", []string{"label"}, f.Revisions},
		{"c.jig", "SELECT jig FROM jig", []string{"serial"}, f.Jigs}, {"c.shift", "SELECT shift FROM shift", []string{"name"}, f.Shifts},
	} {
		if len(of.list) == 0 {
			continue
		}
		var either []string
		var all []any
		for _, column := range of.columns {
			one, values := in(column, of.list)
			either, all = append(either, one), append(all, values...)
		}
		also(of.number+" IN ("+of.from+" WHERE "+strings.Join(either, " OR ")+")", all...)
	}
	if len(f.Operators) > 0 {
		one, values := in("c.operator", f.Operators)
		also(one, values...)
	}
	of, names := f.ofStations("c")
	return strings.Join(conditions, " AND ") + of, append(args, names...)
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
	var days *time.Location
	if slices.Contains(by, ByDay) {
		days = f.zone()
	}
	return hourly.Covering(ctx, tx, detail, hours, days)
}

// fine are what coarse spans are not told apart by.
var fine = []Dimension{ByShift, ByOperator, ByLot, ByMembrane, ByDome, ByBoard, ByConsumables}
