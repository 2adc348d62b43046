package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/results"
	"padjig/results/report"
	"padjig/results/stats"
)

type yieldOptions struct {
	selection
	by         []string
	last, same int
	least      float64
}

func newQualityYield() *cobra.Command {
	var o yieldOptions
	cmd := &cobra.Command{
		Use:   "yield",
		Short: "First-pass and final yield, with n and interval",
		Long: `Counts the units of production and says how many passed when they were judged
first, and how many passed in the end, each with its interval; retests and what
they cured stand beside it. A unit belongs where it was judged first. Runs of
the returns desk and over reference units are left out.

--by tells units apart by product, revision, lot, membrane, dome, board,
consumables, jig, shift, operator, hour or day (both of UTC); several may be
given. --last looks at the last units for stops: fewer than --least passed of
--last units, or --same in a row failed with the same finding.`,
		Example: `  padjig quality yield
  padjig quality yield --by jig,shift --from 2026-03-02 --to 2026-03-08
  padjig quality yield --by membrane --interval exact --csv
  padjig quality yield --last 200 --least 0.95 --same 3`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			by, err := parsed(o.by, results.ParseBy)
			return o.answer(cmd, err, func(s *results.Store, a report.Asked) (report.Document, error) {
				return o.ask(cmd, s, a, by)
			})
		},
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringSliceVar(&o.by, "by", nil, "tell units apart by these")
	f.IntVar(&o.last, "last", 0, "look for stops over the last so many units")
	f.Float64Var(&o.least, "least", 0.9, "share of --last that must have passed")
	f.IntVar(&o.same, "same", 3, "so many failures in a row with the same finding are a stop")
	return cmd
}

func (o *yieldOptions) ask(cmd *cobra.Command, s *results.Store, a report.Asked, by []results.By) (report.Document, error) {
	y, err := s.Yields(cmd.Context(), a.Filter, by...)
	if err != nil {
		return report.Document{}, err
	}
	d, err := report.Yield(a, y, by, shares[o.interval])
	if err != nil || o.last <= 0 {
		return d, err
	}
	const several = 10 // windows, so that stops of before are seen too
	last, err := s.LastUnits(cmd.Context(), a.Filter, several*o.last)
	if err != nil {
		return d, err
	}
	rule := stats.StopRule{Window: o.last, MinYield: o.least, SameRun: o.same}
	d.Tables = append(d.Tables, report.Stopped(a, last, rule))
	share := float64(y.Total.FirstPassed) / float64(y.Total.Units)
	d.Conclusion = append(d.Conclusion, fmt.Sprintf(
		"At the yield of this selection, chance alone would take a window of %d units below %.4g %% with probability %.2g.",
		o.last, 100*o.least, rule.FalseStops(share)))
	return d, nil
}
