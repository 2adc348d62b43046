package plant

// padjig plant life: where a unit was, station by station.

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	answer "padjig/results/answers/plant"
	"padjig/results/report"
)

func newLife() *cobra.Command {
	q := question{withoutPractice: true}
	cmd := &cobra.Command{
		Use:   "life SERIAL --plant ADDRESS",
		Short: "Show what happened to a unit at all stations",
		Long: `Shows everything that the stations recorded of a unit, in order and with the name
of the station: its runs, rework, cases of the returns desk, where fails were put,
overrides and shipments. Runs are in order of the time at which they were stored,
by the plant's clock, so that a wrong clock of a station does not turn them round.
padjig unit SERIAL has each run with its readings, at the station.`,
		Example: `  padjig plant life GCC-000001-3 --plant postgres://quality@db/plant
  padjig plant life GCC-000001-3 --plant postgres://db/plant --json`,
		Args: command.Exactly(1, "the serial number of a unit"),
		RunE: func(cmd *cobra.Command, args []string) error {
			known := true
			err := q.answer(cmd, func(s *results.Store, _ *time.Location) (report.Document, error) {
				l, err := answer.AskLife(cmd.Context(), s, args[0])
				known = err != nil || len(l.Events) > 0
				return report.PlantLife(l), err
			})
			if err == nil && !known {
				return command.Fail(command.Wrong, fmt.Errorf("no station of the plant knows unit %q", args[0]), "the number as it is on the label; what a silent station tested is not here yet")
			}
			return err
		},
	}
	q.flags(cmd)
	return cmd
}
