package plant

// padjig plant suspects: which units of the plant are in doubt, and where they are.

import (
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	answer "padjig/results/answers/plant"
	"padjig/results/report"
)

func newSuspects() *cobra.Command {
	var q question
	var cleared bool
	cmd := &cobra.Command{
		Use:   "suspects --plant ADDRESS",
		Short: "List the units in doubt at all stations, shipped ones first",
		Long: `Lists, over all stations, every unit tested on a jig between its last good
verification and the next good one where one failed in between: what padjig jig
suspects says of one jig. Units that were shipped stand first, with the consignee
as far as it was recorded, then by their margin to the limit with what the failed
verification found taken off. Units that passed since on a jig that was good, at
whichever station, are left out; --cleared lists them too.

Exit status: 0 no unit is in doubt, 3 one is.`,
		Example: `  padjig plant suspects --plant postgres://quality@db/plant
  padjig plant suspects --plant postgres://db/plant --cleared --csv`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			doubt := false
			err := q.answer(cmd, func(s *results.Store, _ *time.Location) (report.Document, error) {
				all, err := answer.AskSuspects(cmd.Context(), s, answer.SuspectsAsked{Simulated: q.simulated, Cleared: cleared})
				doubt = len(all.Rows) > 0 && all.Rows[0].Cleared == nil
				return report.PlantSuspects(all), err
			})
			if err == nil && doubt {
				return command.Quiet(command.NotMeasured)
			}
			return err
		},
	}
	q.flags(cmd)
	cmd.Flags().BoolVar(&cleared, "cleared", false, "also those that passed since on a jig that was good")
	return cmd
}
