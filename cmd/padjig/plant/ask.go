package plant

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/lines"
	"padjig/results/report"
)

// question is what every question about the stations takes.
type question struct {
	plant           string
	json, csv       bool
	simulated       bool
	withoutPractice bool // there is nothing simulated to ask about
}

func (q *question) flags(cmd *cobra.Command) {
	command.PlantFlag(cmd, &q.plant)
	command.Needs(cmd, "plant")
	command.JSONFlag(cmd, &q.json)
	cmd.Flags().BoolVar(&q.csv, "csv", false, "print the tables as CSV")
	cmd.MarkFlagsMutuallyExclusive("json", "csv")
	if !q.withoutPractice {
		cmd.Flags().BoolVar(&q.simulated, "simulated", false, "of simulated jigs, which are never counted with real ones")
	}
}

// answer opens the records of the plant, has the question answered and prints the document, its
// times by the plant's clock.
func (q *question) answer(cmd *cobra.Command, ask func(s *results.Store, zone *time.Location) (report.Document, error)) error {
	s, err := command.ReadPlant(cmd.Context(), q.plant)
	if err != nil {
		return err
	}
	defer s.Close()
	clock, err := s.Floor.Clock(cmd.Context())
	if err != nil {
		return command.PlantTrouble(err)
	}
	d, err := ask(s, clock.Zone())
	switch {
	case errors.Is(err, lines.ErrNoUnits):
		return command.Fail(command.Wrong, err, "a wider selection, or --simulated for simulated runs")
	case err != nil:
		return command.PlantTrouble(err)
	}
	out := terminal.Of(cmd.OutOrStdout())
	d = d.By(clock.Zone())
	switch {
	case q.json:
		err = object.Print(out, d.Object())
	case q.csv:
		err = d.CSV(out)
	default:
		err = d.Text(out, out.Wide)
	}
	if err != nil {
		return command.Fail(command.NotRecorded, fmt.Errorf("print the answer: %w", err), "")
	}
	return nil
}
