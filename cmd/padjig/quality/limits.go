package quality

// padjig quality limits: what other limits would have done to units of before.

import (
	"errors"
	"math"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/report"
)

type limitsOptions struct {
	selection
	keys        []string
	measure     string
	last        int
	coverage    shareFlag
	side        string
	least, most float64
	guard       float64
}

func newLimits() *cobra.Command {
	var o limitsOptions
	cmd := &cobra.Command{
		Use:   "limits",
		Short: "See what limits the process can hold, and what a proposed one would have done",
		Long: `Takes a reading of the last units when they were judged first, and gives for each
key the interval that holds a share of all units with a confidence: for normal
readings, and without a distribution where there are enough of them.

--at-most and --at-least propose a limit: how many of these units it would have
rejected, which of them the limit in force accepts, and the other way round, and
what a guard band of --guard U (U = 2 u of each reading) adds to either; without
--guard it is that of the product.`,
		Example: `  padjig quality limits --product GCC-20 --last 500
  padjig quality limits --product GCC-20 --key 7,8 --at-most 120 --guard 1
  padjig quality limits --product GCC-20 --measure closing --coverage 99% --side upper --csv`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringSliceVar(&o.keys, "key", nil, "only these keys, by `LABEL`")
	f.IntVar(&o.last, "last", answers.Last, "the newest `N` units")
	f.StringVar(&o.side, "side", "upper", "which limits: upper, lower or both")
	f.Float64Var(&o.most, "at-most", 0, "propose this upper limit, in ohm, ms or V")
	f.Float64Var(&o.least, "at-least", 0, "propose this lower limit")
	f.Float64Var(&o.guard, "guard", 0, "guard band times U = 2 u of each reading; else the product's")
	shareVar(cmd, &o.coverage, "coverage", answers.Coverage, "share of units that the interval holds")
	measureFlag(cmd, &o.measure)
	return cmd
}

var sides = map[string]answers.Side{"upper": answers.OnlyUpper, "lower": answers.OnlyLower, "both": answers.BothSides}

func (o *limitsOptions) run(cmd *cobra.Command) error {
	var wrong []error
	m, err := measureOf(o.measure)
	wrong = append(wrong, err)
	side, known := sides[o.side]
	if !known {
		wrong = append(wrong, command.WrongUsef("--side %q: write upper, lower or both", o.side))
	}
	if o.coverage <= 0 || o.coverage >= 1 {
		wrong = append(wrong, command.WrongUsef("--coverage %v: write a share between 0 and 100 %%", &o.coverage))
	}
	if o.last < 1 {
		wrong = append(wrong, command.WrongUsef("--last %d: write how many units", o.last))
	}
	proposed := answers.Spec{Lower: math.Inf(-1), Upper: math.Inf(1)}
	if cmd.Flags().Changed("at-most") {
		proposed.Upper = o.most
	}
	if cmd.Flags().Changed("at-least") {
		proposed.Lower = o.least
	}
	if (cmd.Flags().Changed("at-most") || cmd.Flags().Changed("at-least")) && proposed.Check() != nil {
		wrong = append(wrong, command.WrongUsef("--at-least %v --at-most %v: %v", o.least, o.most, proposed.Check()))
	}
	q := answers.LimitsAsked{Measure: m, Keys: answers.KeyChoice{Labels: o.keys}, Last: o.last, Side: side,
		Coverage: float64(o.coverage)}
	if cmd.Flags().Changed("at-most") || cmd.Flags().Changed("at-least") {
		q.Proposed = &proposed
	}
	if cmd.Flags().Changed("guard") {
		q.Guard = &o.guard
	}
	return o.answer(cmd, errors.Join(wrong...), func(s *results.Store, a answers.Selection) (report.Document, error) {
		q.Selection = a
		l, err := answers.AskLimits(cmd.Context(), s, q)
		return report.Limits(l), err
	})
}
