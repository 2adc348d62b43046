package quality

// padjig quality distributions: how readings lie, before anything is concluded from them.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
)

func newDistributions() *cobra.Command {
	var o struct {
		selection
		keyChoice
		reading string
		last    int
	}
	cmd := &cobra.Command{
		Use:   "distributions",
		Short: "How the readings of every key are distributed",
		Long: `Takes the contact resistance of every key where each unit was judged first, from
sums over all runs chosen: mean with interval, standard deviation, minimum, median,
maximum, limits and guard band. Revisions with different limits are not put
together. Any other --measure is read from the --last units chosen, since no
sums are kept of it; the --key of a loop is a pin, that of a time a step.`,
		Example: `  padjig quality distributions --product GCC-20 --revision D
  padjig quality distributions --revision D --jig J-0043 --csv`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := lines.ParseMeasure(o.reading)
			if err != nil {
				err = fmt.Errorf("--measure %q: %w", o.reading, err)
			}
			return o.answer(cmd, err, func(s *results.Store, a answers.Selection) (report.Document, error) {
				d, err := answers.AskDistributions(cmd.Context(), s,
					answers.DistributionsAsked{Selection: a, Measure: lines.Measure(o.reading), Keys: o.choice(), Last: o.last})
				return report.Distributions(d), err
			})
		},
	}
	o.selection.flags(cmd)
	o.keyChoice.flags(cmd)
	cmd.Flags().StringVar(&o.reading, "measure", string(lines.Contact), measures)
	cmd.Flags().IntVar(&o.last, "last", answers.Last, "newest units that other measures than contact are read from")
	return cmd
}
