package lines

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/results/definition"
	"padjig/results/hourly"
	"padjig/results/store"
)

// Measure is a reading that can be charted.
type Measure string

// The readings of a key, and their units; and those of other subjects.
const (
	Contact Measure = "contact" // resistance when pressed, ohm
	Closing Measure = "closing" // bounce on closing, ms
	Opening Measure = "opening" // bounce on opening, ms
	Forward Measure = "forward" // drop of the series diode, V
	Reverse Measure = "reverse" // against the series diode, ohm

	// Insulation between the lines of a key, before the keys are pressed or after, whichever
	// is less, as its logarithm: it is bounded on one side and goes over decades.
	Insulation Measure = "insulation" // lg(ohm)
	Loop       Measure = "loop"       // through the probes at a pin, ohm
	StepTime   Measure = "step"       // time of a step, s
	Machine    Measure = "machine"    // time of a run, s
)

// Measures lists the readings that can be charted.
var Measures = []Measure{Contact, Closing, Opening, Forward, Reverse, Insulation, Loop, StepTime, Machine}

// OfKeys reports whether a measure is read at the keys.
func (m Measure) OfKeys() bool { return m != Loop && m != StepTime && m != Machine }

// Unit is the unit of the values.
func (m Measure) Unit() string {
	switch m {
	case Closing, Opening:
		return "ms"
	case Forward:
		return "V"
	case Insulation:
		return "lg(ohm)"
	case StepTime, Machine:
		return "s"
	}
	return "ohm"
}

// MeasureColumns of what is stored with each key give a value in its unit, its standard uncertainty or NULL, and
// whether it is a number at all rather than beyond the range or not measured.
var MeasureColumns = map[Measure][3]string{
	Contact: {"closed_ohm", "closed_u_ohm", "closed_at_least IS NOT DISTINCT FROM 0"},
	Closing: {"make_us / CAST(1e3 AS double precision)", "NULL", "make_us IS NOT NULL"},
	Opening: {"break_us / CAST(1e3 AS double precision)", "NULL", "break_us IS NOT NULL"},
	Forward: {"forward_uv / CAST(1e6 AS double precision)", "forward_u_uv / CAST(1e6 AS double precision)", "forward_uv IS NOT NULL"},
	Reverse: {"reverse_mohm / CAST(1e3 AS double precision)", "reverse_u_mohm / CAST(1e3 AS double precision)", "reverse_at_least IS NOT DISTINCT FROM 0"},
}

// LimitsOf are the limits of a reading of a key in its unit, least and most; 0 for none.
func (m Measure) LimitsOf(k definition.Key) [2]float64 {
	switch m {
	case Contact:
		return k.Limits.Closed
	case Closing:
		return [2]float64{0, 1e3 * k.Limits.Make}
	case Opening:
		return [2]float64{0, 1e3 * k.Limits.Break}
	case Forward:
		return k.Limits.Forward
	case Insulation:
		if k.Limits.Rest > 0 {
			return [2]float64{math.Log10(k.Limits.Rest), 0}
		}
	}
	return [2]float64{}
}

// ErrNoUnits is returned where a filter chooses nothing.
var ErrNoUnits = errors.New("no unit was judged in this selection")

// MissingKeysError names keys that none of the chosen revisions has.
type MissingKeysError struct{ Missing, Known []string }

// Error names the keys there are.
func (e *MissingKeysError) Error() string {
	return fmt.Sprintf("%s: no such key in the selection; its keys are %s",
		strings.Join(e.Missing, ", "), strings.Join(e.Known, " "))
}

// Point is one reading at a unit's first judged run.
type Point struct {
	Seq      int64
	Serial   string
	Started  time.Time
	Jig      string
	Revision string
	Lots     int64 // seq of the lot change in force, 0: none
	Cell     int64 // that the run was counted in, see [Records.Cells]
	Key      string
	Value    float64
	U        float64 // standard uncertainty, 0: not known
}

// Series is readings in the order of the runs.
type Series struct {
	Points []Point
	// Beyond counts what is left out: beyond the range, or not measured.
	Beyond int
	// Bounds counts the points of which only the bound is known: over range, each stands
	// where its range ends.
	Bounds int
	Names  []string              // of the subjects, where they are no keys
	Open   map[string]int        // the same by key
	Units  map[string]int        // of keys: how many of the units have it, read or not
	Limits map[string][2]float64 // limits of each key in the unit of the values, 0: none
}

// Readings gives a reading of some keys at the first judged runs of the last n
// units that a filter chooses. All of it must be judged by the same limits, or
// the error is a *[MixedError].
func (s *Records) Readings(ctx context.Context, f Filter, m Measure, keys []string, n int) (Series, error) {
	var out Series
	err := s.ask(ctx, fmt.Sprintf("look up %s readings", m), f, nil, func(tx *sql.Tx) error {
		chosen, err := choose(ctx, tx, f, n)
		if err != nil {
			return err
		}
		out.Open = map[string]int{}
		if !m.OfKeys() {
			return out.others(ctx, tx, f, m, keys, chosen, n)
		}
		numbers, limits, err := keyNumbers(ctx, tx, f, m, keys)
		if err != nil {
			return err
		}
		out.Limits = limits
		if m == Insulation {
			return out.insulation(ctx, tx, numbers, chosen, n)
		}
		if err := out.count(ctx, tx, numbers, chosen, n); err != nil {
			return err
		}
		return out.read(ctx, tx, m, numbers, chosen, n)
	})
	if err != nil {
		return Series{}, err
	}
	slices.Reverse(out.Points)
	return out, nil
}

func (out *Series) read(ctx context.Context, tx *sql.Tx, m Measure, numbers []int64, c chosen, n int) error {
	if n <= 0 {
		n = math.MaxInt
	}
	columns := MeasureColumns[m]
	args := append(slices.Clone(c.args), n)
	for _, number := range numbers {
		args = append(args, number)
	}
	return store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var p Point
		var number bool
		err := rows.Scan(&p.Seq, &p.Serial, store.Time(&p.Started), &p.Jig, &p.Revision, &p.Lots, &p.Cell, &p.Key, &p.Value, &p.U, &number)
		if number {
			out.Points = append(out.Points, p)
		} else {
			out.Beyond++
			out.Open[p.Key]++
		}
		return err
	}, `
		WITH chosen AS (SELECT run, cell FROM run_cell WHERE `+c.condition+` ORDER BY run DESC LIMIT ?)
		SELECT chosen.run, run.serial, started_us, jig.serial, revision.label, cell.lots, chosen.cell, key.label,
		       coalesce(`+columns[0]+`, 0), coalesce(`+columns[1]+`, 0), `+columns[2]+`
		FROM chosen CROSS JOIN run ON run.seq = chosen.run CROSS JOIN run_key ON run_key.run = chosen.run
		JOIN key USING (key) JOIN cell USING (cell) JOIN jig ON jig.jig = run.jig
		JOIN revision ON revision.revision = run.revision
		WHERE run_key.key IN (`+store.Placeholders(len(numbers))+`) AND run.actuation <> 'electrical'
		ORDER BY chosen.run DESC, run_key.place DESC`, args...)
}

// count tells of each key how many units have it: one that came to its verdict before the key
// was pressed has no row for it.
func (out *Series) count(ctx context.Context, tx *sql.Tx, numbers []int64, c chosen, n int) error {
	if n <= 0 {
		n = math.MaxInt
	}
	args := append(slices.Clone(c.args), n)
	for _, number := range numbers {
		args = append(args, number)
	}
	out.Units = map[string]int{}
	return store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var label string
		var units int
		err := rows.Scan(&label, &units)
		out.Units[label] = units
		return err
	}, chosenRuns(c)+`
		SELECT key.label, sum(of.units)
		FROM (SELECT run.revision, count(*) AS units FROM chosen CROSS JOIN run ON run.seq = chosen.run
		      WHERE run.actuation <> 'electrical' GROUP BY run.revision) AS of JOIN key USING (revision)
		WHERE key.key IN (`+store.Placeholders(len(numbers))+`) GROUP BY key.label`, args...)
}

// keyNumbers gives the numbers of keys in the chosen revisions, and their
// limits; no labels mean all keys.
func keyNumbers(ctx context.Context, tx *sql.Tx, f Filter, m Measure, labels []string) ([]int64,
	map[string][2]float64, error) {
	revisions, err := chosenRevisions(ctx, tx, f)
	if err != nil {
		return nil, nil, err
	}
	if mixed := mixed(revisions); mixed.Any() {
		return nil, nil, &MixedError{mixed}
	}
	if len(revisions) == 0 {
		return nil, nil, fmt.Errorf("%w: %s", ErrNoUnits, f)
	}
	limits := map[string][2]float64{}
	for _, k := range revisions[0].keys {
		limits[k.Label] = m.LimitsOf(k)
	}
	return numbersOf(ctx, tx, labels, limits, revisions)
}

// numbersOf gives the numbers of keys in the order of the products: a key is numbered when a run first has it,
// in a plant at whichever station.
func numbersOf(ctx context.Context, tx *sql.Tx, labels []string, limits map[string][2]float64, revisions []chosenRevision) ([]int64,
	map[string][2]float64, error) {
	type numbered struct {
		number int64
		label  string
	}
	all, err := store.Collect(ctx, tx, func(rows *sql.Rows) (k numbered, err error) {
		return k, rows.Scan(&k.number, &k.label)
	}, `SELECT key, label FROM key WHERE revision IN (`+cmp.Or(store.Placeholders(len(revisions)), "NULL")+`) ORDER BY key`,
		store.Each(revisions, func(r chosenRevision) any { return r.number })...)
	if err != nil {
		return nil, nil, err
	}
	place := map[string]int{}
	for _, r := range revisions {
		for _, k := range r.keys {
			if _, known := place[k.Label]; !known {
				place[k.Label] = len(place)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b numbered) int { return place[a.label] - place[b.label] })
	var numbers []int64
	var known []string
	wanted := map[string]bool{}
	for _, label := range labels {
		wanted[label] = true
	}
	for _, k := range all {
		if !slices.Contains(known, k.label) {
			known = append(known, k.label)
		}
		if len(labels) == 0 || wanted[k.label] {
			numbers = append(numbers, k.number)
		}
	}
	missing := slices.DeleteFunc(slices.Clone(labels), func(l string) bool { return slices.Contains(known, l) })
	if len(missing) > 0 {
		return nil, nil, &MissingKeysError{missing, known}
	}
	return numbers, limits, nil
}

// KeyHistogram is what is known of the closed resistance of one key.
type KeyHistogram struct {
	Key    string
	Limits [2]float64 // of the closed resistance in ohm: least and most, 0: none
	hourly.Histogram
}

// KeyHistograms sums up the closed resistance of every key at the first judged runs
// that a filter chooses, in the order of the product. It reads sums only.
func (s *Records) KeyHistograms(ctx context.Context, f Filter, keys ...string) ([]KeyHistogram, error) {
	var out []KeyHistogram
	err := s.ask(ctx, "sum up readings", f, nil, func(tx *sql.Tx) error {
		numbers, limits, err := keyNumbers(ctx, tx, f, Contact, keys)
		if err != nil {
			return err
		}
		out, err = histogramsOf(ctx, tx, f, numbers, limits)
		return err
	})
	return out, err
}

func histogramsOf(ctx context.Context, tx *sql.Tx, f Filter, numbers []int64, limits map[string][2]float64) (
	[]KeyHistogram, error) {
	sums := map[int64]*hourly.Histogram{}
	for _, number := range numbers {
		sums[number] = new(hourly.Histogram)
	}
	err := packedReadings(ctx, tx, f, "", func(_ string, key int64) *hourly.Histogram { return sums[key] })
	if err != nil {
		return nil, err
	}
	return labelled(ctx, tx, sums, numbers, limits)
}

// packedReadings adds the readings of each group and key to the histogram that into
// gives for them; nil leaves them out.
func packedReadings(ctx context.Context, tx *sql.Tx, f Filter, by Dimension,
	into func(group string, key int64) *hourly.Histogram) error {
	column, dimensions := "''", []Dimension{}
	if by != "" {
		column, dimensions = byColumns[by], append(dimensions, by)
	}
	from, err := f.summed(ctx, tx, readIn, dimensions...)
	if err != nil {
		return err
	}
	return store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var group string
		var packed sql.RawBytes
		if err := rows.Scan(&group, &packed); err != nil {
			return err
		}
		return hourly.EachHistogram(packed, func(key int64, r *hourly.Unpacker) bool {
			p := into(group, key)
			if p != nil {
				r.Into(p)
			}
			return p != nil
		})
	}, `SELECT `+column+`, packed`+from.text, from.args...)
}

// labelled puts the histograms of one label together: revisions have keys of their own.
func labelled(ctx context.Context, tx *sql.Tx, sums map[int64]*hourly.Histogram, numbers []int64,
	limits map[string][2]float64) ([]KeyHistogram, error) {
	var out []KeyHistogram
	for _, number := range numbers {
		var label string
		if err := tx.QueryRowContext(ctx, `SELECT label FROM key WHERE key = ?`, number).Scan(&label); err != nil {
			return nil, err
		}
		i := slices.IndexFunc(out, func(k KeyHistogram) bool { return k.Key == label })
		if i < 0 {
			i = len(out)
			out = append(out, KeyHistogram{Key: label, Limits: limits[label]})
		}
		out[i].Merge(sums[number])
	}
	return out, nil
}

// GroupHistograms sums up the closed resistance of one key at the first judged runs
// that a filter chooses, told apart as yields are, with the limits of the key. It
// reads sums only.
func (s *Records) GroupHistograms(ctx context.Context, f Filter, by Dimension, key string) (
	map[string]*hourly.Histogram, [2]float64, error) {
	groups, limits := map[string]*hourly.Histogram{}, map[string][2]float64{}
	err := s.ask(ctx, fmt.Sprintf("sum up readings by %s", by), f, []Dimension{by}, func(tx *sql.Tx) error {
		numbers, all, err := keyNumbers(ctx, tx, f, Contact, []string{key})
		if err != nil {
			return err
		}
		limits = all
		return packedReadings(ctx, tx, f, by, func(group string, key int64) *hourly.Histogram {
			if groups[group] == nil {
				groups[group] = new(hourly.Histogram)
			}
			if !slices.Contains(numbers, key) {
				return nil
			}
			return groups[group]
		})
	})
	if err != nil {
		return nil, [2]float64{}, err
	}
	return groups, limits[key], nil
}
