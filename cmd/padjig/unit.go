package main

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/runs"
	"padjig/sequence"
)

func newUnit() *cobra.Command {
	var store string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "unit SERIAL",
		Short: "Show everything known of a unit",
		Long: `Shows all runs of a unit, oldest first: when, on which jig, what came of it,
and everything that was found. A run that was begun and never finished, as when
the computer failed, stands where it was begun: what it had found is not known,
and it counts as an attempt, unless its keys were to be joined electrically.

With --json standard output holds one object: serial, runs[], each as
padjig test --json prints it, and starts[], the runs that were begun and have no
result: start (its id), product, revision, simulated, started, station, jig,
operator, attempt, actuation, purpose as there, after_run (how many runs the records
had by then), and in_hand: it goes on now; if not, it was never finished.`,
		Example: `  padjig unit GCC-000001-3
  padjig unit GCC-000001-3 --json`,
		Args: exactly(1, "the serial number of a unit"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := readStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			return showUnit(cmd, s, args[0], asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	storeFlag(cmd, &store)
	return cmd
}

func showUnit(cmd *cobra.Command, s *results.Store, serial string, asJSON bool) error {
	// The starts first: one that gets its run meanwhile is then not missed.
	starts, err := s.Runs.Starts(cmd.Context(), serial)
	if err != nil {
		return fail(statusNotRecorded, err, "padjig records check")
	}
	runs, err := s.Runs.Unit(cmd.Context(), serial)
	switch {
	case err != nil:
		return fail(statusNotRecorded, err, "padjig records check")
	case len(runs)+len(starts) == 0:
		return fail(statusWrong, fmt.Errorf("unit %s was never tested, as far as %s knows", serial, s.Path()),
			"the number on the label, letter by letter, or another --store")
	case asJSON:
		return unitObject(cmd, serial, runs, starts)
	}
	t := terminalOf(cmd.OutOrStdout())
	fmt.Fprintf(t, "unit %s, %s\n", serial, count(len(runs), "run"))
	for i, run := range runs {
		for len(starts) > 0 && starts[0].AfterRun < run.Seq {
			showStart(t, starts[0])
			starts = starts[1:]
		}
		showRun(t, i+1, run)
	}
	for _, start := range starts {
		showStart(t, start)
	}
	return nil
}

func unitObject(cmd *cobra.Command, serial string, runs []runs.Stored, starts []runs.Start) error {
	return object.Print(cmd.OutOrStdout(), object.UnitOf(serial, runs, starts))
}

func showStart(t terminal, s runs.Start) {
	word, said := "NOT FINISHED", "begun and never finished: what was found is not known"
	if s.InHand {
		word, said = "IN HAND", "being tested now"
	}
	if s.Simulated {
		word += " SIMULATED"
	}
	fmt.Fprintf(t, "\n  -  %s  %s\n", s.Started.Local().Format(clockForm), t.in(word, bold))
	what := attemptOr(s.Attempt, s.Purpose)
	if s.Purpose == sequence.Production && !s.InHand && !s.UsesAttempt() {
		what = "no attempt"
	}
	fmt.Fprintf(t, "     %s, %s, jig %s, keys pressed %s%s\n", named(s.Product, s.Revision), what,
		s.Jig.Serial, pressWord(s.Actuation), by(s.Operator))
	fmt.Fprintf(t, "     %s, on station %s\n", said, s.Host)
}

func attemptOr(attempt int, purpose sequence.Purpose) string {
	if purpose != sequence.Production {
		return string(purpose) + " at the returns desk"
	}
	return fmt.Sprintf("attempt %d", attempt)
}

const clockForm = "2006-01-02 15:04:05 MST"

func showRun(t terminal, number int, r runs.Stored) {
	word := strings.ToUpper(string(r.Outcome))
	if r.Simulated {
		word += " SIMULATED"
	}
	fmt.Fprintf(t, "\n%3d. %s  %s  %s\n",
		number, r.Started.Local().Format(clockForm), t.in(word, bold), seconds(time.Duration(r.Duration)))
	what := attemptOr(r.Attempt, r.Purpose)
	if r.Outcome == sequence.HarnessGood && r.Purpose == sequence.Production {
		what = "no attempt"
	}
	fmt.Fprintf(t, "     %s, %s, jig %s, keys pressed %s%s\n", named(r.Product, r.Revision), what,
		r.Jig.Serial, pressWord(r.Actuation), by(r.Operator))
	if text := t.why(r); text != "" {
		fmt.Fprintf(t, "     %s\n", t.wrap(5, oneLine(text)))
	}
	for _, f := range r.Findings {
		fmt.Fprintf(t, "     - %s\n", t.wrap(7, t.words.Finding(f)))
	}
	for _, p := range r.Pairs {
		if p.Forward != nil && p.Backward != nil {
			fmt.Fprintf(t, "       %s\n", t.wrap(9, polarities(p)))
		}
	}
	if closed := closedRange(r.Keys); closed != "" && r.Actuation != sequence.Electrical {
		fmt.Fprintf(t, "     %s\n", closed)
	}
	fmt.Fprintf(t, "     run %s\n", r.ID)
}

func onSimulated(simulated bool) string {
	if simulated {
		return " (on a simulated jig)"
	}
	return ""
}

func by(operator string) string {
	if operator == "" {
		return ""
	}
	return ", by " + operator
}

// polarities says a connection in both polarities, and its trend.
func polarities(p sequence.Pair) string {
	text := fmt.Sprintf("%s to %s: %v, %s to %s: %v", p.Lines[0], p.Lines[1], p.Forward.Value,
		p.Lines[1], p.Lines[0], p.Backward.Value)
	if p.While != "" {
		text += ", while " + p.While + " was held"
	}
	if p.Trend != "" {
		text += ", " + string(p.Trend)
	}
	return text
}

// closedRange sums up the closed resistances in one line.
func closedRange(keys []sequence.KeyResult) string {
	measured := 0
	var low, high sequence.KeyResult
	for _, k := range keys {
		if k.Closed == nil || k.Closed.AtLeast {
			continue
		}
		if measured == 0 || k.Closed.Value < low.Closed.Value {
			low = k
		}
		if measured == 0 || k.Closed.Value > high.Closed.Value {
			high = k
		}
		measured++
	}
	if measured == 0 {
		return ""
	}
	return fmt.Sprintf("closed: %d of %s measured, from %v (%s) to %v (%s)", measured, count(len(keys), "key"),
		low.Closed.Value, low.Key, high.Closed.Value, high.Key)
}
