package quality

// padjig quality sampling: how many to test of a lot, and what that leaves to chance.

import (
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/answers/plans"
	"padjig/results/report"
)

type samplingOptions struct {
	answerForm
	good, bad, producer, consumer shareFlag
	n, accept, lot                int
	sequential                    bool
	shares                        []string
}

func newSampling() *cobra.Command {
	var o samplingOptions
	cmd := &cobra.Command{
		Use:   "sampling",
		Short: "Plan how many units of a lot to test, and see what the plan does",
		Long: `Finds the smallest single sampling plan whose curve passes two points: lots with
--good bad units are rejected at most with the chance --producer, lots with --bad
are accepted at most with the chance --consumer. With --n and --accept it shows
what a given plan does. Chances are binomial: units drawn from a steady process,
or from a lot so large that drawing them changes nothing.

--lot gives the size of the lot: chances are then those of drawing from it without
putting back (hypergeometric), of a number of bad units, --good rounded down and
--bad rounded up. It adds the quality after inspection, where a rejected lot is
tested whole, and the worst it can become. --sequential adds Wald's test unit by
unit with the same two points, its numbers, and what it does, computed exactly.`,
		Example: `  padjig quality sampling --good 1% --bad 6%
  padjig quality sampling --good 0.1% --bad 1% --producer 5% --consumer 10% --sequential
  padjig quality sampling --n 52 --accept 3 --lot 10000 --csv`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.flags(cmd)
	shareVar(cmd, &o.good, "good", plans.DefaultRisks.Good, "share of bad units in a lot that should be accepted")
	shareVar(cmd, &o.bad, "bad", plans.DefaultRisks.Bad, "share of bad units in a lot that should be rejected")
	shareVar(cmd, &o.producer, "producer", plans.DefaultRisks.Producer, "chance to reject a good lot, at most")
	shareVar(cmd, &o.consumer, "consumer", plans.DefaultRisks.Consumer, "chance to accept a bad lot, at most")
	f := cmd.Flags()
	f.IntVar(&o.n, "n", 0, "test this `NUMBER` of units: show this plan in place of a designed one")
	f.IntVar(&o.accept, "accept", 0, "accept up to this `NUMBER` of failed ones, with --n")
	f.IntVar(&o.lot, "lot", 0, "units in a lot: exact chances, and the quality after inspection")
	f.BoolVar(&o.sequential, "sequential", false, "also the test unit by unit")
	f.StringSliceVar(&o.shares, "at", nil, "show these `SHARES` of bad units")
	return cmd
}

func (o *samplingOptions) run(cmd *cobra.Command) error {
	a := plans.SamplingAsked{
		Risks: plans.Risks{Good: float64(o.good), Producer: float64(o.producer), Bad: float64(o.bad),
			Consumer: float64(o.consumer)},
		Plan: plans.Plan{N: o.n, Accept: o.accept}, Lot: o.lot, Sequential: o.sequential,
	}
	shares, err := parsed(o.shares, func(text string) (float64, error) {
		var s shareFlag
		err := s.Set(text)
		return float64(s), err
	})
	a.Shares = shares
	var wrong []error
	if err != nil {
		wrong = append(wrong, command.WrongUsef("--at %s: %v", strings.Join(o.shares, ","), err))
	}
	if cmd.Flags().Changed("accept") && !cmd.Flags().Changed("n") {
		wrong = append(wrong, command.WrongUsef("--accept goes with --n; without both a plan is designed"))
	}
	if o.lot < 0 {
		wrong = append(wrong, command.WrongUsef("--lot %d: a lot has units", o.lot))
	}
	wrong = append(wrong, a.Risks.Check())
	if err := errors.Join(wrong...); err != nil {
		return command.WrongUse(err)
	}
	s, err := plans.AskSampling(a)
	if err != nil {
		return command.WrongUse(err)
	}
	return o.write(cmd, report.Sampling(s), nil)
}
