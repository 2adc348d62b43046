package plant

// padjig plant stations: which stations there are, and how each stands.

import (
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	answer "padjig/results/answers/plant"

	"padjig/results"
	"padjig/results/report"
)

func newStations() *cobra.Command {
	var q question
	var silent time.Duration
	cmd := &cobra.Command{
		Use:   "stations --plant ADDRESS",
		Short: "Show how every station stands, silent ones first",
		Long: `Shows every station that forwards its records to the plant: when something of it
came last, the units of today with their first-pass yield, lines that stopped
themselves, what must be done first about its jigs, how far its clock is off, and
which version of padjig it runs. Those of which nothing came for --silent stand
first: what they tested since is in no figure of the plant.

Exit status: 0 none is silent, 3 one is.`,
		Example: `  padjig plant stations --plant postgres://quality@db/plant
  padjig plant stations --plant postgres://db/plant --silent 1h --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if silent <= 0 {
				return command.WrongUsef("--silent %v: write a time, such as 15m", silent)
			}
			missing := false
			err := q.answer(cmd, func(s *results.Store, zone *time.Location) (report.Document, error) {
				all, err := answer.AskStations(cmd.Context(), s, answer.StationsAsked{Now: time.Now(), Zone: zone, Silent: silent, Simulated: q.simulated})
				missing = len(all.Rows) > 0 && all.Rows[0].Silent > 0
				return report.PlantStations(all), err
			})
			if err == nil && missing {
				return command.Quiet(command.NotMeasured)
			}
			return err
		},
	}
	q.flags(cmd)
	cmd.Flags().DurationVar(&silent, "silent", answer.Silent, "nothing came for this `TIME`: the station is silent")
	return cmd
}
