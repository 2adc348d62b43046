package quality

// padjig quality probes: a probe that needs reseating more than the others is the jig's.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/probes"
	"padjig/results/report"
)

type probesOptions struct {
	selection
	runs int
}

func newProbes() *cobra.Command {
	var o probesOptions
	cmd := &cobra.Command{
		Use:   "probes",
		Short: "Find probes of the jigs that stand out",
		Long: `Looks at the contact of the jigs to the tails, channel by channel: how many
units had doubtful contact there, how many failed there and passed the next time
without rework, and how the resistance of the loop through both probes rose.
Each probe is compared with the others of its jig and with the same position on
all other jigs; all comparisons are adjusted together, so that a table in which
nothing differs names a probe in fewer than 5 of 100 cases. Where a probe set
was changed (padjig jig parts), the spread of the loops before and after is compared.`,
		Example: `  padjig quality probes --product GCC-20
  padjig quality probes --product GCC-20 --jig J-0042 --from 2026-03-02
  padjig quality probes --product GCC-20 --csv`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			var wrong error
			if o.runs < 1 {
				wrong = fmt.Errorf("--runs %d: write 1 or more", o.runs)
			}
			return o.answer(cmd, wrong, func(s *results.Store, a answers.Selection) (report.Document, error) {
				p, err := probes.AskProbes(cmd.Context(), s, probes.ProbesAsked{Selection: a, Runs: o.runs})
				return report.Probes(p), err
			})
		},
	}
	o.flags(cmd)
	cmd.Flags().IntVar(&o.runs, "runs", answers.ProbeRuns, "look at the newest `N` runs")
	return cmd
}
