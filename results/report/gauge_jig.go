package report

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/stats"
)

// GaugePlan lists the readings of a study in the order to take them.
func GaugePlan(s results.Study, at string) Document {
	d := Document{Title: fmt.Sprintf("Gauge study %d", s.Number), Selection: fmt.Sprintf("%s %s, %d parts by %d %ss, %d repeats: %d readings, order drawn with seed %d",
		s.Product, s.Revision, len(s.Parts), len(s.Appraisers), s.Across, s.Repeats, len(s.Plan), s.Seed)}
	t := Table{Name: "plan", Title: "In this order", Columns: []Column{
		{Name: "place", Head: "place"}, {Name: "part", Head: "part"}, {Name: "appraiser", Head: string(s.Across)}, {Name: "repeat", Head: "repeat"},
	}}
	for i, p := range s.Plan {
		t.Rows = append(t.Rows, []any{i + 1, s.Parts[p.Part], s.Appraisers[p.Appraiser], p.Repeat + 1})
	}
	d.Tables = []Table{t}
	who := "--jig PORT"
	if s.Across == results.AcrossOperators {
		who += " --operator NAME"
	}
	d.Conclusion = []string{
		fmt.Sprintf("Measure: padjig quality gauge run %d --product FILE %s%s", s.Number, who, at),
		"Take the part out and put it in anew before every reading. Several jigs may measure at once, each in the order of its own rows.",
	}
	return d
}

// GaugeList lists studies and how far each has come.
func GaugeList(list []results.Study) Document {
	t := Table{Name: "studies", Title: "Gauge studies, newest first", Empty: "none was planned: padjig quality gauge plan", Columns: []Column{
		{Name: "number", Head: "study"}, {Name: "product", Head: "product"}, {Name: "revision", Head: "revision"},
		{Name: "across", Head: "across"}, {Name: "parts", Head: "parts"}, {Name: "appraisers", Head: "jigs or operators"},
		{Name: "repeats", Head: "repeats"}, {Name: "measured", Head: "measured"}, {Name: "planned", Head: "planned"},
		{Name: "simulated", Head: "simulated", Minor: true}, {Name: "by", Head: "by", Minor: true}, {Name: "at", Head: "planned at", Minor: true},
		{Name: "note", Head: "note", Minor: true},
	}}
	for _, s := range list {
		t.Rows = append(t.Rows, []any{int(s.Number), s.Product, s.Revision, string(s.Across) + "s", len(s.Parts), len(s.Appraisers), s.Repeats,
			len(s.Readings), len(s.Plan), s.Simulated(), s.By, s.At, s.Note})
	}
	return Document{Title: "Gauge studies", Selection: "all there are", Tables: []Table{t}}
}

// Verified is one reading of a verification.
type Verified struct {
	Range               float64 // reference resistor of the jig, ohm
	Resistor            string
	Certified, Measured float64 // ohm
}

// GaugeLinearity reports the bias on each reference resistor, and per range the
// line through the biases.
func GaugeLinearity(jig string, readings []Verified, confidence float64, simulated bool) (Document, error) {
	if len(readings) == 0 {
		return Document{}, stats.ErrEmpty
	}
	d := Document{Title: "Bias and linearity", Selection: fmt.Sprintf("jig %s, %d readings of reference resistors", jig, len(readings)), Simulated: simulated}
	d.Tables = []Table{biasTable(readings, confidence), linearityTable(readings, confidence)}
	d.Conclusion = []string{
		"A slope that differs from 0 says that the jig reads all resistances of the range by that share too high or too low, as a reference resistor off its value would; an intercept says that ohms are in series. Adjust for neither: find the cause.",
	}
	return d, nil
}

func biasTable(readings []Verified, confidence float64) Table {
	t := Table{Name: "bias", Title: fmt.Sprintf("Bias, %s intervals", percent(confidence)), Columns: []Column{
		{Name: "range_ohm", Head: "range", Unit: "ohm", Digits: 0}, {Name: "resistor", Head: "resistor"},
		{Name: "certified_ohm", Head: "certified", Unit: "ohm", Digits: 4}, {Name: "n", Head: "n"},
		{Name: "bias_ohm", Head: "bias", Unit: "ohm", Digits: 5}, {Name: "of_value", Head: "of it", Unit: "%", Digits: 4}, {Name: "p", Head: "p of none"},
	}}
	type of struct {
		rng       float64
		resistor  string
		certified float64
	}
	groups := map[of][]float64{}
	var order []of
	for _, r := range readings {
		key := of{r.Range, r.Resistor, r.Certified}
		if groups[key] == nil {
			order = append(order, key)
		}
		groups[key] = append(groups[key], r.Measured)
	}
	slices.SortStableFunc(order, func(a, b of) int {
		if a.rng != b.rng {
			return int(math.Copysign(1, a.rng-b.rng))
		}
		return int(math.Copysign(1, a.certified-b.certified))
	})
	for _, key := range order {
		row := []any{key.rng, key.resistor, key.certified, len(groups[key]), nil, nil, nil}
		if b, err := stats.NewBias(groups[key], key.certified, confidence); err == nil {
			row[4], row[5], row[6] = Estimate{b.Mean, b.Interval.Low, b.Interval.High}, b.Mean/key.certified, Chance(b.P)
		} else {
			row[4], row[5] = groups[key][0]-key.certified, (groups[key][0]-key.certified)/key.certified
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func linearityTable(readings []Verified, confidence float64) Table {
	t := Table{Name: "linearity", Title: "Line through the biases of each range", Columns: []Column{
		{Name: "range_ohm", Head: "range", Unit: "ohm", Digits: 0}, {Name: "n", Head: "n"}, {Name: "slope", Head: "slope", Unit: "%", Digits: 4},
		{Name: "intercept_ohm", Head: "intercept", Unit: "ohm", Digits: 5}, {Name: "p", Head: "p of no slope"}, {Name: "why", Head: "left out because"},
	}}
	references, measured := map[float64][]float64{}, map[float64][]float64{}
	for _, r := range readings {
		references[r.Range] = append(references[r.Range], r.Certified)
		measured[r.Range] = append(measured[r.Range], r.Measured)
	}
	var ranges []float64
	for rng := range references {
		ranges = append(ranges, rng)
	}
	slices.Sort(ranges)
	for _, rng := range ranges {
		l, err := stats.Linearity(references[rng], measured[rng], confidence)
		if errors.Is(err, stats.ErrNoSpread) {
			err = errors.New("one resistor only")
		}
		if err != nil {
			t.Rows = append(t.Rows, []any{rng, len(references[rng]), nil, nil, nil, err.Error()})
			continue
		}
		t.Rows = append(t.Rows, []any{rng, l.N, Estimate{l.Slope, l.SlopeInterval.Low, l.SlopeInterval.High},
			Estimate{l.Intercept, l.InterceptInterval.Low, l.InterceptInterval.High}, Chance(l.SlopeP), nil})
	}
	return t
}

// Stable is a reference unit's readings on a jig over time.
type Stable struct {
	Jig, Unit  string
	Measure    results.Measure
	Values     results.Repeated
	Confidence float64
	Simulated  bool
}

// leastChecks make limits that mean something; common practice asks for 20 or more.
const leastChecks = 8

// GaugeStability reports key by key whether readings of a reference unit wander.
func GaugeStability(a Stable) (Document, error) {
	n := len(a.Values.Runs)
	if n < leastChecks {
		return Document{}, fmt.Errorf("%d good checks of %s on jig %s: at least %d are needed to see whether it wanders", n, a.Unit, a.Jig, leastChecks)
	}
	d := Document{Title: "Stability: " + string(a.Measure), Simulated: a.Simulated, Selection: fmt.Sprintf("reference unit %s on jig %s, %d checks from %s to %s UTC",
		a.Unit, a.Jig, n, a.Values.Times[0].Format("2006-01-02 15:04"), a.Values.Times[n-1].Format("2006-01-02 15:04"))}
	unit := a.Measure.Unit()
	t := Table{Name: "stability", Title: fmt.Sprintf("Key by key, %s intervals; sd from check to check; p of no trend", percent(a.Confidence)), Columns: []Column{
		{Name: "key", Head: "key"}, {Name: "n", Head: "n"}, {Name: "mean", Head: "mean", Unit: unit, Digits: 3},
		{Name: "sd", Head: "sd", Unit: unit, Digits: 4}, {Name: "per_day", Head: "trend a day", Unit: unit, Digits: 5},
		{Name: "p", Head: "adjusted p"}, {Name: "outside", Head: "outside"}, {Name: "why", Head: "left out because", Minor: true},
	}}
	var chances []float64
	for _, key := range a.Values.Keys {
		row, p := a.row(key)
		t.Rows, chances = append(t.Rows, row), append(chances, p)
	}
	wandering := 0
	for i, p := range stats.Holm(chances) {
		if !math.IsNaN(p) {
			t.Rows[i][5] = Chance(p)
		}
		if p < 1-a.Confidence {
			wandering++
		}
	}
	d.Tables = []Table{t}
	d.Conclusion = []string{fmt.Sprintf("%d of %d keys show a trend that chance alone would hardly make, all keys looked at together (Holm). The reference unit may have changed as well as the jig: a second unit tells them apart.",
		wandering, len(t.Rows))}
	return d, nil
}

func (a Stable) row(key string) ([]any, float64) {
	var days, values []float64
	for i, v := range a.Values.Values[key] {
		if !math.IsNaN(v) {
			days = append(days, a.Values.Times[i].Sub(a.Values.Times[0]).Hours()/24)
			values = append(values, v)
		}
	}
	row := []any{key, len(values), nil, nil, nil, nil, nil, nil}
	base, err := stats.NewIndividuals(values)
	if err != nil {
		row[7] = err.Error()
		return row, math.NaN()
	}
	outside := 0
	for _, v := range values {
		if base.Limits().Out(v) {
			outside++
		}
	}
	row[2], row[3], row[6] = base.Mean, base.Sigma, outside
	line, err := stats.FitLine(days, values, a.Confidence)
	if err != nil {
		row[7] = "no trend: " + err.Error()
		return row, math.NaN()
	}
	row[4] = Estimate{line.Slope, line.SlopeInterval.Low, line.SlopeInterval.High}
	return row, line.SlopeP
}
