package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"padjig/results"
	"padjig/results/report"
)

type causesOptions struct {
	selection
	by           string
	heat, places bool
	hits         int
}

func newQualityCauses() *cobra.Command {
	var o causesOptions
	cmd := &cobra.Command{
		Use:   "causes",
		Short: "What units fail with, and where",
		Long: `Counts what failed units failed with when they were judged first, most often
first. --by tells apart by finding, place, key, line or channel of the jig.
--heat draws the counts onto the pad. --places compares each place on each jig
with the same place on all other jigs: what comes up on one jig only is the
jig's, what comes up on all is the product's.`,
		Example: `  padjig quality causes
  padjig quality causes --by place --places --from 2026-03-02
  padjig quality causes --by key --heat --jig J-0042`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			var wrong error
			by := results.CauseBy(o.by)
			if !slices.Contains(results.CauseBys, by) {
				wrong = fmt.Errorf("--by %q: write finding, place, key, line or channel", o.by)
			}
			return o.answer(cmd, wrong, func(s *results.Store, a report.Asked) (report.Document, error) {
				return o.ask(cmd, s, a, by)
			})
		},
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.by, "by", "finding", "tell causes apart by `WHAT`")
	f.BoolVar(&o.heat, "heat", false, "draw the counts of each key onto the pad")
	f.BoolVar(&o.places, "places", false, "compare places on one jig with the same on all others")
	f.IntVar(&o.hits, "hits", 5, "how often a place must have come up on a jig to be compared")
	return cmd
}

func (o *causesOptions) ask(cmd *cobra.Command, s *results.Store, a report.Asked, by results.CauseBy) (report.Document, error) {
	c, err := s.Causes(cmd.Context(), a.Filter, by)
	if err != nil {
		return report.Document{}, err
	}
	d, err := report.Causes(a, c, by, shares[o.interval])
	if err != nil {
		return d, err
	}
	if o.heat {
		if err := o.drawHeat(cmd, s, a, &d); err != nil {
			return d, err
		}
	}
	if o.places {
		list, err := s.Places(cmd.Context(), a.Filter, o.hits)
		if err != nil {
			return d, err
		}
		table, words := report.Places(list, a.Confidence)
		d.Tables = append(d.Tables, table)
		if words != "" {
			d.Conclusion = append(d.Conclusion, words)
		}
	}
	return d, nil
}

func (o *causesOptions) drawHeat(cmd *cobra.Command, s *results.Store, a report.Asked, d *report.Document) error {
	keys, err := s.Pad(cmd.Context(), a.Filter)
	if err != nil {
		return err
	}
	byKey, err := s.Causes(cmd.Context(), a.Filter, results.CauseByKey)
	if err != nil {
		return err
	}
	drawing, chart := report.Heat(keys, byKey)
	d.Drawing, d.Charts = drawing, append(d.Charts, chart)
	return nil
}
