package quality

// padjig quality chart: whether the line is as it was.

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/charts"
	"padjig/results/lines"
	"padjig/results/report"
)

type chartOptions struct {
	selection
	kind, reading, subgroup, rules, finding string
	keys                                    keyChoice
	last, baseline                          int
	weight, width, k, h                     float64
	freeze                                  bool
	by, reason                              string

	// made from the flags
	ruleSet answers.Rules
	rule    string // that puts units into subgroups
	size    int    // subgroup size
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

// choice is what the flags choose.
func (c *keyChoice) choice() answers.KeyChoice {
	return answers.KeyChoice{Labels: c.labels, Line: c.line, Group: c.group}
}

func newChart() *cobra.Command {
	var o chartOptions
	cmd := &cobra.Command{
		Use:   "chart",
		Short: "A control chart of a reading or of a share",
		Long: `Draws a control chart. Of readings: xbar-s and xbar-r (subgroups), i-mr
(individual values and moving ranges), ewma, cusum. Of counts: p and np (units that
failed first), c and u (defects). The reading of several keys is their mean in each unit.
Each unit counts once, where it was judged first.

Limits come from a frozen baseline: --freeze takes it from the first --baseline
subgroups of the runs chosen, at least 20, and needs --operator and --reason. It holds
for charts of the same product, reading, keys, jigs, kind and subgroups, here and
on the station's pages. Where nothing is frozen, limits come from the first
--baseline subgroups shown.
--rules chooses run rules by name, or "limits", "default", "zones" or "all"; how
often the set raises a false alarm is said below the chart. Changes of lot,
calibrations, replaced parts and new revisions stand as letters on the chart.`,
		Example: `  padjig quality chart --product GCC-20 --revision C --key 7 --jig J-0042
  padjig quality chart --chart xbar-s --subgroup hour --line R3 --last 5000 --rules zones
  padjig quality chart --chart p --subgroup day
  padjig quality chart --key 7 --jig J-0042 --freeze --operator "Ann Lee" --reason "first good week"`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			wrong := o.check(cmd)
			return o.answer(cmd, wrong, func(s *results.Store, a answers.Selection) (report.Document, error) {
				return o.ask(cmd, s, a)
			})
		},
	}
	o.flags(cmd)
	o.keys.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.kind, "chart", string(charts.DefaultChart), "`KIND` of chart")
	measureFlag(cmd, &o.reading)
	f.StringVar(&o.finding, "finding", "", "of c and u charts: only defects of this `KIND`, such as \"key high\"")
	f.StringVar(&o.subgroup, "subgroup", "",
		"what a point stands for: hour, day, lot, shift, or a `NUMBER` of units\n(default 5 for xbar charts, hour for counts)")
	f.StringVar(&o.rules, "rules", answers.DefaultRules, "run `RULES`")
	f.IntVar(&o.last, "last", answers.Last, "the newest `N` units")
	f.IntVar(&o.baseline, "baseline", answers.BaselineSubgroups, "baseline subgroups: limits come from the first so many")
	f.Float64Var(&o.weight, "weight", answers.Lambda, "of the newest value in an ewma")
	f.Float64Var(&o.width, "width", answers.Width, "limits of an ewma in sigmas")
	f.Float64Var(&o.k, "allowance", answers.Allowance, "of a cusum in sigmas: half the shift to be found")
	f.Float64Var(&o.h, "decision", answers.Decision, "limit of a cusum in sigmas")
	f.BoolVar(&o.freeze, "freeze", false, "freeze the limits computed from these runs")
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever freezes the limits")
	f.StringVar(&o.reason, "reason", "", "why these runs are held to be in order")
	return cmd
}

// check lists everything wrong with the flags of the chart itself.
func (o *chartOptions) check(cmd *cobra.Command) error {
	var wrong []error
	note := func(bad bool, format string, args ...any) {
		if bad {
			wrong = append(wrong, fmt.Errorf(format, args...))
		}
	}
	note(!slices.Contains(charts.ChartKinds, charts.ChartKind(o.kind)), "--chart %q: write %s", o.kind,
		listOf(charts.ChartKinds))
	_, err := lines.ParseMeasure(o.reading)
	note(err != nil, "--measure %q: %w", o.reading, err)
	note(o.last < 2, "--last %d: a chart needs at least 2 units", o.last)
	note(o.baseline < 2, "--baseline %d: limits need at least 2 subgroups", o.baseline)
	note(!(o.weight > 0 && o.weight <= 1), "--weight %v: write more than 0, and 1 at most", o.weight)
	note(!(o.width > 0), "--width %v: write more than 0", o.width)
	note(!(o.k > 0), "--allowance %v: write more than 0", o.k)
	note(!(o.h > 0), "--decision %v: write more than 0", o.h)
	note(o.freeze && (!command.SaysWho(cmd, o.by) || o.reason == ""), "--freeze needs --operator and --reason")
	note(!o.freeze && (command.SaysWho(cmd, o.by) || o.reason != ""), "--operator and --reason belong to --freeze; runs are chosen with --tested-by")
	kind := charts.ChartKind(o.kind)
	if n, err := strconv.Atoi(o.subgroup); err == nil {
		o.rule, o.size = charts.ByUnits, n
		note(n < 2, "--subgroup %d: a subgroup needs at least 2 units", n)
		note(kind == charts.C || kind == charts.U, "--subgroup %d: c and u charts go by hour, day, lot or shift", n)
	} else if o.rule = o.subgroup; o.rule != "" {
		note(o.rule == charts.ByUnits || !slices.Contains(charts.SubgroupRules, o.rule),
			"--subgroup %q: write hour, day, lot, shift or a number of units", o.subgroup)
	}
	rules, err := answers.ParseRules(o.rules)
	o.ruleSet = rules
	return errors.Join(append(wrong, err)...)
}

func listOf[T ~string](list []T) string {
	return strings.Join(command.Each(list, func(v T) string { return string(v) }), ", ")
}

func (o *chartOptions) ask(cmd *cobra.Command, s *results.Store, a answers.Selection) (report.Document, error) {
	q := charts.ChartAsked{Selection: a, Kind: charts.ChartKind(o.kind), Measure: lines.Measure(o.reading),
		Keys: o.keys.choice(), Finding: o.finding,
		Subgroup: o.rule, Size: o.size, Rules: o.ruleSet, Last: o.last, Baseline: o.baseline, Lambda: o.weight, Width: o.width, Allowance: o.k, Decision: o.h}
	if o.freeze {
		if err := o.save(cmd, q); err != nil {
			return report.Document{}, err
		}
	}
	c, err := charts.AskChart(cmd.Context(), s, q)
	if err != nil {
		return report.Document{}, err
	}
	return report.Charted(c), nil
}

func (o *chartOptions) save(cmd *cobra.Command, q charts.ChartAsked) error {
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &o.by, account.Deciding); err != nil {
		return err
	}
	_, err = charts.Freeze(cmd.Context(), store, q, o.by, o.reason)
	if few, is := errors.AsType[*charts.ErrFewSubgroups](err); is {
		return command.Fail(command.Wrong, few, "a wider selection")
	}
	return err
}
