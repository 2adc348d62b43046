// Package unit is what is asked of one unit: padjig test, unit, diagnose, rework and allow.
// Its way through the program is test.go, read from top to bottom: product, serial
// number, records, jig, plan, run, commit, and only then the verdict.
package unit

import (
	"fmt"
	"math"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/asked"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/floor"
	"padjig/results/pads"
	"padjig/results/report"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// Commands are those about one unit: its test, its life, and what is wrong with it.
func Commands() []*cobra.Command {
	return []*cobra.Command{newTest(), newUnit(), newDiagnose(), newRework(), newAllow()}
}

func newUnit() *cobra.Command {
	var store string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "unit SERIAL",
		Short: "Show everything known of a unit",
		Long: `Shows all runs of a unit, oldest first: when, on which jig, what came of it,
and everything that was found, and how it compares with the units tested before it:
whether the same pad was there under another serial number, or this one reads like
another pad than before (docs/samepad.md). A run that was begun and never finished, as when
the computer failed, stands where it was begun: what it had found is not known,
and it counts as an attempt, unless its keys were to be joined electrically. Where a
unit that failed was put stands below the run.

With --json standard output holds one object: serial, runs[], each as
padjig test --json prints it and with compared (conclusion, others, keys, between,
threshold, nearest and before, each with serial, run and log_ratio), and starts[],
the runs that were begun and have no result: start (its id), product, revision,
simulated, started, station, jig, operator, attempt, actuation, purpose as there,
after_run (how many runs the records had by then), and in_hand: it goes on now; if
not, it was never finished. Rework is in reworks[]: deed, place, part, lot, note,
operator, done, case, after_run; products[] says of each that it was tested as
product, simulated, verdict (of the last run), passed and attempts. Then
placements[], as padjig unit place --json prints them (how may be "lifted":
somebody decided to go on without), and owed[]: run and jig of runs whose tag
was not scanned at a fail place. From a plant, retired[] are months (month, folder, by,
dropped) in which its runs have no readings there any more.`,
		Example: `  padjig unit GCC-000001-3
  padjig unit GCC-000001-3 --json`,
		Args: command.Exactly(1, command.OneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			return showUnit(cmd, s, args[0], asJSON)
		},
	}
	command.JSONFlag(cmd, &asJSON)
	command.StoreFlag(cmd, &store)
	cmd.AddCommand(newTag(), newPlace(), newPlaces(), newLift(), newIdentify())
	return cmd
}

func showUnit(cmd *cobra.Command, s *results.Store, serial string, asJSON bool) error {
	life, err := asked.LifeOf(cmd.Context(), s, serial)
	switch {
	case err != nil:
		return command.Fail(command.NotRecorded, err, "padjig records check")
	case !life.Known():
		return command.NeverTested(serial, s.Path())
	case asJSON:
		return object.Print(cmd.OutOrStdout(), life.Object())
	}
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return err
	}
	t := shown{terminal.Of(cmd.OutOrStdout()), clock}
	fmt.Fprintf(t, "unit %s, %s\n", serial, command.Count(len(life.Runs), "run"))
	for _, one := range life.Retired {
		fmt.Fprintln(t, t.Wrap(0, report.Told(t.Words, one)))
	}
	starts, reworks := life.Starts, life.Reworks
	for i, run := range life.Runs {
		for len(starts) > 0 && starts[0].AfterRun < run.Seq {
			t.start(starts[0])
			starts = starts[1:]
		}
		reworks = t.reworks(reworks, run.Seq)
		t.run(i+1, run, life.Compared[i])
		t.placed(life, run.ID)
	}
	for _, start := range starts {
		t.start(start)
	}
	t.reworks(reworks, math.MaxInt64)
	return nil
}

// shown is a unit's life at a terminal, by the plant's clock.
type shown struct {
	terminal.Terminal
	clock floor.Clock
}

// placed says below a run where its unit was put.
func (t shown) placed(l asked.Life, run store.ID) {
	for _, p := range l.Placements {
		if p.Run == run {
			fmt.Fprintf(t, "     %s\n", t.Wrap(5, t.Words.Placing(p.Said(t.clock.Exact(p.At)))))
		}
	}
	for _, o := range l.Owed {
		if o.Run == run {
			fmt.Fprintf(t, "     %s\n", t.Wrap(5, t.Words.Placing(o.Said())))
		}
	}
}

// reworks shows what was done before the run of a number, and gives the rest.
func (t shown) reworks(list []returns.Rework, before int64) []returns.Rework {
	for len(list) > 0 && list[0].AfterRun < before {
		fmt.Fprintf(t, "\n  -  %s  %s\n     %s\n", t.clock.Day(list[0].Done), t.In("REWORK", terminal.Bold), t.Wrap(5, returned.Reworked(list[0], t.Words)))
		list = list[1:]
	}
	return list
}

func (t shown) start(s runs.Start) {
	word, said := "NOT FINISHED", "begun and never finished: what was found is not known"
	if s.InHand {
		word, said = "IN HAND", "being tested now"
	}
	if s.Simulated {
		word += " SIMULATED"
	}
	fmt.Fprintf(t, "\n  -  %s  %s\n", t.clock.Exact(s.Started), t.In(word, terminal.Bold))
	what := attemptOr(s.Attempt, s.Purpose)
	if s.Purpose == sequence.Production && !s.InHand && !s.UsesAttempt() {
		what = "no attempt"
	}
	fmt.Fprintf(t, "     %s, %s, jig %s, keys pressed %s%s\n", command.Named(s.Product, s.Revision), what,
		s.Jig.Serial, command.PressWord(s.Actuation), command.By(s.Operator))
	fmt.Fprintf(t, "     %s, on station %s\n", said, s.Host)
	t.alone(s.Plant)
}

// alone says what was decided without the plant.
func (t shown) alone(plant string) {
	if said := returned.DecidedAlone(t.Words, plant); said != "" {
		fmt.Fprintf(t, "     %s\n", t.Wrap(5, said))
	}
}

func attemptOr(attempt int, purpose sequence.Purpose) string {
	switch {
	case purpose.OfCase():
		return string(purpose) + " at the returns desk"
	case purpose != sequence.Production:
		return string(purpose) + ", no attempt"
	}
	return fmt.Sprintf("attempt %d", attempt)
}

func (t shown) run(number int, r runs.Stored, c pads.Comparison) {
	fmt.Fprintf(t, "\n%3d. %s  %s  %s\n",
		number, t.clock.Exact(r.Started), t.In(testrun.OutcomeWord(r), terminal.Bold), command.Seconds(time.Duration(r.Duration)))
	what := attemptOr(r.Attempt, r.Purpose)
	if r.Outcome == sequence.HarnessGood && r.Purpose == sequence.Production {
		what = "no attempt"
	}
	fmt.Fprintf(t, "     %s, %s, jig %s, keys pressed %s%s\n", command.Named(r.Product, r.Revision), what,
		r.Jig.Serial, command.PressWord(r.Actuation), command.By(r.Operator))
	if text := t.Why(r.Run); text != "" {
		fmt.Fprintf(t, "     %s\n", t.Wrap(5, command.OneLine(text)))
	}
	t.alone(r.Plant)
	if r.Outcome != sequence.HarnessGood {
		for _, text := range []string{t.Words.Proved(r.Run), t.Words.Unproved(r.Run)} {
			if text != "" {
				fmt.Fprintf(t, "     %s\n", t.Wrap(7, text))
			}
		}
	}
	for _, f := range r.Findings {
		fmt.Fprintf(t, "     - %s\n", t.Wrap(7, t.Words.Finding(f)))
	}
	for _, p := range r.Pairs {
		if p.Forward != nil && p.Backward != nil {
			fmt.Fprintf(t, "       %s\n", t.Wrap(9, polarities(p)))
		}
	}
	if closed := closedRange(r.Keys); closed != "" && r.Actuation != sequence.Electrical {
		fmt.Fprintf(t, "     %s\n", closed)
	}
	for _, text := range t.Words.Insulation(r.Run) {
		fmt.Fprintf(t, "     %s\n", t.Wrap(7, text))
	}
	for _, fact := range c.Facts() {
		fmt.Fprintf(t, "     %s\n", t.Wrap(5, t.Words.Pads(fact)))
	}
	fmt.Fprintf(t, "     run %s\n", r.ID)
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
	return fmt.Sprintf("closed: %d of %s measured, from %v (%s) to %v (%s)", measured, command.Count(len(keys), "key"),
		low.Closed.Value, low.Key, high.Closed.Value, high.Key)
}
