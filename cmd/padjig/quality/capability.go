package quality

// padjig quality capability: how well readings keep to their limits.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
)

type capabilityOptions struct {
	selection
	keyChoice
	reading string
	last    int
}

func newCapability() *cobra.Command {
	var o capabilityOptions
	cmd := &cobra.Command{
		Use:   "capability",
		Short: "How well readings keep to their limits",
		Long: `Compares the spread of a reading with its limits, key by key: Cp and Cpk from the
spread within subgroups of five units in a row, Pp and Ppk from the overall
standard deviation, with intervals; one-sided where
there is one limit. Whether the readings are normally distributed is asked
first (Anderson-Darling); where they are not, Pp and Ppk come from percentiles
with an interval by order statistics, which needs 2,897 readings (3,410 with two
limits): with fewer none is given, --last asks for more. Revisions with
different limits are not put together.`,
		Example: `  padjig quality capability --product GCC-20 --revision D
  padjig quality capability --revision D --key 7 --jig J-0043 --last 1000`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return o.answer(cmd, checkReading(o.reading, o.last),
				func(s *results.Store, a answers.Selection) (report.Document, error) {
					c, err := answers.AskCapability(cmd.Context(), s,
						answers.CapabilityAsked{Selection: a, Measure: lines.Measure(o.reading), Keys: o.choice(),
							Last: o.last})
					return report.Capability(c), err
				})
		},
	}
	o.selection.flags(cmd)
	o.keyChoice.flags(cmd)
	measureFlag(cmd, &o.reading)
	cmd.Flags().IntVar(&o.last, "last", answers.Last, "the newest `N` units")
	return cmd
}

func checkReading(reading string, last int) error {
	if _, err := lines.ParseMeasure(reading); err != nil {
		return fmt.Errorf("--measure %q: %w", reading, err)
	}
	if last < 1 {
		return fmt.Errorf("--last %d: ask for 1 unit or more", last)
	}
	return nil
}
