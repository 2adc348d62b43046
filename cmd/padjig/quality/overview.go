package quality

// padjig quality overview: the first look of a day.

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/report"
)

func newOverview() *cobra.Command {
	var o selection
	cmd := &cobra.Command{
		Use:   "overview",
		Short: "Where to look first: every product, and what needs attention",
		Long: `Shows the yield of every product and revision, and of every day, and what needs
attention: where the newest units met the stop rule, and places that come up on
one jig more often than on all others.`,
		Example: `  padjig quality overview
  padjig quality overview --from 2026-03-02 --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return o.answer(cmd, nil, func(s *results.Store, a answers.Selection) (report.Document, error) {
				all, err := answers.AskOverview(cmd.Context(), s, answers.OverviewAsked{Selection: a})
				return report.Overview(all), err
			})
		},
	}
	o.flags(cmd)
	return cmd
}
