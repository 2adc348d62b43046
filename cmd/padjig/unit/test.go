package unit

// padjig test: one unit, from its product file to its verdict.

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
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
	serial  string
	partial bool

	plant, member string
	plantWait     time.Duration

	engineering bool
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

A pass proves all that the product requires. A jig that cannot prove it, such as one
that cannot hold three keys where diodes are to be tested in rectangles, does not
test the product; with --partial it does what it can, and the verdict is
INCOMPLETE at best.

With --plant the plant is asked what other stations know of the unit: it is
refused for their runs and open returns cases too, and the attempt is counted over
all of them. An answer that takes longer than --plant-wait is not waited for; the
run says then that it was decided without the plant. The plant lifts no refusal.

--engineering tries a definition, released or not, on a unit: it ends in ENGINEERING
whatever it finds. It is no pass and no attempt, counts in no yield, checks no
reference unit, and stands in the unit's life with what it found. The unit still
needs its test. A label that is known with another definition is refused here too.

Exit status: 0 pass, 1 fail, 2 wrong use or a unit that must not be tested,
3 no verdict on the unit (reseat, incomplete, aborted, harness good, any engineering
run; the unit before is still in the jig), 4 could not record.

With --json standard output holds one object, once the result is stored:
  run         id of the run, a UUID
  serial, product, revision, verdict ("pass", "fail", "reseat", "incomplete",
              "aborted", "harness good"; of an engineering run "nothing found" in
              place of "pass"), reason and why (when neither pass nor fail),
              simulated, revision_hash
  started     RFC 3339, UTC;  seconds: how long it took
  jig         serial, model, firmware, adapter
  operator, attempt, actuation; purpose and returns_case, absent in production
  steps[]     step, done, seconds
  seating[]   pin, line, good, loop_resistance
  keys[]      key, lines, verdict ("pass", "fail", "untested"),
              contact_resistance, diode_drop (v, u_v), diode_reverse,
              bounce_on_closing and bounce_on_opening (ms, transitions); null
              when not measured; with actuation "electrical"
              contact_resistance is the jig's own resistor; two_currents (small,
              large: a, contact_resistance; conduction) where the product asks
  pairs[]     lines, insulation_resistance, while: abnormal connections and
              the key that was held meanwhile, "" with nothing pressed;
              forward and backward: the first line fed, and the second; trend
              ("steady", "rising", "falling") of a leak that was watched
  insulation[] step, fed, grounded (lines), insulation_resistance: with nothing
              pressed, as it was read; at least that much lies between any
              line of the one side and any of the other
  proofs      proved[] (what was shown of every key, pin or line that it has to
              be shown of), missing[] (proof, of: required and not proved),
              not_required[]; null in runs of before, of which it is not known
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
	cmd.Flags().BoolVar(&o.partial, "partial", false, "test also where the jig cannot prove what a pass needs; it cannot pass")
	cmd.Flags().BoolVar(&o.engineering, "engineering", false, "try a definition, released or not: no production test")
	command.PlantFlag(cmd, &o.plant)
	command.MemberFlag(cmd, &o.member)
	command.PlantWaitFlag(cmd, &o.plantWait)
	cmd.MarkFlagsRequiredTogether("plant", "member")
	command.ActuationFlag(cmd, &o.Press, "mechanical, electrical or hand")
	command.Group(cmd.Flags(), command.OfUnit, "serial", "partial", "engineering")
	command.Group(cmd.Flags(), command.OfPlant, "plant", "member", "plant-wait")
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
	plant, endAsking, err := command.AskPlant(o.plant, o.member, o.plantWait)
	if err != nil {
		return err
	}
	defer endAsking()
	who := account.Roles
	if o.engineering {
		who = account.Deciding
	}
	if err := command.As(cmd, store, &o.Operator, who); err != nil {
		return err
	}
	job := station.Job{
		Product: p, Serial: o.serial, Operator: o.Operator, How: how, Partial: o.partial, Engineering: o.engineering,
	}
	records := command.RecordsOf(store)
	records.Plant = plant
	return records.Test(cmd.Context(), job, station.Hooks{
		Open: o.Open, Watcher: o.Watcher(cmd, store, nil),
		Show: func(done station.Done) error { return o.show(cmd, p, done, store) },
	})
}

// show tells the verdict of a run that is stored.
func (o *testFlags) show(cmd *cobra.Command, p *product.Product, done station.Done, store *results.Store) error {
	status := command.StatusOf(done.Outcome)
	switch {
	case done.Reference != nil:
		status = referenceStatus(*done.Reference)
	case o.engineering:
		status = command.NotMeasured // no verdict on the unit, whatever was found
	}
	if o.JSON {
		o := object.RunOf(done.Stored)
		o.Reference, o.Stops = object.ReferenceCheckOf(done.Reference), object.StopsOf(done.Stops)
		o.Diagnose(terminal.WordsOf(cmd.OutOrStdout()), done.Stored, p, done.Earlier)
		if err := object.Print(cmd.OutOrStdout(), o); err != nil {
			return command.Fail(command.NotRecorded, fmt.Errorf("print the result: %w", err),
				"the result is stored: padjig unit "+done.Serial)
		}
		return command.Quiet(status)
	}
	testrun.VerdictOf(terminal.Of(cmd.OutOrStdout()), p, done, o.serial+command.StoreArgument(store)).Print()
	if done.Reference != nil {
		sayReference(terminal.Of(cmd.OutOrStdout()), *done.Reference, done.Run)
	}
	sayStops(terminal.Of(cmd.OutOrStdout()), done, command.RecordsOf(store).At)
	return command.Quiet(status)
}

// sayStops says that the line is stopped from now on, or that the unit is not tried again.
func sayStops(to terminal.Terminal, done station.Done, at string) {
	for _, s := range done.Stops {
		c := station.StopOf(s, at)
		fmt.Fprintf(to, "%s\n  next: %s\n", to.Words.Refusal(string(c.Code), c.Args), to.Words.Try(c.Remedy))
	}
}
