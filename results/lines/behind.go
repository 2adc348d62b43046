package lines

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// Behind chooses, among the first judged runs that a [Filter] takes, those that one
// point, bar or cell of a figure stands for. What is empty chooses all.
type Behind struct {
	First, Last int64  // numbers of the runs
	Verdict     string // "pass" or "fail"

	By    CauseDimension // with Cause: what a finding has to be about
	Cause string
	Worst bool // the worst finding of the run only

	Measure   Measure // where this was read of a key, and is a number
	Key       string
	Low, High float64 // readings from Low to below High only; NaN for open

	// Pin is one of the tail at which the contact of the jig On was doubtful in any of the runs
	// from Since to Until, also in one that judged nothing; 0 for none.
	Pin          int
	On           string
	Since, Until int64 // 0: all
}

// Unit is one of them.
type Unit struct {
	Seq     int64
	Serial  string
	Started time.Time
	Jig     string
	Passed  bool
	Fault   string  // the worst finding and its place, empty for none
	Value   float64 // of the measure, NaN where none is asked for
}

// Counted is up to how many units are counted; of more it is said that there are more.
const Counted = 5000

// Units gives the newest ones, the last tested first, and how many there are. Where that is more than [Counted], and more than are asked for, all is
// the larger of these and more is true: to count on would go through all runs for a figure that nobody acts on.
func (s *Records) Units(ctx context.Context, f Filter, b Behind, most int) (list []Unit, all int, more bool, err error) {
	upTo := max(Counted, most)
	err = s.ask(ctx, "look up units", f, nil, func(tx *sql.Tx) error {
		among, err := b.tally(ctx, tx, f, upTo, &all)
		if err != nil {
			return err
		}
		if more = all > upTo && !b.every(); more {
			all = upTo
		}
		if b.lies() && most < all {
			newest, err := chooseNewest(ctx, tx, f, b.counted(), most)
			if err != nil {
				return err
			}
			if list, err = b.newest(ctx, tx, f, newest, most); err != nil || len(list) == most {
				return err
			}
		}
		list, err = b.newest(ctx, tx, f, among, most)
		return err
	})
	return list, all, more, err
}

// tally counts those that are chosen, up to one more than a number where the sums do not say it, and tells among which runs they lie.
func (b Behind) tally(ctx context.Context, tx *sql.Tx, f Filter, upTo int, all *int) (among chosen, err error) {
	if b.every() {
		rows, err := yieldRows(ctx, tx, f, nil)
		for _, row := range rows {
			*all = row.Units
		}
		if err != nil {
			return among, err
		}
		return chooseNewest(ctx, tx, f, b.counted(), upTo)
	}
	if b.lies() {
		var counted int
		if among, counted, err = chooseNewestOf(ctx, tx, f, b.counted(), upTo+1); err != nil {
			return among, err
		}
		if *all, err = b.count(ctx, tx, f, among, upTo+1); err != nil || *all > upTo || counted <= upTo {
			return among, err
		} // the cells count others besides
	}
	if among, err = chooseAll(ctx, tx, f, "units"); err == nil {
		*all, err = b.count(ctx, tx, f, among, upTo+1)
	}
	return among, err
}

// every reports whether all units are chosen.
func (b Behind) every() bool { return b.lies() && b.Verdict == "" }

// count counts those that are chosen among some runs, up to a number.
func (b Behind) count(ctx context.Context, tx *sql.Tx, f Filter, among chosen, upTo int) (n int, err error) {
	from, args, err := b.from(ctx, tx, f, among)
	if err != nil {
		return 0, err
	}
	return n, tx.QueryRowContext(ctx, "SELECT count(*) FROM (SELECT 1 "+from+" LIMIT ?) AS counted", append(args, upTo)...).Scan(&n)
}

// lies reports whether the newest ones lie in the newest cells: where all of a cell are chosen, or all fails.
func (b Behind) lies() bool {
	return b.First == 0 && b.Last == 0 && b.Cause == "" && b.Measure == "" && b.Pin == 0
}

// counted is what of a cell counts those that are chosen, and maybe others.
func (b Behind) counted() string {
	if b.Verdict == "fail" {
		return "units - first_passed"
	}
	return "units"
}

// newest are the newest ones among some runs.
func (b Behind) newest(ctx context.Context, tx *sql.Tx, f Filter, among chosen, most int) ([]Unit, error) {
	from, args, err := b.from(ctx, tx, f, among)
	if err != nil {
		return nil, err
	}
	value := "NULL"
	if b.Measure != "" {
		value = MeasureColumns[b.Measure][0]
	}
	return store.Collect(ctx, tx, scanUnit, `
		SELECT run.seq, run.serial, started_us, (SELECT serial FROM jig WHERE jig.jig = run.jig), verdict = 'pass',
		       coalesce((SELECT what || ': ' || location FROM run_finding WHERE run_finding.run = run.seq AND place = 0), ''), `+
		value+from+` ORDER BY run.seq DESC LIMIT ?`, append(args, most)...)
}

func scanUnit(rows *sql.Rows) (u Unit, err error) {
	var value sql.NullFloat64
	err = rows.Scan(&u.Seq, &u.Serial, store.Time(&u.Started), &u.Jig, &u.Passed, &u.Fault, &value)
	u.Value = math.NaN()
	if value.Valid {
		u.Value = value.Float64
	}
	return u, err
}

// from gives the tables with the condition on them.
func (b Behind) from(ctx context.Context, tx *sql.Tx, f Filter, among chosen) (string, []any, error) {
	var joined []any
	tables, condition := " FROM run_cell CROSS JOIN run ON run.seq = run_cell.run", among.condition
	if b.Verdict == "fail" || b.Cause != "" { // few of the runs
		tables, condition = " FROM run CROSS JOIN run_cell ON run_cell.run = run.seq", among.held
	}
	if b.Measure != "" {
		revisions, err := chosenRevisions(ctx, tx, f)
		if err != nil {
			return "", nil, err
		}
		numbers, _, err := numbersOf(ctx, tx, []string{b.Key}, nil, revisions)
		if err != nil {
			return "", nil, err
		}
		tables += " JOIN run_key ON run_key.run = run.seq AND run_key.key IN (" + store.Placeholders(len(numbers)) + ")"
		joined = store.Each(numbers, func(n int64) any { return n })
	}
	conditions, args := []string{condition}, slices.Concat(joined, among.args)
	also := func(condition string, values ...any) {
		conditions, args = append(conditions, condition), append(args, values...)
	}
	if b.Cause == "" { // of a cause the findings say which runs
		also("run.seq BETWEEN ? AND ?", among.args[0], among.args[1])
	}
	if of, names := f.ofStations("run"); of != "" {
		also(strings.TrimPrefix(of, " AND "), names...)
	}
	if b.First != 0 || b.Last != 0 {
		also("run_cell.run BETWEEN ? AND ?", b.First, b.Last)
	}
	switch b.Verdict {
	case "":
	case "fail":
		also("verdict = 'fail'") // spelled out, as the index of the fails is of these alone
	default:
		also("verdict = ?", b.Verdict)
	}
	if b.Cause != "" {
		also(`run.seq IN (SELECT run_finding.run FROM run_finding WHERE run_finding.run BETWEEN ? AND ? AND (place = 0 OR ? = 0) AND `+causeColumns[b.By]+`)`,
			among.args[0], among.args[1], b.Worst, b.Cause)
	}
	if b.Pin != 0 {
		until := b.Until
		if until == 0 {
			until = math.MaxInt64
		}
		also(`run.serial IN (SELECT doubtful.serial FROM run_seat JOIN pin USING (pin) JOIN run AS doubtful ON doubtful.seq = run_seat.run
			JOIN jig AS at ON at.jig = doubtful.jig WHERE run_seat.run BETWEEN ? AND ? AND good = 0 AND pin.number = ? AND at.serial = ?
			AND doubtful.purpose = '' AND doubtful.simulated = ?)`, b.Since, until, b.Pin, b.On, f.Simulated)
	}
	if b.Measure != "" {
		value := MeasureColumns[b.Measure]
		also("run.actuation <> 'electrical' AND " + value[2])
		if !math.IsNaN(b.Low) {
			also(value[0]+" >= ?", b.Low)
		}
		if !math.IsNaN(b.High) {
			also(value[0]+" < ?", b.High)
		}
	}
	return tables + " WHERE " + strings.Join(conditions, " AND "), args, nil
}

// causeColumns say what a finding has to be about, as [Causes] tells them apart.
var causeColumns = map[CauseDimension]string{
	CauseByFinding: "what = ?",
	CauseByPlace:   "what || ': ' || location = ?",
	CauseByKey:     "run_finding.key = ?",
	CauseByLine:    "EXISTS (SELECT 1 FROM json_each(lines) WHERE value = ?)",
	CauseByChannel: "EXISTS (SELECT 1 FROM json_each(pins) WHERE CAST(value AS text) = ?)",
}

// Check says what is wrong with a choice.
func (b Behind) Check() error {
	switch {
	case !slices.Contains([]string{"", "pass", "fail"}, b.Verdict):
		return fmt.Errorf("verdict %q: write pass or fail", b.Verdict)
	case b.First < 0 || b.Last < b.First:
		return fmt.Errorf("runs %d-%d: write the first number and the last, such as 120-124", b.First, b.Last)
	case b.Cause != "" && !slices.Contains(CauseDimensions, b.By):
		return fmt.Errorf("%q tells no causes apart: write %s", b.By, strings.Join(store.Each(CauseDimensions, func(d CauseDimension) string { return string(d) }), ", "))
	case b.Measure != "" && MeasureColumns[b.Measure][0] == "":
		return fmt.Errorf("measure %q is no reading of one key: write contact, closing, opening, forward or reverse", b.Measure)
	case b.Pin < 0 || (b.Pin == 0) != (b.On == ""):
		return fmt.Errorf("doubtful contact is that of a pin on a jig: name both or none, the pin as its number from 1 on")
	case b.Pin == 0 && (b.Since != 0 || b.Until != 0):
		return fmt.Errorf("runs with doubtful contact are asked for and no pin is named")
	case (b.Measure == "") != (b.Key == ""):
		return fmt.Errorf("a reading is that of a measure at a key: name both or none")
	case b.Low >= b.High:
		return fmt.Errorf("from %g to %g: no reading lies in between", b.Low, b.High)
	case b.Measure == "" && !(math.IsNaN(b.Low) && math.IsNaN(b.High)):
		return fmt.Errorf("readings are asked for and no measure is named")
	}
	return nil
}
