package plant

// padjig plant drift: whether the stations read the same reference units alike.

import (
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	answer "padjig/results/answers/plant"
	"padjig/results/report"
)

func newDrift() *cobra.Command {
	var q question
	var unit, from string
	var confidence float64
	cmd := &cobra.Command{
		Use:   "drift --plant ADDRESS",
		Short: "Whether the stations read the same reference units alike",
		Long: `Compares what the jigs of all stations read of the same good reference units: how
much more or less each reads than the others (the median of them), and how it
moves in a month, each with its interval. What a jig states as its uncertainty and
the scatter of its checks are in it; En is the difference over its expanded
uncertainty (k = 2), and beyond 1 a signal. p is adjusted after Holm for all that
was looked at. That a unit itself wears is taken off, and said.

Take the same unit to every station: one that a jig alone has read says nothing.`,
		Example: `  padjig plant drift --plant postgres://quality@db/plant
  padjig plant drift --plant postgres://db/plant --unit REF-0001 --from 2026-03-02`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !(confidence > 0 && confidence < 1) {
				return command.WrongUsef("--confidence %v: write a number between 0 and 1, such as 0.95", confidence)
			}
			if _, err := dayOf(from, time.UTC); err != nil {
				return err
			}
			return q.answer(cmd, func(s *results.Store, zone *time.Location) (report.Document, error) {
				begin, err := dayOf(from, zone)
				if err != nil {
					return report.Document{}, err
				}
				d, err := answer.AskDrift(cmd.Context(), s, answer.DriftAsked{Unit: unit, From: begin, Simulated: q.simulated, Confidence: confidence})
				return report.PlantDrift(d), err
			})
		},
	}
	q.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&unit, "unit", "", "only of this reference unit, by `SERIAL` number")
	f.StringVar(&from, "from", "", "of checks stored on this `DAY` or later: 2026-03-02")
	f.Float64Var(&confidence, "confidence", answers.Confidence, "of the intervals, and of what is called a difference")
	return cmd
}

// dayOf reads a day, none where none is said.
func dayOf(text string, zone *time.Location) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	day, err := time.ParseInLocation(time.DateOnly, text, zone)
	if err != nil {
		return day, command.WrongUsef("--from %q: write a day, such as 2026-03-02", text)
	}
	return day, nil
}
