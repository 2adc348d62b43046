package quality

// padjig quality causes: what comes up on one jig only is the jig's.

import (
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
)

type causesOptions struct {
	selection
	by   string
	heat bool
	hits int
}

func newCauses() *cobra.Command {
	var o causesOptions
	cmd := &cobra.Command{
		Use:   "causes",
		Short: "What units fail with, and where",
		Long: `Counts what failed units failed with when they were judged first, most often
first. --by groups them by finding, place, key, line or channel of the jig.
--heat draws the findings onto the pad. Each place on each jig is compared with
the same place on all other jigs: what comes up on one jig only is the jig's,
what comes up on all is the product's.`,
		Example: `  padjig quality causes
  padjig quality causes --by place --from 2026-03-02
  padjig quality causes --by key --heat --jig J-0042`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			var wrong error
			by := lines.CauseDimension(o.by)
			if !slices.Contains(lines.CauseDimensions, by) {
				wrong = fmt.Errorf("--by %q: write finding, place, key, line or channel", o.by)
			}
			if o.hits < 1 {
				wrong = errors.Join(wrong, fmt.Errorf("--hits %d: write 1 or more", o.hits))
			}
			return o.answer(cmd, wrong, func(s *results.Store, a answers.Selection) (report.Document, error) {
				c, err := answers.AskCauses(cmd.Context(), s, answers.CausesAsked{Selection: a, By: by, Hits: o.hits})
				d := report.Causes(c)
				if !o.heat {
					d.Drawing = ""
				}
				return d, err
			})
		},
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.by, "by", string(answers.DefaultCause), "group causes by `WHAT`")
	f.BoolVar(&o.heat, "heat", false, "draw the counts of each key onto the pad")
	refuseFlag(cmd, "places", "places are always compared: leave it away")
	f.IntVar(&o.hits, "hits", answers.LeastHits, "least hits of a place to compare, on all jigs together")
	return cmd
}
