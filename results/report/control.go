package report

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/stats"
)

// ChartKind is a kind of control chart.
type ChartKind string

// The kinds of control chart.
const (
	IMR   ChartKind = "i-mr"   // single values and moving ranges
	XbarR ChartKind = "xbar-r" // means and ranges of subgroups
	XbarS ChartKind = "xbar-s" // means and standard deviations of subgroups
	P     ChartKind = "p"      // share of failed units
	NP    ChartKind = "np"     // number of failed units
	C     ChartKind = "c"      // number of findings
	U     ChartKind = "u"      // findings a unit
	EWMA  ChartKind = "ewma"   // weighted moving average of single values
	Cusum ChartKind = "cusum"  // cumulative sums of single values
)

// ChartKinds lists the kinds of control chart.
var ChartKinds = []ChartKind{IMR, XbarR, XbarS, P, NP, C, U, EWMA, Cusum}

// Counts reports whether the chart is of counts rather than of readings.
func (k ChartKind) Counts() bool { return slices.Contains([]ChartKind{P, NP, C, U}, k) }

// Subgroups reports whether a point stands for several readings.
func (k ChartKind) Subgroups() bool { return k == XbarR || k == XbarS }

// Group is what one point of a chart is made from.
type Group struct {
	Name        string
	First, Last int64 // numbers of its runs
	Start       time.Time
	Values      []float64 // of a chart of readings
	Count       int       // of a chart of counts
	Size        float64   // units behind Count
}

// Control is a control chart to be made.
type Control struct {
	Asked
	Kind     ChartKind
	Subject  string // what is charted and how; the name of its baseline
	What     string // the value, such as "closed resistance of key 7"
	Unit     string
	Groups   []Group
	Rules    stats.Rules
	Frozen   *results.Baseline // nil: limits come from the groups themselves
	Happened []results.Happening

	Weight, Width float64 // of an EWMA: weight of the newest, limits in sigmas
	K, H          float64 // of a cusum, in sigmas
}

// baseline is what limits are computed from; it is what gets frozen.
type baseline struct {
	Individuals *stats.Individuals `json:"individuals,omitempty"`
	Subgrouped  *stats.Subgrouped  `json:"subgrouped,omitempty"`
	Proportions *stats.Proportions `json:"proportions,omitempty"`
	Rates       *stats.Rates       `json:"rates,omitempty"`
}

// plot is one of the two panels of a chart.
type plot struct {
	title  string
	points []plotted
}

type plotted struct {
	Group
	value  float64
	limits stats.Limits
	flags  []string
}

// Limits computes what would be frozen, as JSON.
func (c Control) Limits() ([]byte, error) {
	b, err := c.baseline()
	if err != nil {
		return nil, err
	}
	return json.Marshal(b)
}

func (c Control) baseline() (b baseline, err error) {
	if len(c.Groups) == 0 {
		return b, stats.ErrEmpty
	}
	switch c.Kind {
	case XbarR, XbarS:
		make := map[ChartKind]func([][]float64) (stats.Subgrouped, error){XbarR: stats.NewXbarR, XbarS: stats.NewXbarS}[c.Kind]
		s, err := make(c.values())
		b.Subgrouped = &s
		return b, err
	case P, NP:
		p, err := stats.NewProportions(c.samples())
		b.Proportions = &p
		return b, err
	case C, U:
		r, err := stats.NewRates(c.samples())
		b.Rates = &r
		return b, err
	}
	i, err := stats.NewIndividuals(c.singles())
	b.Individuals = &i
	return b, err
}

func (c Control) values() [][]float64 {
	var out [][]float64
	for _, g := range c.Groups {
		out = append(out, g.Values)
	}
	return out
}

func (c Control) singles() []float64 { return slices.Concat(c.values()...) }

func (c Control) samples() []stats.Sample {
	var out []stats.Sample
	for _, g := range c.Groups {
		out = append(out, stats.Sample{Count: g.Count, Size: g.Size})
	}
	return out
}

// inForce is the frozen baseline, or else the one of the groups themselves.
func (c Control) inForce() (b baseline, err error) {
	if c.Frozen == nil {
		return c.baseline()
	}
	err = json.Unmarshal(c.Frozen.Limits, &b)
	fits := b.Individuals != nil && !c.Kind.Subgroups() && !c.Kind.Counts() || b.Subgrouped != nil && c.Kind.Subgroups() ||
		b.Proportions != nil && (c.Kind == P || c.Kind == NP) || b.Rates != nil && (c.Kind == C || c.Kind == U)
	if err == nil && !fits {
		err = fmt.Errorf("baseline %d of %s is of another kind of chart", c.Frozen.Seq, c.Subject)
	}
	return b, err
}

// plots gives the chart and, for some kinds, that of the spread beneath it.
func (c Control) plots() ([]plot, error) {
	b, err := c.inForce()
	if err != nil {
		return nil, err
	}
	switch c.Kind {
	case XbarR, XbarS:
		return c.subgroupPlots(*b.Subgrouped)
	case P, NP:
		z, err := b.Proportions.Standardize(c.samples())
		return c.countPlot(z, c.Kind == P, b.Proportions.Limits, b.Proportions.CountLimits), err
	case C, U:
		z, err := b.Rates.Standardize(c.samples())
		each := func(n int) stats.Limits { return b.Rates.Limits(float64(n)) }
		all := func(n int) stats.Limits { return b.Rates.CountLimits(float64(n)) }
		return c.countPlot(z, c.Kind == U, each, all), err
	case EWMA:
		return c.averagePlot(*b.Individuals)
	case Cusum:
		return c.sumPlot(*b.Individuals)
	}
	return c.individualPlots(*b.Individuals), nil
}

func (c Control) individualPlots(b stats.Individuals) []plot {
	values := c.singles()
	flags := c.Rules.Flags(b.Standardize(values))
	main, ranges := plot{title: c.What}, plot{title: "moving range"}
	moving := stats.MovingRanges(values)
	for i, g := range c.Groups {
		main.points = append(main.points, plotted{g, values[i], b.Limits(), ruleNames(flags[i])})
		if i > 0 {
			ranges.points = append(ranges.points, outside(plotted{Group: g, value: moving[i-1], limits: b.RangeLimits()}))
		}
	}
	return []plot{main, ranges}
}

func (c Control) subgroupPlots(b stats.Subgrouped) ([]plot, error) {
	z, err := b.Standardize(c.values())
	if err != nil {
		return nil, err
	}
	flags := c.Rules.Flags(z)
	spread := map[stats.Spread]string{stats.ByRange: "range", stats.BySD: "standard deviation"}[b.Spread]
	means, spreads := plot{title: "mean of " + c.What}, plot{title: spread}
	for i, g := range c.Groups {
		s, err := stats.Summarize(g.Values)
		if err != nil {
			return nil, err
		}
		means.points = append(means.points, plotted{g, s.Mean, b.Limits(s.N), ruleNames(flags[i])})
		limits, err := b.SpreadLimits(s.N)
		if err != nil {
			return nil, err
		}
		spreads.points = append(spreads.points, outside(plotted{Group: g, value: b.Spread.Of(g.Values), limits: limits}))
	}
	return []plot{means, spreads}, nil
}

func (c Control) countPlot(z []float64, share bool, each, all func(int) stats.Limits) []plot {
	if z == nil {
		return nil
	}
	flags := c.Rules.Flags(z)
	p := plot{title: c.What}
	for i, g := range c.Groups {
		point := plotted{Group: g, value: float64(g.Count), flags: ruleNames(flags[i])}
		if point.limits = all(int(g.Size)); share {
			point.value, point.limits = point.value/g.Size, each(int(g.Size))
		}
		p.points = append(p.points, point)
	}
	return []plot{p}
}

func (c Control) averagePlot(b stats.Individuals) ([]plot, error) {
	e := c.ewma(b.Mean, b.Sigma)
	values, err := e.Values(c.singles())
	p := plot{title: "weighted average of " + c.What}
	for i, v := range values {
		p.points = append(p.points, outside(plotted{Group: c.Groups[i], value: v, limits: e.Limits(i + 1)}))
	}
	return []plot{p}, err
}

func (c Control) ewma(target, sigma float64) stats.EWMA {
	return stats.EWMA{Target: target, Sigma: sigma, Lambda: c.Weight, L: c.Width, Widening: true}
}

// sumPlot shows the larger of the two sums, the lower one downwards.
func (c Control) sumPlot(b stats.Individuals) ([]plot, error) {
	sums := stats.Cusum{Target: b.Mean, K: c.K * b.Sigma, H: c.H * b.Sigma}
	points, err := sums.Points(c.singles())
	p := plot{title: "cumulative sum of " + c.What + " beyond the allowance"}
	for i, s := range points {
		v := s.High
		if s.Low > s.High {
			v = -s.Low
		}
		p.points = append(p.points, outside(plotted{Group: c.Groups[i], value: v, limits: stats.Limits{Lower: -sums.H, Upper: sums.H}}))
	}
	return []plot{p}, err
}

func outside(p plotted) plotted {
	if p.limits.Out(p.value) {
		p.flags = []string{"outside"}
	}
	return p
}

func ruleNames(rules []stats.Rule) []string {
	var out []string
	for _, r := range rules {
		out = append(out, r.String())
	}
	return out
}

// alarmWords say how often the chart raises false alarms.
func (c Control) alarmWords() (string, error) {
	const taken = "for independent, normally distributed points; others raise more"
	switch c.Kind {
	case EWMA:
		e := c.ewma(0, 1)
		if err := e.Check(); err != nil {
			return "", err
		}
		return fmt.Sprintf("Weight %.3g, limits at %.4g sigma: in a process in order one false alarm in %.0f points on average, %s; a shift by one sigma is seen after %.0f.",
			c.Weight, c.Width, e.RunLength(0), taken, e.RunLength(1)), nil
	case Cusum:
		if !(c.H > 0) || c.K < 0 {
			return "", errors.New("a cumulative sum needs an allowance of 0 or more and a limit above 0")
		}
		return fmt.Sprintf("Allowance %.3g sigma, limit %.3g sigma: in a process in order one false alarm in %.0f points on average, %s; a shift by one sigma is seen after %.0f.",
			c.K, c.H, stats.CusumRunLength(c.K, c.H, 0), taken, stats.CusumRunLength(c.K, c.H, 1)), nil
	}
	length := c.Rules.RunLength(0)
	about := ""
	if length.StandardError > 0 {
		about = "about "
	}
	return fmt.Sprintf("Run rules %s: in a process in order one false alarm in %s%.0f points on average, %s.",
		strings.ReplaceAll(c.Rules.String(), ",", ", "), about, length.Mean, taken), nil
}
