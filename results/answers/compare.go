package answers

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stats/compare"
)

// CompareAsked asks whether two jigs, lots, shifts, revisions or operators differ.
type CompareAsked struct {
	Selection
	By      lines.Dimension // see [Comparable]
	A, B    string
	Across  lines.Dimension // within each of these alone; empty for none
	Measure lines.Measure   // empty: contact resistance
	Yields  bool            // only: no readings
	Keys    KeyChoice
	Last    int // newest units on each side; 0: [Last]
}

// sideOf says how a filter chooses one side.
var sideOf = map[lines.Dimension]func(*lines.Filter, string){
	lines.ByJig:      func(f *lines.Filter, v string) { f.Jigs = []string{v} },
	lines.ByLot:      func(f *lines.Filter, v string) { f.Lots = []string{v} },
	lines.ByShift:    func(f *lines.Filter, v string) { f.Shifts = []string{v} },
	lines.ByRevision: func(f *lines.Filter, v string) { f.Revisions = []string{v} },
	lines.ByOperator: func(f *lines.Filter, v string) { f.Operators = []string{v} },
}

// Comparable reports whether two of these can be compared.
func Comparable(by lines.Dimension) bool { return sideOf[by] != nil }

// Comparison is how two sides differ.
type Comparison struct {
	CompareAsked
	Sides       [2]YieldRow // its name in Groups
	Mixed       lines.Mixture
	Difference  Estimate // of the first-pass yields, A less B; NaN where nothing tells them apart
	Odds        Estimate // of passing
	P           Chance   // Fisher's exact test
	Within      *Stratified
	Rows        []KeyComparison
	Conclusions []Sentence
}

// Stratified is the comparison within each stratum (Cochran-Mantel-Haenszel).
type Stratified struct {
	Strata int
	Odds   Estimate
	P      Chance
	Why    error // why there is none
}

// KeyComparison is how the readings of one key differ. Both tests count: the
// smaller p doubled, then adjusted for all keys.
type KeyComparison struct {
	Key           string
	N             [2]int
	Shift         Estimate // A less B (Hodges-Lehmann)
	Larger        float64  // how often a reading of A is the larger
	RankP, ShapeP Chance   // Mann-Whitney, Kolmogorov-Smirnov
	HolmP, BHP    Chance
	Differs       bool
	Why           error
}

// AskCompare compares two sides.
func AskCompare(ctx context.Context, s *results.Store, a CompareAsked) (Comparison, error) {
	a.Measure, a.Last = cmp.Or(a.Measure, lines.Contact), cmp.Or(a.Last, Last)
	c := Comparison{CompareAsked: a}
	names := []string{a.A, a.B}
	for i, name := range names {
		c.Sides[i].Groups = []string{name} // also where nothing can be said of it
	}
	for i, name := range names {
		y, err := a.side(name).yields(ctx, s)
		if err != nil {
			return c, err
		}
		if c.Sides[i] = y.Total; y.Mixed.Any() {
			c.Mixed = y.Mixed
		}
		if c.Sides[i].Groups = []string{name}; y.Total.Units == 0 {
			return c, fmt.Errorf("%w: %s %s; %s", lines.ErrNoUnits, a.By, name, a.Filter)
		}
	}
	if a.By == lines.ByRevision {
		both := a.Selection
		both.Filter.Revisions = []string{a.A, a.B}
		y, err := both.yields(ctx, s)
		if err != nil {
			return c, err
		}
		c.Mixed = y.Mixed
	}
	if err := c.yields(); err != nil {
		return c, err
	}
	if err := c.strata(ctx, s); err != nil {
		return c, err
	}
	if !a.Yields {
		if err := c.readings(ctx, s); err != nil {
			return c, err
		}
	}
	c.Conclusions = append(c.yieldWords(), c.keyWords()...)
	return c, nil
}

func (a CompareAsked) side(name string) Selection {
	one := a.Selection
	sideOf[a.By](&one.Filter, name)
	return one
}

func table2(a, b lines.Counts) compare.Table2 {
	return compare.Table2{{a.FirstPassed, a.Units - a.FirstPassed}, {b.FirstPassed, b.Units - b.FirstPassed}}
}

func (c *Comparison) yields() error {
	a, b := c.Sides[0].Counts, c.Sides[1].Counts
	c.Difference, c.Odds, c.P = Unknown(), Unknown(), Chance(math.NaN())
	if failed := a.Units + b.Units - a.FirstPassed - b.FirstPassed; failed == 0 || a.FirstPassed+b.FirstPassed == 0 {
		return nil // nothing tells them apart
	}
	test, err := compare.Fisher(table2(a, b), c.Level())
	if err != nil {
		return err
	}
	difference, interval, err := compare.ShareDifference(a.FirstPassed, a.Units, b.FirstPassed, b.Units, c.Level())
	c.Difference, c.Odds, c.P = EstimateOf(difference, interval), EstimateOf(test.Conditional, test.Odds), Chance(test.P)
	return err
}

// strata compares within each stratum that both sides have.
func (c *Comparison) strata(ctx context.Context, s *results.Store) error {
	if c.Across == "" {
		return nil
	}
	var of [2]map[string]lines.Counts
	for i, name := range []string{c.A, c.B} {
		y, err := s.Lines.Yields(ctx, c.side(name).Filter, c.Across)
		if err != nil {
			return err
		}
		of[i] = map[string]lines.Counts{}
		for _, r := range y.Rows {
			of[i][r.Groups[0]] = r.Counts
		}
	}
	var tables []compare.Table2
	for name, a := range of[0] {
		if b, both := of[1][name]; both && a.Units > 0 && b.Units > 0 {
			tables = append(tables, table2(a, b))
		}
	}
	test, err := compare.CochranMantelHaenszel(tables, c.Level())
	c.Within = &Stratified{Strata: len(tables), Odds: EstimateOf(test.OddsRatio, test.Odds), P: Chance(test.P), Why: err}
	return nil
}

func (c *Comparison) readings(ctx context.Context, s *results.Store) error {
	values := [2]map[string][]float64{{}, {}}
	var keys []string
	for i, name := range []string{c.A, c.B} {
		read, err := c.side(name).Read(ctx, s, c.Measure, c.Keys, c.Last)
		if err != nil {
			return err
		}
		for _, k := range read.byKey() {
			values[i][k.Key] = k.Values
			if !slices.Contains(keys, k.Key) {
				keys = append(keys, k.Key)
			}
		}
	}
	for _, key := range keys {
		c.Rows = append(c.Rows, compareKey(key, values[0][key], values[1][key], c.Level()))
	}
	c.adjust()
	return nil
}

func compareKey(key string, x, y []float64, confidence float64) KeyComparison {
	k := KeyComparison{Key: key, N: [2]int{len(x), len(y)}, Shift: Unknown(), Larger: math.NaN()}
	rank, err := compare.MannWhitney(x, y, confidence)
	if err != nil {
		k.Why = err
		return k
	}
	shape, err := compare.KolmogorovSmirnov(x, y)
	if err != nil {
		k.Why = err
		return k
	}
	k.Shift, k.Larger, k.RankP, k.ShapeP = EstimateOf(rank.Shift, rank.Shifts), rank.Larger, Chance(rank.P), Chance(shape.P)
	return k
}

// adjust corrects for looking at many keys with two tests each.
func (c *Comparison) adjust() {
	var p []float64
	for _, k := range c.Rows {
		v := 1.0
		if k.Why == nil {
			v = min(1, 2*float64(min(k.RankP, k.ShapeP)))
		}
		p = append(p, v)
	}
	holm, bh := compare.Holm(p), compare.BenjaminiHochberg(p)
	for i := range c.Rows {
		k := &c.Rows[i]
		k.HolmP, k.BHP = Chance(holm[i]), Chance(bh[i])
		k.Differs = k.Why == nil && holm[i] < c.Alpha()
	}
}

func (c Comparison) yieldWords() []Sentence {
	if math.IsNaN(float64(c.P)) {
		if c.Sides[0].FirstPassed == 0 {
			return []Sentence{Say("compare.nonepassed")}
		}
		return []Sentence{Say("compare.allpassed")}
	}
	d := c.Difference
	size := Say("compare.size", c.A, c.B, Number{100 * d.Value, 2}, Number{100 * d.Low, 2}, Number{100 * d.High, 2}, c.P,
		Figure(c.Odds.Value), Figure(c.Odds.Low), Figure(c.Odds.High))
	out := []Sentence{Say("compare.chance", c.A, c.B), size, Say("compare.absence")}
	if float64(c.P) < c.Alpha() {
		better, worse := c.A, c.B
		if d.Value < 0 {
			better, worse = c.B, c.A
		}
		out = []Sentence{Warn("compare.better", better, worse), size, Say("compare.notshown")}
	}
	if c.By == lines.ByRevision && len(c.Mixed.Revisions) > 1 {
		out = append(out, Say("compare.limits"))
	}
	return append(out, c.strataWords()...)
}

func (c Comparison) strataWords() []Sentence {
	w := c.Within
	switch {
	case w == nil:
		return nil
	case w.Why != nil:
		return []Sentence{Say("compare.nostrata", Word("by."+string(c.Across)))}
	}
	code := "compare.strata.chance"
	if float64(w.P) < c.Alpha() {
		code = "compare.strata.differ"
	}
	return []Sentence{Say(code, Word("by."+string(c.Across)), w.Strata, c.A, Number{w.Odds.Value, 2},
		Number{w.Odds.Low, 2}, Number{w.Odds.High, 2}, w.P)}
}

func (c Comparison) keyWords() []Sentence {
	if c.Yields {
		return nil
	}
	var found, left Names
	most := -1
	for i, k := range c.Rows {
		if k.Why != nil {
			left = append(left, k.Key)
		}
		if !k.Differs {
			continue
		}
		found = append(found, k.Key)
		if most < 0 || math.Abs(k.Shift.Value) > math.Abs(c.Rows[most].Shift.Value) {
			most = i
		}
	}
	out := []Sentence{Say("compare.keys.none", len(c.Rows)), Say("compare.absence.keys")}
	if most >= 0 {
		k := c.Rows[most]
		out = []Sentence{Warn("compare.keys", len(found), len(c.Rows), found),
			Say("compare.most", k.Key, c.A, Number{k.Shift.Value, 2}, Number{k.Shift.Low, 2}, Number{k.Shift.High, 2},
				Word("unit."+c.Measure.Unit()), c.B),
			Say("compare.keys.notshown")}
	}
	if len(left) > 0 {
		out = append(out, Say("compare.leftout", left))
	}
	return out
}
