package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/results"
	"padjig/results/report"
	"padjig/results/stats"
)

type chartOptions struct {
	selection
	kind, reading, subgroup, rules, finding string
	keys                                    keyChoice
	last                                    int
	weight, width, k, h                     float64
	freeze                                  bool
	by, reason                              string

	// made from the flags
	ruleSet stats.Rules
	size    int // of subgroups by n
}

// keyChoice are flags that choose keys.
type keyChoice struct {
	labels      []string
	line, group string
}

func (c *keyChoice) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringSliceVar(&c.labels, "key", nil, "of these keys, by `LABEL`")
	f.StringVar(&c.line, "line", "", "of the keys on this `LINE`")
	f.StringVar(&c.group, "group", "", "of the keys in this `GROUP` of the product file")
}

// of gives the keys chosen, nil for all.
func (c *keyChoice) of(ctx context.Context, s *results.Store, f results.Filter) ([]string, error) {
	if c.line == "" && c.group == "" {
		return c.labels, nil
	}
	pad, err := s.Pad(ctx, f)
	if err != nil {
		return nil, err
	}
	labels := slices.Clone(c.labels)
	var lines, groups []string
	for _, k := range pad {
		lines, groups = append(lines, k.Lines...), append(groups, k.Group)
		if c.line != "" && slices.Contains(k.Lines, c.line) || c.group != "" && k.Group == c.group {
			labels = append(labels, k.Label)
		}
	}
	if len(labels) == 0 {
		return nil, wrongUsef("no key on line %q or in group %q: the lines are %s, the groups %s",
			c.line, c.group, distinct(lines), distinct(groups))
	}
	return labels, nil
}

func distinct(names []string) string {
	var out []string
	for _, n := range names {
		if n != "" && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, " ")
}

func (c *keyChoice) words() string {
	switch {
	case len(c.labels) == 1:
		return "key " + c.labels[0]
	case len(c.labels) > 1:
		return "keys " + strings.Join(c.labels, ", ")
	case c.line != "":
		return "the keys on line " + c.line
	case c.group != "":
		return "the keys of group " + c.group
	}
	return "all keys"
}

func newQualityChart() *cobra.Command {
	var o chartOptions
	cmd := &cobra.Command{
		Use:   "chart",
		Short: "A control chart of a reading or of a share",
		Long: `Draws a control chart. Of readings: i-mr (single values and moving ranges),
xbar-r and xbar-s (subgroups), ewma, cusum. Of counts: p and np (units that failed
first), c and u (findings). The reading of several keys is their mean in each unit.
Each unit counts once, where it was judged first.

Limits come from a frozen baseline; --freeze sets it, from the runs chosen, and
needs --by and --reason. Where nothing is frozen they come from the points shown.
--rules chooses run rules by name, or "limits", "default", "zones" or "all"; how
often the set raises a false alarm is said below the chart. Changes of lot,
calibrations, replaced parts and new revisions stand as letters on the chart.`,
		Example: `  padjig quality chart --product GCC-20 --revision C --key 7 --jig J-0042
  padjig quality chart --chart xbar-s --subgroup hour --line R3 --last 5000 --rules zones
  padjig quality chart --chart p --subgroup day
  padjig quality chart --key 7 --jig J-0042 --freeze --by "Ann Lee" --reason "first good week"`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			wrong := o.check()
			return o.answer(cmd, wrong, func(s *results.Store, a report.Asked) (report.Document, error) {
				return o.ask(cmd, s, a)
			})
		},
	}
	o.flags(cmd)
	o.keys.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.kind, "chart", string(report.IMR), "`KIND` of chart")
	f.StringVar(&o.reading, "reading", string(results.Closed), "`READING`: closed, make, break, forward or reverse")
	f.StringVar(&o.finding, "finding", "", "of c and u charts: only findings of this `KIND`, such as \"key high\"")
	f.StringVar(&o.subgroup, "subgroup", "", "what a point stands for: hour, day, lot, or a `NUMBER` of units\n(default 5 for xbar charts, hour for counts)")
	f.StringVar(&o.rules, "rules", "default", "run `RULES`")
	f.IntVar(&o.last, "last", 500, "of the last so many units")
	f.Float64Var(&o.weight, "weight", 0.2, "of the newest value in an ewma")
	f.Float64Var(&o.width, "width", 2.86, "limits of an ewma in sigmas")
	f.Float64Var(&o.k, "allowance", 0.5, "of a cusum in sigmas: half the shift to be found")
	f.Float64Var(&o.h, "decision", 5, "limit of a cusum in sigmas")
	f.BoolVar(&o.freeze, "freeze", false, "freeze the limits computed from these runs")
	f.StringVar(&o.by, "by", "", "`NAME` of whoever freezes the limits")
	f.StringVar(&o.reason, "reason", "", "why these runs are held to be in order")
	return cmd
}

// check lists everything wrong with the flags of the chart itself.
func (o *chartOptions) check() error {
	var wrong []error
	note := func(bad bool, format string, args ...any) {
		if bad {
			wrong = append(wrong, fmt.Errorf(format, args...))
		}
	}
	note(!slices.Contains(report.ChartKinds, report.ChartKind(o.kind)), "--chart %q: write %s", o.kind, listOf(report.ChartKinds))
	note(!slices.Contains(results.Measures, results.Measure(o.reading)), "--reading %q: write %s", o.reading, listOf(results.Measures))
	note(o.last < 2, "--last %d: a chart needs at least 2 units", o.last)
	note(o.freeze && (o.by == "" || o.reason == ""), "--freeze needs --by and --reason")
	note(!o.freeze && (o.by != "" || o.reason != ""), "--by and --reason belong to --freeze")
	kind := report.ChartKind(o.kind)
	if o.subgroup == "" {
		o.subgroup = map[bool]string{true: "hour", false: "5"}[kind.Counts()]
	}
	if n, err := strconv.Atoi(o.subgroup); err == nil {
		o.size = n
		note(n < 2, "--subgroup %d: a subgroup needs at least 2 units", n)
	} else {
		note(!slices.Contains([]string{"hour", "day", "lot"}, o.subgroup), "--subgroup %q: write hour, day, lot or a number of units", o.subgroup)
	}
	note(o.size > 0 && (kind == report.C || kind == report.U), "--subgroup %d: c and u charts go by hour, day or lot", o.size)
	rules, err := stats.ParseRules(o.rules)
	o.ruleSet = rules
	return errors.Join(append(wrong, err)...)
}

func listOf[T ~string](list []T) string {
	return strings.Join(each(list, func(v T) string { return string(v) }), ", ")
}

func (o *chartOptions) ask(cmd *cobra.Command, s *results.Store, a report.Asked) (report.Document, error) {
	c, err := o.control(cmd.Context(), s, a)
	if err != nil {
		return report.Document{}, err
	}
	if o.freeze {
		if err := o.save(cmd, c); err != nil {
			return report.Document{}, err
		}
	}
	if c.Frozen, err = s.FrozenLimits(cmd.Context(), c.Subject, a.Filter.Simulated); err != nil {
		return report.Document{}, err
	}
	if c.Happened, err = s.Happenings(cmd.Context(), a.Filter); err != nil {
		return report.Document{}, err
	}
	d, err := report.Charted(c)
	if len(a.Filter.Jigs) != 1 && c.Kind.Subgroups() {
		d.Remarks = append(d.Remarks, "subgroups mix the jigs of this selection, so what differs between jigs widens the limits: choose one with --jig")
	}
	return d, err
}

// control collects what the chart is made from.
func (o *chartOptions) control(ctx context.Context, s *results.Store, a report.Asked) (report.Control, error) {
	c := report.Control{Asked: a, Kind: report.ChartKind(o.kind), Rules: o.ruleSet,
		Weight: o.weight, Width: o.width, K: o.k, H: o.h}
	var err error
	if c.Kind.Counts() {
		c.Groups, err = o.counts(ctx, s, a.Filter, c.Kind)
		c.What, c.Unit = o.countWords(c.Kind)
	} else {
		c.Groups, err = o.readings(ctx, s, a.Filter, c.Kind)
		c.What, c.Unit = readingWords[results.Measure(o.reading)]+" of "+o.keys.words(), results.Measure(o.reading).Unit()
	}
	c.Subject = o.subject(c, a.Filter)
	if err == nil && len(c.Groups) == 0 {
		err = fmt.Errorf("%w: %s", results.ErrNoUnits, a.Filter)
	}
	return c, err
}

var readingWords = map[results.Measure]string{results.Closed: "closed resistance", results.Make: "bounce on make",
	results.Break: "bounce on break", results.Forward: "diode drop", results.Reverse: "reverse resistance"}

func (o *chartOptions) countWords(kind report.ChartKind) (what, unit string) {
	findings := "findings"
	if o.finding != "" {
		findings = fmt.Sprintf("findings %q", o.finding)
	}
	switch kind {
	case report.P:
		return "share of units that failed first", ""
	case report.NP:
		return "units that failed first", ""
	case report.U:
		return findings + " a unit", ""
	}
	return findings, ""
}

// subject names the chart for its baseline: a chart of other keys, jigs or
// subgroups has limits of its own.
func (o *chartOptions) subject(c report.Control, f results.Filter) string {
	kind := map[report.ChartKind]string{report.EWMA: "single values", report.Cusum: "single values", report.IMR: "single values"}[c.Kind]
	if kind == "" {
		kind = o.kind + " by " + o.subgroup
	}
	text := c.What + ", " + kind
	for _, part := range []struct {
		name string
		list []string
	}{{"product", []string{f.Product}}, {"jig", f.Jigs}, {"press", []string{string(f.Actuation)}}} {
		if joined := strings.Join(part.list, " "); joined != "" {
			text += ", " + part.name + " " + joined
		}
	}
	return text
}

func (o *chartOptions) readings(ctx context.Context, s *results.Store, f results.Filter, kind report.ChartKind) ([]report.Group, error) {
	keys, err := o.keys.of(ctx, s, f)
	if err != nil {
		return nil, err
	}
	series, err := s.Readings(ctx, f, results.Measure(o.reading), keys, o.last)
	if err != nil {
		return nil, err
	}
	by := o.subgroup
	if o.size > 0 {
		by = "n"
	}
	lots := map[int64]string{}
	if by == "lot" {
		if lots, err = s.LotNames(ctx); err != nil {
			return nil, err
		}
	}
	return report.GroupBy(series.Points, kind, by, o.size, func(p results.Point) string {
		switch by {
		case "hour":
			return p.Started.Local().Format("01-02 15h")
		case "day":
			return p.Started.Local().Format("2006-01-02")
		}
		return lots[p.Lots]
	})
}

func (o *chartOptions) counts(ctx context.Context, s *results.Store, f results.Filter, kind report.ChartKind) ([]report.Group, error) {
	if o.size > 0 {
		return o.unitCounts(ctx, s, f)
	}
	by := results.By(o.subgroup)
	y, err := s.Yields(ctx, f, by)
	if err != nil {
		return nil, err
	}
	found := map[string]int{}
	if kind == report.C || kind == report.U {
		list, err := s.Findings(ctx, f, by, o.finding)
		if err != nil {
			return nil, err
		}
		for _, c := range list {
			found[c.Group] = c.Findings
		}
	}
	slices.SortStableFunc(y.Rows, func(a, b results.Yield) int { return int(a.FirstRun - b.FirstRun) })
	var out []report.Group
	for _, r := range y.Rows {
		g := report.Group{Name: r.Groups[0], First: r.FirstRun, Last: r.LastRun, Count: r.Units - r.FirstPassed, Size: float64(r.Units)}
		if kind == report.C || kind == report.U {
			g.Count = found[r.Groups[0]]
		}
		g.Start, _ = time.Parse("2006-01-02T15:04Z", r.Groups[0]) // zero where a point is not a time
		if r.Units > 0 {
			out = append(out, g)
		}
	}
	return out, nil
}

func (o *chartOptions) unitCounts(ctx context.Context, s *results.Store, f results.Filter) ([]report.Group, error) {
	list, err := s.LastUnits(ctx, f, o.last)
	var out []report.Group
	for first := 0; first+o.size <= len(list); first += o.size {
		part := list[first : first+o.size]
		g := report.Group{Name: part[0].Serial, First: part[0].Seq, Last: part[o.size-1].Seq, Start: part[0].Started, Size: float64(o.size)}
		for _, j := range part {
			if !j.Passed {
				g.Count++
			}
		}
		out = append(out, g)
	}
	return out, err
}

func (o *chartOptions) save(cmd *cobra.Command, c report.Control) error {
	limits, err := c.Limits()
	if err != nil {
		return fmt.Errorf("%s: %w", c.What, err)
	}
	store, err := openStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	err = store.SaveBaseline(cmd.Context(), results.Baseline{Subject: c.Subject, Selection: c.Filter.Values().Encode(),
		Points: len(c.Groups), Limits: limits, Simulated: c.Filter.Simulated, By: o.by, Reason: o.reason})
	if err != nil {
		return fail(statusNotRecorded, err, "padjig records check"+storeArgument(store))
	}
	return nil
}
