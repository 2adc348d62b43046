package charts

import (
	"context"
	"errors"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/control"
	"padjig/results/worked"
)

func (c *charting) plot() error {
	switch c.Kind {
	case XbarR, XbarS:
		return c.plotSubgroups(*c.base.Subgrouped)
	case P, NP:
		b := c.base.Proportions
		z, err := b.Standardize(samplesOf(c.groups))
		c.plotCounts(z, b.Limits, b.CountLimits)
		return err
	case C, U:
		b := c.base.Rates
		z, err := b.Standardize(samplesOf(c.groups))
		c.plotCounts(z, func(n int) control.Limits { return b.Limits(float64(n)) },
			func(n int) control.Limits { return b.CountLimits(float64(n)) })
		return err
	case EWMA:
		return c.plotAverage(*c.base.Individuals)
	case Cusum:
		return c.plotSums(*c.base.Individuals)
	}
	c.plotSingles(*c.base.Individuals)
	return nil
}

func (c *charting) zones() bool {
	return slices.ContainsFunc(c.Rules, func(r control.Rule) bool { return r == control.TwoOfThree2 || r == control.FourOfFive1 })
}

func (c *charting) singles() []float64 { return slices.Concat(valuesOf(c.groups)...) }

func (c *charting) plotSingles(b control.Individuals) {
	values := c.singles()
	flags, moving := c.Rules.Flags(b.Standardize(values)), control.MovingRanges(values)
	main, ranges := Panel{Code: "single", Zones: c.zones()}, Panel{Code: "moving-range"}
	for i, g := range c.groups {
		main.Points = append(main.Points, ChartPoint{g, 1, values[i], b.Limits(), ruleNames(flags[i])})
		if i > 0 {
			ranges.Points = append(ranges.Points, outside(ChartPoint{Group: g, N: 2, Value: moving[i-1],
				Limits: b.RangeLimits()}))
		}
	}
	c.Panels = []Panel{main, ranges}
}

func (c *charting) plotSubgroups(b control.Subgrouped) error {
	z, err := b.Standardize(valuesOf(c.groups))
	if err != nil {
		return err
	}
	flags := c.Rules.Flags(z)
	means, spreads := Panel{Code: "means", Zones: c.zones()}, Panel{Code: map[ChartKind]string{XbarR: "range",
		XbarS: "sd"}[c.Kind]}
	for i, g := range c.groups {
		s, err := stats.Summarize(g.Values)
		if err != nil {
			return err
		}
		means.Points = append(means.Points, ChartPoint{g, s.N, s.Mean, b.Limits(s.N), ruleNames(flags[i])})
		limits, err := b.SpreadLimits(s.N)
		if err != nil {
			return err
		}
		spreads.Points = append(spreads.Points, outside(ChartPoint{Group: g, N: s.N, Value: b.Spread.Of(g.Values),
			Limits: limits}))
	}
	c.Panels = []Panel{means, spreads}
	return nil
}

func (c *charting) plotCounts(z []float64, each, all func(int) control.Limits) {
	if z == nil {
		return
	}
	flags := c.Rules.Flags(z)
	p := Panel{Code: string(c.Kind), Zones: c.zones()}
	for i, g := range c.groups {
		n := int(g.Size)
		point := ChartPoint{g, n, float64(g.Count), all(n), ruleNames(flags[i])}
		if c.Kind == P || c.Kind == U {
			point.Value, point.Limits = point.Value/g.Size, each(n)
		}
		p.Points = append(p.Points, point)
	}
	c.Panels = []Panel{p}
}

func (a ChartAsked) ewma(target, sigma float64) control.EWMA {
	return control.EWMA{Target: target, Sigma: sigma, Lambda: a.Lambda, L: a.Width, Widening: true}
}

// plotAverage has limits alone: the average remembers already, and run rules
// would see ghosts.
func (c *charting) plotAverage(b control.Individuals) error {
	e := c.ewma(b.Mean, b.Sigma)
	values, err := e.Values(c.singles())
	p := Panel{Code: "ewma"}
	for i, v := range values {
		p.Points = append(p.Points, outside(ChartPoint{Group: c.groups[i], N: 1, Value: v, Limits: e.Limits(i + 1)}))
	}
	c.Panels = []Panel{p}
	return err
}

// plotSums has a panel a side; the lower sum points downwards.
func (c *charting) plotSums(b control.Individuals) error {
	sums := control.Cusum{Target: b.Mean, K: c.Allowance * b.Sigma, H: c.Decision * b.Sigma}
	points, err := sums.Points(c.singles())
	high, low := Panel{Code: "cusum-high"}, Panel{Code: "cusum-low"}
	for i, s := range points {
		high.Points = append(high.Points, outside(ChartPoint{Group: c.groups[i], N: s.HighRun, Value: s.High,
			Limits: control.Limits{Upper: sums.H}}))
		low.Points = append(low.Points, outside(ChartPoint{Group: c.groups[i], N: s.LowRun, Value: -s.Low,
			Limits: control.Limits{Lower: -sums.H}}))
	}
	c.Panels = []Panel{high, low}
	return err
}

func outside(p ChartPoint) ChartPoint {
	if p.Limits.Out(p.Value) {
		p.Signals = []string{Outside}
	}
	return p
}

func ruleNames(rules []control.Rule) (out []string) {
	for _, r := range rules {
		out = append(out, r.String())
	}
	return out
}

// RunLengths is how long a chart waits for an alarm, in points on average: with nothing
// wrong, and after a shift by one sigma of the points. It is that of the chart that is looked
// at: of all its panels and rules, of the sizes of its points, and of neighbours that go
// together as these do.
type RunLengths struct {
	Quiet, Shifted float64
	Lag1           float64 // of neighbours among the values; NaN where there are too few
	Chance         float64 // what chance alone makes of it, on either side of 0
	Dependent      bool    // it is beyond that, and reckoned with
}

func (c *charting) runLengths(known *worked.Memory) (RunLengths, error) {
	w, values, err := c.watched()
	if err != nil {
		return RunLengths{}, err
	}
	out := RunLengths{}
	out.Lag1, out.Chance = control.Lag1(c.inOrder(values))
	if math.Abs(out.Lag1) > out.Chance {
		out.Dependent, w.Lag = true, out.Lag1
	}
	waits := worked.Out(known, "run lengths of "+w.Name(), func() [2]float64 { return [2]float64{w.RunLength(0).Mean, w.RunLength(1).Mean} })
	out.Quiet, out.Shifted = waits[0], waits[1]
	return out, nil
}

// inOrder are the values that are taken for those of a process in order: the baseline's, and
// enough of what follows to see a dependence in; all where limits were frozen over others. A level that moves later is not
// to pass for neighbours that go together.
func (c *charting) inOrder(values []float64) []float64 {
	if c.Frozen != nil {
		return values
	}
	const enough = 100
	base := c.Base
	if c.Kind.Subgroups() {
		base = len(slices.Concat(valuesOf(c.groups[:c.Base])...))
	}
	return values[:min(len(values), max(base, enough))]
}

// watched is the chart as it is looked at, and the values whose neighbours may go together.
func (c *charting) watched() (control.Watched, []float64, error) {
	sizes := make([]int, len(c.groups))
	for i, g := range c.groups {
		sizes[i] = max(len(g.Values), int(g.Size))
	}
	switch c.Kind {
	case XbarR, XbarS:
		return control.WatchSubgroups(sizes, c.base.Subgrouped.Spread, c.Rules), c.singles(), nil
	case P, NP:
		z, err := c.base.Proportions.Standardize(samplesOf(c.groups))
		return control.WatchProportions(*c.base.Proportions, sizes, c.Rules), z, err
	case C, U:
		z, err := c.base.Rates.Standardize(samplesOf(c.groups))
		return control.WatchRates(*c.base.Rates, sizes, c.Rules), z, err
	case EWMA:
		e := c.ewma(0, 1)
		return control.WatchEWMA(e), c.singles(), e.Check()
	case Cusum:
		if !(c.Decision > 0) || c.Allowance < 0 {
			return control.Watched{}, nil, errors.New("a cumulative sum needs an allowance of 0 or more and a limit above 0")
		}
		return control.WatchCusum(c.Allowance, c.Decision), c.singles(), nil
	}
	return control.WatchSingles(c.Rules), c.singles(), nil
}

// Event is something that happened between two points; the same on several
// jigs is one.
type Event struct {
	Mark   string
	Before int // index of the first point after it
	lines.Event
}

func (c *charting) events(ctx context.Context, s *results.Store) error {
	list, err := s.Lines.Events(ctx, c.Filter)
	if err != nil {
		return err
	}
	for _, h := range list {
		h.At = h.At.In(c.Zone)
		before := slices.IndexFunc(c.groups, func(g Group) bool { return g.First > h.AfterRun })
		if before <= 0 {
			continue
		}
		same := slices.IndexFunc(c.Events,
			func(e Event) bool { return e.Kind == h.Kind && e.Text == h.Text && e.Before == before })
		if same >= 0 {
			c.Events[same].Jig += ", " + h.Jig
			continue
		}
		c.Events = append(c.Events, Event{letter(len(c.Events)), before, h})
	}
	return nil
}

func letter(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return letter(i/26-1) + string(rune('a'+i%26))
}
