package main

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"padjig/results"
	"padjig/results/report"
	"padjig/results/stats"
)

type compareOptions struct {
	selection
	keyChoice
	by, across, reading string
	last                int
}

// sideOf says what two selections can be told apart by, and how a filter says so.
var sideOf = map[results.By]func(*results.Filter, string){
	results.ByJig:      func(f *results.Filter, v string) { f.Jigs = []string{v} },
	results.ByLot:      func(f *results.Filter, v string) { f.Lots = []string{v} },
	results.ByShift:    func(f *results.Filter, v string) { f.Shifts = []string{v} },
	results.ByRevision: func(f *results.Filter, v string) { f.Revisions = []string{v} },
	results.ByOperator: func(f *results.Filter, v string) { f.Operators = []string{v} },
}

func newQualityCompare() *cobra.Command {
	var o compareOptions
	cmd := &cobra.Command{
		Use:   "compare A B",
		Short: "Whether two jigs, lots, shifts, revisions or operators differ",
		Long: `Compares the yields of two jigs, lots, shifts, revisions or operators (Fisher's
exact test, with the difference and its interval), and their readings key by key
(Mann-Whitney and Kolmogorov-Smirnov, adjusted for all keys after Holm and after
Benjamini and Hochberg, with the shift and its interval). --across compares within
each shift, lot, jig ... alone (Mantel-Haenszel), so that what differs between
those does not count. The readings of two revisions are compared even where their
limits differ: readings do not depend on limits.`,
		Example: `  padjig quality compare --by jig J-0041 J-0042 --revision D
  padjig quality compare --by lot M-2615 M-2616 --revision C --across jig
  padjig quality compare --by revision C D --key 7`,
		Args: exactly(2, "the two to compare, such as J-0041 J-0042"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return o.answer(cmd, o.check(args), func(s *results.Store, a report.Asked) (report.Document, error) {
				return o.ask(cmd.Context(), s, a, args)
			})
		},
	}
	o.selection.flags(cmd)
	o.keyChoice.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.by, "by", "jig", "`WHAT` A and B are: jig, lot, shift, revision or operator")
	f.StringVar(&o.across, "across", "", "within each of `THESE` alone: jig, lot, shift, revision, operator or day")
	f.StringVar(&o.reading, "reading", string(results.Closed), "`READING` of the keys; none for yields only")
	f.IntVar(&o.last, "last", 1000, "readings of the last so many units on each side")
	return cmd
}

func (o *compareOptions) check(args []string) error {
	var wrong []error
	if sideOf[results.By(o.by)] == nil {
		wrong = append(wrong, fmt.Errorf("--by %q: write jig, lot, shift, revision or operator", o.by))
	}
	if args[0] == args[1] {
		wrong = append(wrong, fmt.Errorf("%s is on both sides", args[0]))
	}
	if o.across != "" {
		across, err := results.ParseBy(o.across)
		wrong = append(wrong, err)
		if string(across) == o.by {
			wrong = append(wrong, fmt.Errorf("--across %s is what is compared", o.across))
		}
	}
	if o.reading != "none" {
		wrong = append(wrong, checkReading(o.reading, o.last))
	}
	return errors.Join(wrong...)
}

func (o *compareOptions) ask(ctx context.Context, s *results.Store, a report.Asked, names []string) (report.Document, error) {
	c := report.Comparison{Asked: a, By: results.By(o.by), Across: results.By(o.across)}
	var strata [2]map[string]results.Counts
	for i, name := range names {
		f := a.Filter
		sideOf[c.By](&f, name)
		c.Sides[i] = report.Side{Name: name, Values: map[string][]float64{}}
		y, err := s.Yields(ctx, f)
		if err != nil {
			return report.Document{}, err
		}
		if c.Sides[i].Counts = y.Total; y.Mixed.Any() {
			c.Mixed = y.Mixed
		}
		if strata[i], err = o.stratum(ctx, s, f); err != nil {
			return report.Document{}, err
		}
		if o.reading == "none" || y.Total.Units == 0 {
			continue
		}
		if err := o.readings(ctx, s, f, &c, i); err != nil {
			return report.Document{}, err
		}
	}
	c.Strata = tables(strata)
	return report.Compared(c, shares[o.interval])
}

func (o *compareOptions) readings(ctx context.Context, s *results.Store, f results.Filter, c *report.Comparison, side int) error {
	values, m, err := readKeys(ctx, s, f, &o.keyChoice, o.reading, o.last)
	c.What, c.Unit = readingWords[m], m.Unit()
	for _, k := range values {
		c.Sides[side].Values[k.Key] = k.Values
		if !slices.Contains(c.Keys, k.Key) {
			c.Keys = append(c.Keys, k.Key)
		}
	}
	return err
}

// stratum counts each stratum of one side.
func (o *compareOptions) stratum(ctx context.Context, s *results.Store, f results.Filter) (map[string]results.Counts, error) {
	if o.across == "" {
		return nil, nil
	}
	y, err := s.Yields(ctx, f, results.By(o.across))
	counts := map[string]results.Counts{}
	for _, r := range y.Rows {
		counts[r.Groups[0]] = r.Counts
	}
	return counts, err
}

// tables pairs the strata that both sides have.
func tables(strata [2]map[string]results.Counts) []stats.Table2 {
	var out []stats.Table2
	for name, a := range strata[0] {
		if b, both := strata[1][name]; both && a.Units > 0 && b.Units > 0 {
			out = append(out, stats.Table2{{a.FirstPassed, a.Units - a.FirstPassed}, {b.FirstPassed, b.Units - b.FirstPassed}})
		}
	}
	return out
}
