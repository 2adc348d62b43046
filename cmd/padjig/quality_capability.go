package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"padjig/results"
	"padjig/results/report"
)

type capabilityOptions struct {
	selection
	keyChoice
	reading string
	last    int
}

func newQualityCapability() *cobra.Command {
	var o capabilityOptions
	cmd := &cobra.Command{
		Use:   "capability",
		Short: "How well readings keep to their limits",
		Long: `Compares the spread of a reading with its limits, key by key: Cp and Cpk from the
spread between neighbours, Pp and Ppk from all of it, with intervals; one-sided
where there is one limit. Whether the readings are normally distributed is asked
first (Anderson-Darling); where they are not, Ppk comes from percentiles with a
bootstrap interval. Revisions with different limits are not put together.`,
		Example: `  padjig quality capability --product GCC-20 --revision D
  padjig quality capability --revision D --key 7 --jig J-0043 --last 1000`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return o.answer(cmd, checkReading(o.reading, o.last), func(s *results.Store, a report.Asked) (report.Document, error) {
				values, m, err := readKeys(cmd.Context(), s, a.Filter, &o.keyChoice, o.reading, o.last)
				if err != nil {
					return report.Document{}, err
				}
				return report.Capability(a, readingWords[m], m.Unit(), values)
			})
		},
	}
	o.selection.flags(cmd)
	o.keyChoice.flags(cmd)
	cmd.Flags().StringVar(&o.reading, "reading", string(results.Closed), "`READING`: closed, make, break, forward or reverse")
	cmd.Flags().IntVar(&o.last, "last", 500, "of the last so many units")
	return cmd
}

func checkReading(reading string, last int) error {
	switch {
	case !slices.Contains(results.Measures, results.Measure(reading)):
		return fmt.Errorf("--reading %q: write %s", reading, listOf(results.Measures))
	case last < 1:
		return fmt.Errorf("--last %d: ask for 1 unit or more", last)
	}
	return nil
}

// readKeys gives the readings of the last units key by key, in the product's order.
func readKeys(ctx context.Context, s *results.Store, f results.Filter, choice *keyChoice, reading string,
	last int) ([]report.KeyValues, results.Measure, error) {
	m := results.Measure(reading)
	labels, err := choice.of(ctx, s, f)
	if err != nil {
		return nil, m, err
	}
	series, err := s.Readings(ctx, f, m, labels, last)
	if err != nil {
		return nil, m, err
	}
	pad, err := s.Pad(ctx, f)
	if err != nil {
		return nil, m, err
	}
	at, out := map[string]int{}, []report.KeyValues{}
	for _, k := range pad {
		if len(labels) == 0 || slices.Contains(labels, k.Label) {
			at[k.Label] = len(out)
			out = append(out, report.KeyValues{Key: k.Label, Limits: series.Limits[k.Label], Beyond: series.Open[k.Label]})
		}
	}
	for _, p := range series.Points {
		if i, ok := at[p.Key]; ok {
			out[i].Values = append(out[i].Values, p.Value)
		}
	}
	return out, m, nil
}
