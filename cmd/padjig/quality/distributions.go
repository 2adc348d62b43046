package quality

// padjig quality distributions: how readings lie, before anything is concluded from them.

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/report"
)

func newDistributions() *cobra.Command {
	var o struct {
		selection
		keyChoice
	}
	cmd := &cobra.Command{
		Use:   "distributions",
		Short: "How the contact resistance of every key is distributed",
		Long: `Takes the contact resistance of every key where each unit was judged first, from
sums over all runs chosen: mean with interval, standard deviation, minimum, median,
maximum, limits and guard band. Revisions with different limits are not put
together.`,
		Example: `  padjig quality distributions --product GCC-20 --revision D
  padjig quality distributions --revision D --jig J-0043 --csv`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return o.answer(cmd, nil, func(s *results.Store, a answers.Selection) (report.Document, error) {
				d, err := answers.AskDistributions(cmd.Context(), s,
					answers.DistributionsAsked{Selection: a, Keys: o.choice()})
				return report.Distributions(d), err
			})
		},
	}
	o.selection.flags(cmd)
	o.keyChoice.flags(cmd)
	return cmd
}
