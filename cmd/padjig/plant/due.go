package plant

// padjig plant due: what is due on the jigs of all stations.

import (
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	answer "padjig/results/answers/plant"
	"padjig/results/answers/upkeep"
	"padjig/results/report"
)

func newDue() *cobra.Command {
	q := question{withoutPractice: true}
	cmd := &cobra.Command{
		Use:   "due --plant ADDRESS",
		Short: "Show what is due on the jigs of all stations",
		Long: `Shows every jig of every station, those that need something done first: how many
days each zero and verification has left, what is left of its reference units'
interval, its most worn part, and how far its readings drifted towards their
limit. It is what padjig jig due says at a station, of all together.

Exit status: 0 nothing stops a jig, 3 a jig must not test units as it stands.`,
		Example: `  padjig plant due --plant postgres://quality@db/plant
  padjig plant due --plant postgres://db/plant --csv`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			stopped := false
			err := q.answer(cmd, func(s *results.Store, _ *time.Location) (report.Document, error) {
				due, err := answer.AskDue(cmd.Context(), s, upkeep.Asked{Now: time.Now()})
				if err != nil {
					return report.Document{}, err
				}
				stopped = len(due.Jigs) > 0 && len(due.Jigs[0].Troubles) > 0 && due.Jigs[0].Troubles[0].Stops()
				return report.PlantDue(due), nil
			})
			if err == nil && stopped {
				return command.Quiet(command.NotMeasured)
			}
			return err
		},
	}
	q.flags(cmd)
	return cmd
}
