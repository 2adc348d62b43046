package quality

// padjig quality yield: how many passed at once, how many in the end, and when to stop.

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/asked"
	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/lines"
	"padjig/results/report"
)

type yieldOptions struct {
	selection
	stopFlags
	by     []string
	target shareFlag
}

// stopFlags are the stop rule.
type stopFlags struct {
	last, same int
	least      float64
}

func (o *stopFlags) flags(cmd *cobra.Command) {
	rule := answers.DefaultRule
	f := cmd.Flags()
	f.IntVar(&o.last, "last", rule.Window, "stop when of the newest `N` units ...")
	f.Float64Var(&o.least, "least", rule.MinYield, "... less than this share passed")
	f.IntVar(&o.same, "same", rule.SameRun, "stop when `N` units in a row failed with the same defect")
}

// check lists everything wrong with the rule.
func (o *stopFlags) check() error {
	var wrong []error
	if o.last < 1 {
		wrong = append(wrong, fmt.Errorf("--last %d: write 1 unit or more", o.last))
	}
	if !(o.least >= 0 && o.least <= 1) {
		wrong = append(wrong, fmt.Errorf("--least %v: write a share from 0 to 1", o.least))
	}
	if o.same < 1 {
		wrong = append(wrong, fmt.Errorf("--same %d: write 1 unit or more", o.same))
	}
	return errors.Join(wrong...)
}

func (o *stopFlags) rule() answers.StopRule {
	return answers.StopRule{Window: o.last, MinYield: o.least, SameRun: o.same}
}

func newYield() *cobra.Command {
	var o yieldOptions
	cmd := &cobra.Command{
		Use:   "yield",
		Short: "First-pass and final yield, with n and interval",
		Long: `Counts the units of production and says how many passed when they were judged
first, and how many passed in the end, each with its interval; retests and what
came of them stand beside it. A unit belongs where it was judged first. Runs of
the returns desk and over reference units are left out.

--by groups units by product, revision, lot, membrane, dome, board,
consumables, jig, shift, operator, hour or day (of --zone), and in the records
of a plant by station; several may be given. The newest units are looked at for stops: fewer than --least passed of
--last units, or --same in a row failed with the same defect.`,
		Example: `  padjig quality yield
  padjig quality yield --by jig,shift --from 2026-03-02 --to 2026-03-08
  padjig quality yield --by jig --target 98%
  padjig quality yield --by membrane --interval exact --csv
  padjig quality yield --last 200 --least 0.95 --same 3`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			by, err := parsed(o.by, lines.ParseDimension)
			y := asked.Yield{By: by, Rule: o.rule(), Target: float64(o.target)}
			return o.answerOf(cmd, y.Of(), errors.Join(err, o.check()), func(s *results.Store, c choice.Chosen) (report.Document, error) {
				return y.Answer(cmd.Context(), s, c)
			})
		},
	}
	o.selection.flags(cmd)
	f := cmd.Flags()
	f.StringSliceVar(&o.by, "by", nil, "group by these")
	shareVar(cmd, &o.target, "target", 0, "first-pass yield that is asked for: said what keeps and what misses it")
	o.stopFlags.flags(cmd)
	return cmd
}
