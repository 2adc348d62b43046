package unit

// padjig test: one unit, from its product file to its verdict.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/sequence/product"
)

// testFlags are those of padjig test.
type testFlags struct {
	testrun.Options
	serial string
}

func newTest() *cobra.Command {
	var o testFlags
	cmd := &cobra.Command{
		Use:   "test --product FILE --jig PORT --serial SN",
		Short: "Test one unit and store the result",
		Long: `Tests one unit. Before anything moves it checks the product file, the serial
number and its check character, the room on the disk, and what is known of the
unit: one that passed already, that is another product, or that has used up its
attempts is not tested. Nor is one while the unit before is in the jig, as far as
the jig can tell: between two serial numbers its lid must have been opened. The
verdict is shown when the result is stored, and never before.

--jig takes a port, or the serial number of a jig, which is then looked for on
every port. --actuation says how keys are pressed: mechanical (actuators push
them), electrical (the jig joins the two lines of each key through a known
resistor) or hand (a person presses each key once). Without it: mechanical where
the jig can, else hand. An electrical press is a check of jig and harness: when
it finds nothing it ends in HARNESS GOOD, which is no pass and no attempt, counts
in no yield and keeps no unit from its test. What it does find is a fail like any.

Exit status: 0 pass, 1 fail, 2 wrong use or a unit that must not be tested,
3 no verdict on the unit (reseat, incomplete, aborted, harness good; the unit
before is still in the jig), 4 could not record.

With --json standard output holds one object, once the result is stored:
  run         id of the run, a UUID
  serial, product, revision, verdict ("pass", "fail", "reseat", "incomplete",
              "aborted", "harness good"), reason and why (when neither pass nor
              fail), simulated, revision_hash
  started     RFC 3339, UTC;  seconds: how long it took
  jig         serial, model, firmware, adapter
  operator, attempt, actuation; purpose and returns_case, absent in production
  steps[]     step, done, seconds
  seating[]   pin, line, good, loop_resistance
  keys[]      key, lines, verdict ("pass", "fail", "untested"),
              contact_resistance, diode_drop (v, u_v), diode_reverse,
              bounce_on_closing and bounce_on_opening (ms, transitions); null
              when not measured; with actuation "electrical"
              contact_resistance is the jig's own resistor
  pairs[]     lines, insulation_resistance, while: abnormal connections and
              the key that was held meanwhile, "" with nothing pressed;
              forward and backward: the first line fed, and the second; trend
              ("steady", "rising", "falling") of a leak that was watched
  findings[]  what, place, key, lines, pins, value, u, limit, unit; null or ""
              where there is none; site and how: the place, and what is odd
              about it, each as a list of a code and its arguments
  causes[]    of a fail, what it likely is: kind, place, key, lines, pins, ohm,
              u_ohm, group (those of one cannot be told apart), probability
  check       what would tell most next; see padjig diagnose --help
  reference   of a reference unit: good (it showed what it must), why[]
A resistance is ohm, u_ohm; one that lies beyond what the jig can read has null
for both, and over_range. u, u_ohm and u_v are standard uncertainties (k = 1).`,
		Example: `  padjig test --product my-pad.yaml --jig /dev/ttyACM0 --serial GCC-000001-3
  padjig test --product my-pad.yaml --jig J-0042 --serial GCC-000001-3 --json
  padjig test --product my-pad.yaml --jig /tmp/jig0 --serial GCC-000001-3 --store practice.sqlite`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.Flags(cmd, "`NAME` of whoever tests, for the record", "print one JSON object in place of the verdict")
	cmd.Flags().StringVar(&o.serial, "serial", "", "serial number `SN` of the unit")
	command.ActuationFlag(cmd, &o.Press, "mechanical, electrical or hand")
	command.Needs(cmd, "serial")
	command.Must(cmd.RegisterFlagCompletionFunc("actuation", cobra.FixedCompletions(
		[]string{"mechanical", "electrical", "hand"}, cobra.ShellCompDirectiveNoFileComp)))
	return cmd
}

func (o *testFlags) run(cmd *cobra.Command) error {
	how, err := command.Pressing(o.Press)
	if err != nil {
		return err
	}
	p, err := command.LoadProduct(cmd, o.Product)
	if err != nil {
		return err
	}
	if err := station.CheckSerial(p, o.serial); err != nil {
		return err
	}
	store, err := command.OpenStore(cmd.Context(), o.Store)
	if err != nil {
		return err
	}
	defer store.Close()
	job := station.Job{Product: p, Serial: o.serial, Operator: o.Operator, How: how}
	return command.RecordsOf(store).Test(cmd.Context(), job, station.Hooks{
		Open: o.Open, Watcher: o.Watcher(cmd, store, nil),
		Show: func(done station.Done) error { return o.show(cmd, p, done, store) },
	})
}

// show tells the verdict of a run that is stored.
func (o *testFlags) show(cmd *cobra.Command, p *product.Product, done station.Done, store *results.Store) error {
	status := command.StatusOf(done.Outcome)
	if done.Reference != nil {
		status = referenceStatus(*done.Reference)
	}
	if o.JSON {
		o := object.RunOf(done.Stored)
		o.Reference = object.ReferenceCheckOf(done.Reference)
		o.Diagnose(terminal.WordsOf(cmd.OutOrStdout()), done.Stored, p)
		if err := object.Print(cmd.OutOrStdout(), o); err != nil {
			return command.Fail(command.NotRecorded, fmt.Errorf("print the result: %w", err),
				"the result is stored: padjig unit "+done.Serial)
		}
		return command.Quiet(status)
	}
	testrun.VerdictOf(terminal.Of(cmd.OutOrStdout()), p, done, o.serial+command.StoreArgument(store)).Print()
	sayPatterns(cmd, store, done.Stored, p)
	if done.Reference != nil {
		sayReference(terminal.Of(cmd.OutOrStdout()), *done.Reference, done.Run)
	}
	return command.Quiet(status)
}
