package quality

// padjig quality compare: whether two of a kind differ by more than chance.

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/lines"
	"padjig/results/report"
)

type compareOptions struct {
	selection
	keyChoice
	by, across, reading string
	last                int
}

func newCompare() *cobra.Command {
	var o compareOptions
	cmd := &cobra.Command{
		Use:   "compare A B",
		Short: "Whether two jigs, lots, shifts, revisions or operators differ",
		Long: `Compares the yields of two jigs, lots, shifts, revisions or operators (Fisher's
exact test, with the difference and its interval), and their readings key by key
(Mann-Whitney and Kolmogorov-Smirnov, adjusted for all keys after Holm and after
Benjamini and Hochberg, with the shift and its interval). --across compares within
each shift, lot, jig ... alone, so that what differs between those does not count:
yields by Cochran, Mantel and Haenszel without correction for continuity, readings
by the rank test of van Elteren. The readings of two revisions are compared even where their
limits differ: readings do not depend on limits.`,
		Example: `  padjig quality compare --by jig J-0041 J-0042 --revision D
  padjig quality compare --by lot M-2615 M-2616 --revision C --across jig
  padjig quality compare --by revision C D --key 7`,
		Args: command.Exactly(2, "the two to compare, such as J-0041 J-0042"),
		RunE: func(cmd *cobra.Command, args []string) error {
			of := choice.Runs.Without(lines.Dimension(o.by))
			return o.answerOf(cmd, of, o.check(args), func(s *results.Store, of choice.Chosen) (report.Document, error) {
				q := answers.CompareAsked{Selection: of.Selection, By: lines.Dimension(o.by), A: args[0], B: args[1],
					Across: lines.Dimension(o.across), Keys: o.choice(), Last: o.last}
				if q.Yields = o.reading == "none"; !q.Yields {
					q.Measure = lines.Measure(o.reading)
				}
				c, err := answers.AskCompare(cmd.Context(), s, q)
				if err != nil {
					return report.Document{}, err
				}
				return report.Compared(c), nil
			})
		},
	}
	o.selection.flags(cmd)
	o.keyChoice.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.by, "by", "jig", "`WHAT` A and B are: jig, lot, shift, revision, operator or, of a plant's\nrecords, station")
	f.StringVar(&o.across, "across", "", "within each of `THESE` alone: jig, lot, shift, revision, operator, day or\nstation")
	f.StringVar(&o.reading, "measure", string(lines.Contact), measures+";\nnone for yields only")
	f.IntVar(&o.last, "last", answers.Last, "readings of the newest `N` units on each side")
	return cmd
}

func (o *compareOptions) check(args []string) error {
	var wrong []error
	if !answers.Comparable(lines.Dimension(o.by)) {
		wrong = append(wrong, fmt.Errorf("--by %q: write jig, lot, shift, revision, operator or station", o.by))
	}
	if args[0] == args[1] {
		wrong = append(wrong, fmt.Errorf("%s is on both sides", args[0]))
	}
	if o.across != "" {
		across, err := lines.ParseDimension(o.across)
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
