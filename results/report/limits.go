package report

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/stats"
	"padjig/sequence/decide"
)

// LimitsAsked is readings of the last units and limits to try on them.
type LimitsAsked struct {
	Asked
	Measure  results.Measure
	Series   results.Series
	Side     stats.Side
	Coverage float64    // share of units that the tolerance interval holds
	Proposed stats.Spec // infinite on either side: nothing is tried
	Guard    float64    // guard band as a multiple of U = 2 u of each reading
}

// tries reports whether limits are proposed.
func (a LimitsAsked) tries() bool { return a.Proposed.Check() == nil }

// Limits reports tolerance intervals of readings, key by key, and what a
// proposed limit would have done to the units they were taken from.
func Limits(a LimitsAsked) (Document, error) {
	if len(a.Series.Points) == 0 {
		return Document{}, fmt.Errorf("%w: %s", results.ErrNoUnits, a.Filter)
	}
	d := Document{Title: "Limits from data: " + string(a.Measure), Selection: a.Filter.String(), Link: a.Filter.Values().Encode(), Simulated: a.Filter.Simulated}
	if a.Series.Beyond > 0 {
		d.Remarks = append(d.Remarks, fmt.Sprintf("%d readings are no number (beyond the range, or not measured) and are left out", a.Series.Beyond))
	}
	keys, err := a.keysTable()
	if err != nil {
		return Document{}, err
	}
	d.Tables = []Table{keys}
	d.Conclusion = []string{fmt.Sprintf(
		"A tolerance interval holds %s of all units with a confidence of %s, if the process stays as it was. The normal one is right only for normal readings: below a p of 0.05 take the distribution-free one. A limit protects the circuit that reads the pad; what the process can hold does not say what that needs.",
		percent(a.Coverage), percent(a.Confidence))}
	if a.tries() {
		d.Tables = append(d.Tables, a.outcomeTable(), a.changesTable())
		d.Conclusion = append(d.Conclusion, a.words())
	}
	return d, nil
}

// byKey sorts the readings, keys in order of appearance.
func (a LimitsAsked) byKey() (keys []string, values map[string][]float64) {
	values = map[string][]float64{}
	for _, p := range a.Series.Points {
		if values[p.Key] == nil {
			keys = append(keys, p.Key)
		}
		values[p.Key] = append(values[p.Key], p.Value)
	}
	return keys, values
}

func (a LimitsAsked) keysTable() (Table, error) {
	unit := a.Measure.Unit()
	t := Table{Name: "tolerance", Title: fmt.Sprintf("Tolerance intervals in %s for %s of units, confidence %s", unit, percent(a.Coverage), percent(a.Confidence)), Columns: []Column{
		{Name: "key", Head: "key"}, {Name: "n", Head: "n"}, {Name: "mean", Head: "mean", Digits: 2, Minor: true}, {Name: "sd", Head: "sd", Digits: 3, Minor: true},
		{Name: "normal_p", Head: "p normal"},
	}}
	ends := a.ends()
	for _, of := range []string{"normal", "free", "limit"} {
		for i, end := range ends {
			head := of + " " + end
			if i > 0 {
				head = end
			}
			t.Columns = append(t.Columns, Column{Name: of + "_" + end, Head: head, Digits: 2})
		}
	}
	t.Columns = append(t.Columns, Column{Name: "why", Head: "left out because", Minor: true})
	keys, values := a.byKey()
	var none error
	for _, key := range keys {
		row, err := a.keyRow(key, values[key], ends)
		if err != nil {
			none = errors.Join(none, fmt.Errorf("key %s: %w", key, err))
		}
		t.Rows = append(t.Rows, row)
	}
	if none != nil && len(keys) == 1 {
		return Table{}, none
	}
	return t, nil
}

// ends are those that the side has.
func (a LimitsAsked) ends() []string {
	switch a.Side {
	case stats.OnlyUpper:
		return []string{"to"}
	case stats.OnlyLower:
		return []string{"from"}
	}
	return []string{"from", "to"}
}

// keyRow gives what can be said of a key. The error says why there is no normal
// interval.
func (a LimitsAsked) keyRow(key string, values []float64, ends []string) ([]any, error) {
	row := []any{key, len(values), nil, nil, nil}
	if summary, err := stats.Summarize(values); err == nil {
		row[2], row[3] = summary.Mean, summary.SD
	}
	if test, err := stats.AndersonDarling(values); err == nil {
		row[4] = Chance(test.P)
	}
	normal, errNormal := stats.NormalTolerance(values, a.Side, a.Coverage, a.Confidence)
	free, errFree := stats.FreeTolerance(values, a.Side, a.Coverage, a.Confidence)
	limits := specOf(a.Series.Limits[key])
	for _, i := range []struct {
		low, high float64
		err       error
	}{{normal.Low, normal.High, errNormal}, {free.Low, free.High, errFree}, {limits.Lower, limits.Upper, nil}} {
		for _, end := range ends {
			v := map[string]float64{"from": i.low, "to": i.high}[end]
			if i.err != nil {
				v = math.NaN()
			}
			row = append(row, finite(v))
		}
	}
	var why any
	switch {
	case errNormal != nil:
		why = errNormal.Error()
	case errFree != nil:
		why = "distribution-free: " + errFree.Error()
	}
	return append(row, why), errNormal
}

// finite is nothing for an open end.
func finite(x float64) any {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return x
}

// trial is what limits did to the units.
type trial struct {
	rejected       map[int64]bool // runs
	bad, good      float64        // expected: readings accepted beyond, rejected within the limit
	limited, units int            // keys with a limit, runs
}

// try holds every reading to the limits of its key, moved in by a guard band.
func (a LimitsAsked) try(limits func(key string) stats.Spec, guard float64) trial {
	t := trial{rejected: map[int64]bool{}}
	seen := map[int64]bool{}
	for _, p := range a.Series.Points {
		seen[p.Seq] = true
		limit := limits(p.Key)
		if limit.Check() != nil {
			continue
		}
		t.limited++
		tolerance := decide.Interval{Low: limit.Lower, High: limit.Upper}
		accepted := tolerance.Guarded(decide.Band(guard, p.U)).Contains(p.Value)
		if !accepted {
			t.rejected[p.Seq] = true
		}
		if p.U == 0 {
			continue // its uncertainty is not known: nothing can be expected of it
		}
		if accepted {
			t.bad += decide.ConsumersRisk(p.Value, tolerance, decide.Normal(p.U))
		} else {
			t.good += decide.Conformance(p.Value, tolerance, decide.Normal(p.U))
		}
	}
	t.units = len(seen)
	return t
}

func (a LimitsAsked) inForce(key string) stats.Spec { return specOf(a.Series.Limits[key]) }

func (a LimitsAsked) proposed(string) stats.Spec { return a.Proposed }

func (a LimitsAsked) outcomeTable() Table {
	t := Table{Name: "outcome", Title: fmt.Sprintf("What limits do to these units, %s intervals", percent(a.Confidence)), Columns: []Column{
		{Name: "limits", Head: "limits"}, {Name: "guard", Head: "guard U", Digits: 2}, {Name: "units", Head: "units"}, {Name: "rejected", Head: "rejected"},
		{Name: "share", Head: "of units", Unit: "%", Digits: 1}, {Name: "bad_accepted", Head: "bad in", Digits: 3}, {Name: "good_rejected", Head: "good out", Digits: 3},
	}}
	for _, limits := range []struct {
		name string
		of   func(string) stats.Spec
	}{{"in force", a.inForce}, {"proposed", a.proposed}} {
		for _, guard := range guards(a.Guard) {
			r := a.try(limits.of, guard)
			if r.limited == 0 {
				t.Rows = append(t.Rows, []any{limits.name + ": none", nil, r.units, nil, nil, nil, nil})
				break
			}
			t.Rows = append(t.Rows, []any{limits.name, guard, r.units, len(r.rejected),
				shareOf(stats.Wilson, len(r.rejected), r.units, a.Confidence), r.bad, r.good})
		}
	}
	return t
}

func guards(guard float64) []float64 {
	if guard == 0 {
		return []float64{0}
	}
	return []float64{0, guard}
}

// changesTable names the units that the proposed limit judges otherwise.
func (a LimitsAsked) changesTable() Table {
	const most = 20
	t := Table{Name: "changes", Title: fmt.Sprintf("Units judged otherwise, guard band %.3g U, at most %d", a.Guard, most), Columns: []Column{
		{Name: "serial", Head: "unit"}, {Name: "run", Head: "run"}, {Name: "change", Head: "change"},
	}, Empty: "none"}
	was, now := a.try(a.inForce, a.Guard).rejected, a.try(a.proposed, a.Guard).rejected
	serials := map[int64]string{}
	var runs []int64
	for _, p := range a.Series.Points {
		if serials[p.Seq] == "" {
			runs = append(runs, p.Seq)
		}
		serials[p.Seq] = p.Serial
	}
	slices.Sort(runs)
	for _, run := range runs {
		if was[run] != now[run] && len(t.Rows) < most {
			change := "would be rejected"
			if was[run] {
				change = "would be let through"
			}
			t.Rows = append(t.Rows, []any{serials[run], int(run), change})
		}
	}
	return t
}

func (a LimitsAsked) words() string {
	was, now := a.try(a.inForce, a.Guard), a.try(a.proposed, a.Guard)
	rejects, escapes := 0, 0
	for run := range now.rejected {
		if !was.rejected[run] {
			rejects++
		}
	}
	for run := range was.rejected {
		if !now.rejected[run] {
			escapes++
		}
	}
	return fmt.Sprintf("On the last %d units the proposed limit would have rejected %d that the limit in force accepts, and let through %d that it rejects, by these readings alone. \"Bad in\" and \"good out\" are expected from each reading's own uncertainty: readings accepted whose true value lies beyond the limit, and rejected although it lies within.",
		now.units, rejects, escapes)
}
