package plant

// padjig plant compare: the yields of the stations side by side.

import (
	"errors"
	"net/url"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/asked"
	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	answer "padjig/results/answers/plant"
	"padjig/results/report"
)

func newCompare() *cobra.Command {
	var q question
	var jigs bool
	var product, span, from, to, interval string
	var revisions []string
	var confidence float64
	cmd := &cobra.Command{
		Use:   "compare --plant ADDRESS",
		Short: "Whether any station yields less than the others",
		Long: `Puts the first-pass yields of the stations side by side, each with its interval,
and holds each against all others together: the difference with its interval, and
Fisher's exact test, its p adjusted after Holm for how many were looked at. With
--jigs each jig is held against all others. Where nothing is said it is about the
product that was tested last, its revision in force, and the last seven days.

A difference does not say why: lots, shifts and people differ too. A yield that is
higher than elsewhere can be a jig that lets bad units through.`,
		Example: `  padjig plant compare --plant postgres://quality@db/plant
  padjig plant compare --plant postgres://db/plant --jigs --span 14d --json
  padjig plant compare --plant postgres://db/plant --product GCC-20 --revision C`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			sure := asked.Certainty{Confidence: confidence, Interval: interval}
			params := func(zone *time.Location) (choice.Asked, error) {
				v := url.Values{"product": {product}, "revision": revisions, choice.Since: {span}, "from": {from}, "to": {to}}
				if cmd.Flags().Changed("simulated") {
					v.Set("simulated", map[bool]string{true: "1", false: "0"}[q.simulated])
				}
				return choice.Parse(v, zone)
			}
			if _, err := params(time.UTC); errors.Join(err, sure.Check()) != nil {
				return command.WrongUse(errors.Join(err, sure.Check()))
			}
			return q.answer(cmd, func(s *results.Store, zone *time.Location) (report.Document, error) {
				a, err := params(zone)
				if err != nil {
					return report.Document{}, err
				}
				chosen, err := sure.Of(cmd.Context(), s, a, choice.Runs, time.Now())
				if err != nil {
					return report.Document{}, err
				}
				c, err := answer.AskCompare(cmd.Context(), s, answer.CompareAsked{Selection: chosen.Selection, Jigs: jigs})
				return asked.Told(report.PlantCompared(c), chosen), err
			})
		},
	}
	q.flags(cmd)
	f := cmd.Flags()
	f.BoolVar(&jigs, "jigs", false, "jig by jig, not station by station")
	f.StringVar(&product, "product", "", "only of the product with this `CODE` (default the one tested last);\nall for all")
	f.StringSliceVar(&revisions, "revision", nil, "only of these revisions, by `LABEL` (default the newest in force);\nall for all")
	f.StringVar(&span, "span", "", "of this `TIME` up to now: today, days such as 14d, or all (default 7d)")
	f.StringVar(&from, "from", "", "from this `TIME` on: 2026-03-02 or 2026-03-02T14:00")
	f.StringVar(&to, "to", "", "to this `TIME`; a day is taken in whole")
	f.Float64Var(&confidence, "confidence", answers.Confidence, "of the intervals, and of what is called a difference")
	f.StringVar(&interval, "interval", "wilson", "of shares: wilson or exact (Clopper-Pearson)")
	command.Group(f, command.OfRuns, "product", "revision", "span", "from", "to", "simulated")
	command.Group(f, command.OfFigures, "confidence", "interval")
	return cmd
}
