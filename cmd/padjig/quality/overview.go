package quality

// padjig quality overview: the first look of a day.

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers/choice"
	"padjig/results/answers/overview"
	"padjig/results/report"
)

func newOverview() *cobra.Command {
	var o selection
	cmd := &cobra.Command{
		Use:   "overview",
		Short: "Where to look first: every product, and what needs attention",
		Long: `Shows four figures beside those of the time before - first-pass yield, units,
reseats, units that failed and did not pass since -, the yield of every product
and revision, and of every day, and what needs attention: lines that stand still,
jigs that are due or pass fewer units than the others, places that are one jig's
own, probes, the key that keeps least from its limits, and where the newest units
met the stop rule.`,
		Example: `  padjig quality overview
  padjig quality overview --from 2026-03-02 --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return o.answerOf(cmd, choice.Runs, nil, func(s *results.Store, c choice.Chosen) (report.Document, error) {
				all, err := overview.AskOverview(cmd.Context(), s, overview.OverviewAsked{Selection: c.Selection, Before: c.Before})
				return report.Overview(all), err
			})
		},
	}
	o.flags(cmd)
	return cmd
}
