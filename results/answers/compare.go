package answers

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stats/compare"
)

// CompareAsked asks whether two jigs, lots, shifts, revisions, operators or stations differ.
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
	lines.ByStation:  func(f *lines.Filter, v string) { f.Stations = []string{v} },
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

// Stratified is the comparison of the yields within each stratum: the test of Cochran,
// Mantel and Haenszel, without a correction for continuity; the common odds ratio of Mantel and
// Haenszel with the interval of Robins, Breslow and Greenland.
type Stratified struct {
	Strata int
	Odds   Estimate
	P      Chance
	Why    error // why there is none
}

// KeyComparison is how the readings of one key differ. Both tests count: the
// smaller p doubled, then adjusted for all keys. Within strata there is the rank test
// alone (van Elteren): readings of several strata have no one shape.
type KeyComparison struct {
	Key           string
	N             [2]int
	Shift         Estimate // A less B (Hodges-Lehmann)
	Larger        float64  // how often a reading of A is the larger
	RankP, ShapeP Chance   // Mann-Whitney, Kolmogorov-Smirnov; the second NaN within strata
	HolmP, BHP    Chance
	Differs       bool
	Shifted       bool // it differs in level; else in spread or shape alone
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
	strata := map[string]map[string]*compare.Stratum{} // by key and stratum
	var keys []string
	for i, name := range []string{c.A, c.B} {
		side := c.side(name)
		read, err := side.Read(ctx, s, c.Measure, c.Keys, c.Last)
		if err != nil {
			return err
		}
		for _, k := range read.Keys {
			if strata[k.Label] == nil {
				strata[k.Label] = map[string]*compare.Stratum{}
				keys = append(keys, k.Label)
			}
		}
		var cells map[int64]string
		if c.Across != "" {
			if cells, err = s.Lines.Cells(ctx, side.Filter, c.Across); err != nil {
				return err
			}
		}
		for _, p := range read.Points {
			of, known := strata[p.Key]
			if !known {
				continue
			}
			if of[cells[p.Cell]] == nil {
				of[cells[p.Cell]] = new(compare.Stratum)
			}
			addTo(of[cells[p.Cell]], i, p.Value)
		}
	}
	for _, key := range keys {
		var list []compare.Stratum
		for _, name := range slices.Sorted(maps.Keys(strata[key])) {
			list = append(list, *strata[key][name])
		}
		c.Rows = append(c.Rows, compareKey(key, list, c.Across != "", c.Level()))
	}
	c.adjust()
	return nil
}

func addTo(s *compare.Stratum, side int, value float64) {
	if side == 0 {
		s.X = append(s.X, value)
		return
	}
	s.Y = append(s.Y, value)
}

// compareKey compares within strata, or all together.
func compareKey(key string, strata []compare.Stratum, within bool, confidence float64) KeyComparison {
	k := KeyComparison{Key: key, Shift: Unknown(), Larger: math.NaN(), ShapeP: Chance(math.NaN())}
	var all compare.Stratum
	for _, s := range strata {
		if within && (len(s.X) == 0 || len(s.Y) == 0) {
			continue
		}
		all.X, all.Y = append(all.X, s.X...), append(all.Y, s.Y...)
	}
	k.N = [2]int{len(all.X), len(all.Y)}
	var rank compare.RankTest
	if within {
		rank, k.Why = compare.VanElteren(strata, confidence)
	} else {
		rank, k.Why = compare.MannWhitney(all.X, all.Y, confidence)
	}
	if k.Why != nil {
		return k
	}
	if !within {
		shape, err := compare.KolmogorovSmirnov(all.X, all.Y)
		if err != nil {
			k.Why = err
			return k
		}
		k.ShapeP = Chance(shape.P)
	}
	k.Shift, k.Larger, k.RankP = EstimateOf(rank.Shift, rank.Shifts), rank.Larger, Chance(rank.P)
	return k
}

// p is that of a key before other keys are thought of: of two tests the smaller, doubled.
func (k KeyComparison) p() float64 {
	switch {
	case k.Why != nil:
		return 1
	case math.IsNaN(float64(k.ShapeP)):
		return float64(k.RankP)
	}
	return min(1, 2*float64(min(k.RankP, k.ShapeP)))
}

// adjust corrects for looking at many keys with two tests each. A level is said to differ only
// where the rank test says so by itself, with the same adjustment: that of the shape also finds
// what spreads further about the same level.
func (c *Comparison) adjust() {
	var p []float64
	for _, k := range c.Rows {
		p = append(p, k.p())
	}
	holm, bh := compare.Holm(p), compare.BenjaminiHochberg(p)
	for i := range c.Rows {
		k := &c.Rows[i]
		k.HolmP, k.BHP = Chance(holm[i]), Chance(bh[i])
		k.Differs = k.Why == nil && holm[i] < c.Alpha()
		k.Shifted = k.Differs && (!(k.ShapeP < k.RankP) || 2*float64(k.RankP)*holm[i]/p[i] < c.Alpha())
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
	if w := c.Within; w != nil && w.Why == nil { // what was asked for; the rest is what it was asked to leave out
		return append(c.strataWords(), Say("compare.crude", Word("by."+string(c.Across)), size))
	}
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
	args := []any{Word("by." + string(c.Across)), w.Strata, c.A, Number{w.Odds.Value, 2}, Number{w.Odds.Low, 2}, Number{w.Odds.High, 2}, w.P}
	if float64(w.P) < c.Alpha() {
		return []Sentence{Warn("compare.strata.differ", args...), Say("compare.notshown")}
	}
	return []Sentence{Say("compare.strata.chance", args...), Say("compare.absence")}
}

func (c Comparison) keyWords() []Sentence {
	if c.Yields {
		return nil
	}
	var found, shaped, left Names
	most := -1
	for i, k := range c.Rows {
		if k.Why != nil {
			left = append(left, k.Key)
		}
		if k.Differs {
			found = append(found, k.Key)
		}
		switch {
		case k.Differs && !k.Shifted:
			shaped = append(shaped, k.Key)
		case k.Shifted && (most < 0 || math.Abs(k.Shift.Value) > math.Abs(c.Rows[most].Shift.Value)):
			most = i
		}
	}
	by := Say("compare.tests")
	if c.Across != "" {
		by = Say("compare.tests.within", Word("by."+string(c.Across)))
	}
	out := []Sentence{Say("compare.keys.none", len(c.Rows), by), Say("compare.absence.keys")}
	if len(found) > 0 {
		out = []Sentence{Warn("compare.keys", len(found), len(c.Rows), found, by)}
		if most >= 0 {
			k := c.Rows[most]
			out = append(out, Say("compare.most", k.Key, c.A, Number{k.Shift.Value, 2}, Number{k.Shift.Low, 2}, Number{k.Shift.High, 2},
				Word("unit."+c.Measure.Unit()), c.B))
		}
		if len(shaped) > 0 {
			out = append(out, Say("compare.shaped", shaped))
		}
		out = append(out, Say("compare.keys.notshown"))
	}
	if len(left) > 0 {
		out = append(out, Say("compare.leftout", left))
	}
	return out
}
