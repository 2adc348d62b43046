// Package charts is the question whether something changed: control charts, the
// baselines that are frozen for them, and what they conclude.
package charts

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/control"
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
	C     ChartKind = "c"      // number of defects
	U     ChartKind = "u"      // defects a unit
	EWMA  ChartKind = "ewma"   // weighted moving average of single values
	Cusum ChartKind = "cusum"  // cumulative sums of single values
)

// ChartKinds lists the kinds of control chart, the default first.
var ChartKinds = []ChartKind{XbarS, XbarR, IMR, EWMA, Cusum, P, NP, C, U}

// DefaultChart is the one of readings that is shown unless another is asked for.
const DefaultChart = XbarS

// ReadingCharts are those of readings.
var ReadingCharts = ChartKinds[:5]

// Counts reports whether the chart is of counts rather than of readings.
func (k ChartKind) Counts() bool { return slices.Contains([]ChartKind{P, NP, C, U}, k) }

// Subgroups reports whether a point stands for several readings.
func (k ChartKind) Subgroups() bool { return k == XbarR || k == XbarS }

// family is what charts share limits in: an EWMA and a cumulative sum look at
// the same single values.
func (k ChartKind) family() ChartKind {
	switch k {
	case EWMA, Cusum:
		return IMR
	case NP:
		return P
	case C:
		return U
	}
	return k
}

// The rules that put units into subgroups.
const (
	ByUnits = "units" // so many in a row
	ByHour  = "hour"
	ByDay   = "day"
	ByLot   = "lot" // in use
	ByShift = "shift"
)

// SubgroupRules lists them, the default of readings first.
var SubgroupRules = []string{ByUnits, ByHour, ByDay, ByLot, ByShift}

// ChartAsked asks whether something changed.
type ChartAsked struct {
	answers.Selection
	Kind     ChartKind         // empty: [DefaultChart]
	Measure  lines.Measure     // empty: contact resistance
	Keys     answers.KeyChoice // the reading of several keys is their mean in each unit
	Finding  string            // of c and u charts: only of this kind
	Subgroup string            // empty: units for readings, hour for counts
	Size     int               // units in a subgroup; 0: [SubgroupSize]
	Rules    answers.Rules     // nil: the default set
	Last     int               // newest units, or rows of counts; 0: [Last]
	Baseline int               // subgroups that limits come from; 0: [BaselineSubgroups]

	Lambda, Width       float64 // of an EWMA; 0: [Lambda], [Width]
	Allowance, Decision float64 // of a cumulative sum, in sigmas; 0: [Allowance], [Decision]
}

// Chart is a control chart.
type Chart struct {
	ChartAsked
	Zone        *time.Location
	Panels      []Panel // the chart, and for some kinds that of the spread
	Limits      [2]float64
	Over        int // readings without a number, left out
	Dropped     int // subgroups that are not full, left out
	Mixed       lines.Mixture
	Identity    Identity
	Frozen      *lines.Baseline
	Base        int // subgroups that the limits come from; 0 when frozen
	RunLength   RunLengths
	Events      []Event
	Conclusions []answers.Sentence

	base baseline
}

// Panel is one of the plots of a chart.
type Panel struct {
	Code   string // "means", "sd", "range", "single", "moving-range", "ewma", "cusum-high", ...
	Points []ChartPoint
	Zones  bool // the rules look at zones
}

// Signals counts the points that signal.
func (p Panel) Signals() (n int) {
	for _, q := range p.Points {
		if len(q.Signals) > 0 {
			n++
		}
	}
	return n
}

// ChartPoint is a point and what it is held against.
type ChartPoint struct {
	Group
	N       int
	Value   float64
	Limits  answers.Limits
	Signals []string // names of rules; "outside" of a panel without rules
}

// Outside is the signal of panels that have limits alone.
const Outside = "outside"

// Group is what one point is made from.
type Group struct {
	Name        string
	First, Last int64 // numbers of its runs
	Start       time.Time
	Values      []float64 // of a chart of readings
	Count       int       // of a chart of counts
	Size        float64   // units behind Count
	Jigs        int       // how many it mixes
}

// AskChart makes a control chart.
func AskChart(ctx context.Context, s *results.Store, a ChartAsked) (Chart, error) {
	c, err := a.gather(ctx, s)
	if err != nil {
		return c.Chart, err
	}
	if c.Frozen, err = s.Lines.FrozenLimits(ctx, c.Identity.String(), a.Filter.Simulated); err != nil {
		return c.Chart, err
	}
	if err := c.setBaseline(); err != nil {
		return c.Chart, err
	}
	if err := c.plot(); err != nil {
		return c.Chart, err
	}
	if err := c.events(ctx, s); err != nil {
		return c.Chart, err
	}
	if c.RunLength, err = c.runLengths(s.Worked); err != nil {
		return c.Chart, err
	}
	c.Conclusions = c.words()
	return c.Chart, nil
}

func (a ChartAsked) withDefaults() (ChartAsked, error) {
	a.Kind, a.Measure = cmp.Or(a.Kind, DefaultChart), cmp.Or(a.Measure, lines.Contact)
	a.Subgroup = cmp.Or(a.Subgroup, map[bool]string{true: ByHour, false: ByUnits}[a.Kind.Counts()])
	a.Size, a.Last = cmp.Or(a.Size, answers.SubgroupSize), cmp.Or(a.Last, answers.Last)
	a.Baseline = cmp.Or(a.Baseline, answers.BaselineSubgroups)
	if a.Rules == nil {
		a.Rules = control.DefaultRules
	}
	a.Lambda, a.Width = cmp.Or(a.Lambda, answers.Lambda), cmp.Or(a.Width, answers.Width)
	a.Allowance, a.Decision = cmp.Or(a.Allowance, answers.Allowance), cmp.Or(a.Decision, answers.Decision)
	return a, a.check()
}

func (a ChartAsked) check() error {
	switch {
	case !slices.Contains(ChartKinds, a.Kind):
		return fmt.Errorf("%q is no chart: write %s", a.Kind, answers.Listed(ChartKinds))
	case !slices.Contains(SubgroupRules, a.Subgroup):
		return fmt.Errorf("subgroup %q: write %s", a.Subgroup, strings.Join(SubgroupRules, ", "))
	case a.Size < 2:
		return fmt.Errorf("subgroup of %d: a subgroup needs at least 2 units", a.Size)
	case a.Subgroup == ByUnits && (a.Kind == C || a.Kind == U):
		return fmt.Errorf("c and u charts go by hour, day, lot or shift, not by subgroups of n units")
	case a.Last < 2:
		return fmt.Errorf("last %d: a chart needs at least 2 units", a.Last)
	}
	return nil
}

// charting is a chart in the making.
type charting struct {
	Chart
	groups []Group
	about  []answers.Sentence // what the values are
}

// StepError is returned where times of steps are charted and no step is chosen.
type StepError struct{ Steps []string }

// Error lists the steps there are.
func (e *StepError) Error() string {
	return "the mean over all steps is no time of anything: choose one as the key, of " + strings.Join(e.Steps, ", ")
}

func (a ChartAsked) gather(ctx context.Context, s *results.Store) (*charting, error) {
	a, err := a.withDefaults()
	c := &charting{Chart: Chart{ChartAsked: a}}
	if err != nil {
		return c, err
	}
	plan, err := s.Floor.Shifts(ctx)
	if err != nil {
		return c, err
	}
	if c.Zone = a.Filter.Zone; c.Zone == nil {
		clock, err := s.Floor.Clock(ctx)
		if err != nil {
			return c, err
		}
		c.Zone = clock.Zone()
		c.Filter.Zone = c.Zone
	}
	if a.Kind.Counts() {
		err = c.counts(ctx, s)
	} else {
		err = c.readings(ctx, s, plan)
	}
	if err != nil {
		return c, err
	}
	if len(c.groups) == 0 {
		return c, a.NoUnits()
	}
	c.Identity, err = c.identity(ctx, s)
	return c, err
}

func (c *charting) readings(ctx context.Context, s *results.Store, plan *floor.ShiftPlan) error {
	read, err := c.Read(ctx, s, c.Measure, c.Keys, c.Last)
	if err != nil {
		return err
	}
	if c.Measure == lines.StepTime && len(read.Labels) == 0 {
		return &StepError{read.Names}
	}
	c.Over, c.about = read.Beyond, answers.MeasureWords(read, c.Measure)
	if len(read.Labels) == 1 {
		c.Limits = read.Limits[read.Labels[0]]
	}
	lots := map[int64]string{}
	if c.Subgroup == ByLot {
		if lots, err = s.Floor.LotNames(ctx); err != nil {
			return err
		}
	}
	units := averaged(read.Points)
	if len(units) == 0 {
		return stats.ErrEmpty
	}
	if !c.Kind.Subgroups() {
		for _, u := range units {
			c.groups = append(c.groups, Group{Name: u.Serial, First: u.Seq, Last: u.Seq, Start: u.Started.In(c.Zone),
				Values: []float64{u.Value}, Jigs: 1})
		}
		return nil
	}
	return c.subgroups(units, func(p lines.Point) string {
		switch at := p.Started.In(c.Zone); c.Subgroup {
		case ByHour:
			return at.Format("01-02 15:00")
		case ByDay:
			return at.Format("2006-01-02")
		case ByLot:
			return lots[p.Lots]
		case ByShift:
			return shiftAt(plan, at)
		}
		return ""
	})
}

// averaged gives each unit the mean over its keys.
func averaged(points []lines.Point) (out []lines.Point) {
	n := 0.0
	for _, p := range points {
		if last := len(out) - 1; last >= 0 && out[last].Seq == p.Seq {
			n++
			out[last].Value += (p.Value - out[last].Value) / n
			continue
		}
		n = 1
		out = append(out, p)
	}
	return out
}

// subgroups cuts units in the order of their runs. One that is not full, or has
// no spread, is dropped.
func (c *charting) subgroups(units []lines.Point, nameOf func(lines.Point) string) error {
	var jigs []map[string]bool
	for i, u := range units {
		name := nameOf(u)
		begins := i == 0 || c.Subgroup == ByUnits && i%c.Size == 0 || c.Subgroup != ByUnits && name != nameOf(units[i-1])
		if begins {
			if c.Subgroup == ByUnits {
				name = u.Serial
			}
			c.groups, jigs = append(c.groups, Group{Name: name, First: u.Seq,
				Start: u.Started.In(c.Zone)}), append(jigs, map[string]bool{})
		}
		g, last := &c.groups[len(c.groups)-1], jigs[len(jigs)-1]
		last[u.Jig] = true
		g.Last, g.Values, g.Jigs = u.Seq, append(g.Values, u.Value), len(last)
	}
	all := len(c.groups)
	c.groups = slices.DeleteFunc(c.groups, func(g Group) bool {
		return len(g.Values) < 2 || c.Subgroup == ByUnits && len(g.Values) < c.Size
	})
	if c.Dropped = all - len(c.groups); len(c.groups) < 2 {
		return &stats.TooFewError{Have: len(c.groups), Need: 2, What: "subgroups"}
	}
	return nil
}

// shiftAt names the shift of a time with the day on which it began.
func shiftAt(plan *floor.ShiftPlan, at time.Time) string {
	if plan == nil {
		return at.Format("01-02")
	}
	for _, shift := range plan.Shifts {
		if day, in := shift.Began(at); in {
			return day.Format("01-02 ") + shift.Name
		}
	}
	return at.Format("01-02")
}

func (c *charting) counts(ctx context.Context, s *results.Store) error {
	if c.Subgroup == ByUnits {
		return c.unitCounts(ctx, s)
	}
	y, err := s.Lines.Yields(ctx, c.Filter, lines.Dimension(c.Subgroup))
	if err != nil {
		return err
	}
	c.Mixed = y.Mixed
	found := map[string]int{}
	if c.Kind.family() == U {
		list, err := s.Lines.Findings(ctx, c.Filter, lines.Dimension(c.Subgroup), c.Finding)
		if err != nil {
			return err
		}
		for _, f := range list {
			found[f.Group] = f.Findings
		}
	}
	slices.SortStableFunc(y.Rows, func(a, b lines.Yield) int { return int(a.FirstRun - b.FirstRun) })
	for _, r := range y.Rows {
		g := Group{Name: r.Groups[0], First: r.FirstRun, Last: r.LastRun, Count: r.Units - r.FirstPassed,
			Size: float64(r.Units)}
		if c.Kind.family() == U {
			g.Count = found[r.Groups[0]]
		}
		if at, err := lines.HourOf(r.Groups[0]); err == nil { // zero where a point is no time
			g.Start = at.In(c.Zone)
		}
		if r.Units > 0 {
			c.groups = append(c.groups, g)
		}
	}
	c.groups = c.groups[max(0, len(c.groups)-c.Last):]
	return nil
}

func (c *charting) unitCounts(ctx context.Context, s *results.Store) error {
	list, err := s.Lines.LastUnits(ctx, c.Filter, c.Last)
	if err != nil {
		return err
	}
	for part := range slices.Chunk(list, c.Size) {
		if len(part) < c.Size {
			c.Dropped++
			continue
		}
		g := Group{Name: part[0].Serial, First: part[0].Seq, Last: part[c.Size-1].Seq,
			Start: part[0].Started.In(c.Zone), Size: float64(c.Size)}
		for _, j := range part {
			if !j.Passed {
				g.Count++
			}
		}
		c.groups = append(c.groups, g)
	}
	return nil
}

// CountCharts are those of counts.
var CountCharts = ChartKinds[5:]
