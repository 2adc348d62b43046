package lines

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results/store"
)

// Dimension is what yields are told apart by.
type Dimension string

// The ways to tell yields apart.
const (
	ByProduct     Dimension = "product"
	ByRevision    Dimension = "revision"
	ByLot         Dimension = "lot" // all lots in use together
	ByMembrane    Dimension = "membrane"
	ByDome        Dimension = "dome"
	ByBoard       Dimension = "board"
	ByConsumables Dimension = "consumables"
	ByJig         Dimension = "jig"
	ByShift       Dimension = "shift"
	ByOperator    Dimension = "operator"
	ByHour        Dimension = "hour"    // of the filter's zone
	ByDay         Dimension = "day"     // of the filter's zone
	ByStation     Dimension = "station" // of a plant
)

// Dimensions lists the ways to tell yields apart.
var Dimensions = []Dimension{ByProduct, ByRevision, ByLot, ByMembrane, ByDome, ByBoard, ByConsumables, ByJig, ByShift, ByOperator,
	ByHour, ByDay, ByStation}

var byColumns = map[Dimension]string{
	ByProduct: "revision.code", ByRevision: "revision.label", ByJig: "jig.serial", ByOperator: "cell.operator",
	ByShift:    "coalesce(shift.name, '')",
	ByMembrane: "coalesce(membrane, '')", ByDome: "coalesce(dome, '')", ByBoard: "coalesce(board, '')",
	ByConsumables: "coalesce(consumables, '')",
	ByLot:         "coalesce(concat_ws(' ', nullif(membrane, ''), nullif(dome, ''), nullif(board, ''), nullif(consumables, '')), '')",
	ByHour:        "cell.hour", // named in the zone by [clocked]
	ByDay:         "cell.hour",
	ByStation:     "member.name",
}

// ParseDimension reads the name of a way to tell yields apart.
func ParseDimension(text string) (Dimension, error) {
	if by := Dimension(text); slices.Contains(Dimensions, by) {
		return by, nil
	}
	names := store.Each(Dimensions, func(b Dimension) string { return string(b) })
	return "", fmt.Errorf("%q tells nothing apart: write %s", text, strings.Join(names, ", "))
}

// Counts is what came of some units.
type Counts struct {
	Units       int // whose first judged run is among the runs chosen
	FirstPassed int // of Units: the first judged run is a pass
	LastPassed  int // of Units: the last judged run, wherever it was made, is a pass
	Retests     int // judged runs of units judged before
	Cures       int // of Retests: a pass after a fail
	Relapses    int // of Retests: a fail after a pass
	Runs        int // all runs, with those that follow
	Reseat      int
	Incomplete  int
	Aborted     int
}

func (c *Counts) add(o Counts) {
	c.Units += o.Units
	c.FirstPassed += o.FirstPassed
	c.LastPassed += o.LastPassed
	c.Retests += o.Retests
	c.Cures += o.Cures
	c.Relapses += o.Relapses
	c.Runs += o.Runs
	c.Reseat += o.Reseat
	c.Incomplete += o.Incomplete
	c.Aborted += o.Aborted
}

// Yield is what came of the units of one group.
type Yield struct {
	Groups []string // one for each way to tell apart
	Counts
	FirstRun, LastRun int64
}

// Yields is the answer of [Records.Yields].
type Yields struct {
	Rows  []Yield // in order of the groups
	Total Counts
	Mixed Mixture // what the rows pool
}

// Yields counts the units that a filter chooses, told apart by anything; with
// none there is one row. It reads sums only, so hours are whole: a time range
// that begins or ends within an hour takes that hour in. Days and hours are those of
// the filter's zone; an hour of UTC that two of its days share belongs to the one in
// which it begins.
func (s *Records) Yields(ctx context.Context, f Filter, by ...Dimension) (Yields, error) {
	var y Yields
	err := s.ask(ctx, "count yields", f, by, func(tx *sql.Tx) (err error) {
		y.Rows, y.Mixed, err = yieldsAndMixture(ctx, tx, f, by)
		return err
	})
	if err != nil {
		return Yields{}, err
	}
	for _, row := range y.Rows {
		y.Total.add(row.Counts)
	}
	if slices.Contains(by, ByRevision) {
		y.Mixed = y.Mixed.withoutRevisions()
	}
	if slices.Contains(by, ByProduct) {
		y.Mixed = Mixture{}
	}
	return y, nil
}

// Cells names the group of each cell of a selection, as yields are told apart by one thing.
func (s *Records) Cells(ctx context.Context, f Filter, by Dimension) (map[int64]string, error) {
	out := map[int64]string{}
	where, args := f.where()
	err := s.ask(ctx, fmt.Sprintf("tell cells apart by %s", by), f, []Dimension{by}, func(tx *sql.Tx) error {
		return store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var cell int64
			var name string
			err := rows.Scan(&cell, &name)
			if err == nil && clockForms[by] != "" {
				name, _, err = by.clocked(name, f.zone())
			}
			out[cell] = name
			return err
		}, `SELECT cell.cell, `+byColumns[by]+cellsBy(by)+`WHERE runs > 0 AND `+where, args...)
	})
	return out, err
}

func yieldRows(ctx context.Context, tx *sql.Tx, f Filter, by []Dimension) ([]Yield, error) {
	rows, _, err := yieldsByRevision(ctx, tx, f, by)
	return rows, err
}

// yieldsAndMixture gives both from one look at the sums.
func yieldsAndMixture(ctx context.Context, tx *sql.Tx, f Filter, by []Dimension) ([]Yield, Mixture, error) {
	rows, revisions, err := yieldsByRevision(ctx, tx, f, by)
	if err != nil {
		return nil, Mixture{}, err
	}
	mixed, err := mixtureOf(ctx, tx, revisions)
	return rows, mixed, err
}

// yieldsByRevision counts units, and beside that what there is of each revision.
func yieldsByRevision(ctx context.Context, tx *sql.Tx, f Filter, by []Dimension) (all []Yield, revisions map[int64]unitsOf, err error) {
	columns := []string{}
	for _, b := range by {
		columns = append(columns, byColumns[b])
	}
	from, err := f.summed(ctx, tx, countsOf, by...)
	if err != nil {
		return nil, nil, err
	}
	grouped := strings.Join(append(slices.Clone(columns), "cell.revision"), ", ")
	query := `SELECT ` + strings.Join(append(columns, `
		sum(units), sum(first_passed), sum(last_passed), sum(retests), sum(cures), sum(relapses),
		sum(runs), sum(reseat), sum(incomplete), sum(aborted), min(first_run), max(last_run), cell.revision`), ", ") +
		from.text + ` AND runs > 0 GROUP BY ` + grouped + ` ORDER BY ` + grouped
	revisions = map[int64]unitsOf{}
	err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
		y := Yield{Groups: make([]string, len(by))}
		var revision int64
		var to []any
		for i := range y.Groups {
			to = append(to, &y.Groups[i])
		}
		err := rows.Scan(append(to, &y.Units, &y.FirstPassed, &y.LastPassed, &y.Retests, &y.Cures, &y.Relapses,
			&y.Runs, &y.Reseat, &y.Incomplete, &y.Aborted, &y.FirstRun, &y.LastRun, &revision)...)
		revisions[revision] = revisions[revision].with(y.Units, y.FirstRun)
		if n := len(all); n > 0 && slices.Equal(all[n-1].Groups, y.Groups) {
			all[n-1].with(y)
		} else {
			all = append(all, y)
		}
		return err
	}, query, from.args...)
	if err == nil && (slices.Contains(by, ByDay) || slices.Contains(by, ByHour)) {
		all, err = clocked(all, by, f.zone())
	}
	if all == nil {
		all = []Yield{}
	}
	return all, revisions, err
}

// with adds those of the same group.
func (y *Yield) with(o Yield) {
	y.add(o.Counts)
	y.FirstRun, y.LastRun = min(y.FirstRun, o.FirstRun), max(y.LastRun, o.LastRun)
}

// clockForms are how days and hours are named: in their order, and the hour that a change
// of clocks brings twice by its offset.
var clockForms = map[Dimension]string{ByDay: "2006-01-02", ByHour: "2006-01-02T15:04Z07:00"}

// clocked names hours and days in a zone, and puts the cells of each together.
func clocked(cells []Yield, by []Dimension, zone *time.Location) ([]Yield, error) {
	type row struct {
		Yield
		begins []string // of each group, as it sorts
	}
	var out []*row
	at := map[string]*row{}
	for _, c := range cells {
		begins := slices.Clone(c.Groups)
		for i, b := range by {
			if clockForms[b] == "" {
				continue
			}
			var err error
			if c.Groups[i], begins[i], err = b.clocked(c.Groups[i], zone); err != nil {
				return nil, err
			}
		}
		name := strings.Join(begins, "\x00")
		if r := at[name]; r != nil {
			r.with(c)
			continue
		}
		r := &row{c, begins}
		out, at[name] = append(out, r), r
	}
	slices.SortFunc(out, func(a, b *row) int { return slices.Compare(a.begins, b.begins) })
	return store.Each(out, func(r *row) Yield { return r.Yield }), nil
}

// clocked names the hour of a cell, or its day; begins sorts as they follow each other.
func (b Dimension) clocked(hour string, zone *time.Location) (name, begins string, err error) {
	n, err := strconv.ParseInt(hour, 10, 64)
	if err != nil {
		return "", "", fmt.Errorf("hour of a cell: %w", err)
	}
	t := time.Unix(n*3600, 0)
	name = t.In(zone).Format(clockForms[b])
	if b == ByDay {
		return name, name, nil
	}
	return name, t.UTC().Format(clockForms[b]), nil
}

// HourOf reads the name of an hour that yields are told apart by.
func HourOf(name string) (time.Time, error) { return time.Parse(clockForms[ByHour], name) }

// Judged is the first judged run of a unit.
type Judged struct {
	Seq     int64
	Serial  string
	Jig     string
	Started time.Time
	Passed  bool
	Fault   string // the worst finding and the key or lines where it is, empty for a pass
}

// LastUnits gives the first judged runs of the last n units that a filter
// chooses, oldest first: what stop rules look at.
func (s *Records) LastUnits(ctx context.Context, f Filter, n int) ([]Judged, error) {
	var list []Judged
	err := s.ask(ctx, "look up the last units", f, nil, func(tx *sql.Tx) error {
		chosen, err := choose(ctx, tx, f, n)
		if err != nil {
			return err
		}
		list, err = store.Collect(ctx, tx, scanJudged, `
			SELECT run.seq, run.serial, jig.serial, started_us, verdict = 'pass',
				coalesce(what || ' at ' || CASE key WHEN '' THEN (SELECT string_agg(value, ' ') FROM json_each(lines)) ELSE key END, what, '')
			FROM run_cell CROSS JOIN run ON run.seq = run_cell.run JOIN jig USING (jig)
			LEFT JOIN run_finding ON run_finding.run = run.seq AND place = 0
			WHERE `+chosen.condition+` ORDER BY run_cell.run DESC LIMIT ?`, append(chosen.args, n)...)
		return err
	})
	slices.Reverse(list)
	return list, err
}

func scanJudged(rows *sql.Rows) (j Judged, err error) {
	return j, rows.Scan(&j.Seq, &j.Serial, &j.Jig, store.Time(&j.Started), &j.Passed, &j.Fault)
}
