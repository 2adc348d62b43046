package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/product"
)

// testOptions are the flags of padjig test.
type testOptions struct {
	product, jig, serial, store, press, operator, record string
	baud                                                 int
	json                                                 bool
}

func newTest() *cobra.Command {
	var o testOptions
	cmd := &cobra.Command{
		Use:   "test --product FILE --jig PORT --serial SN",
		Short: "Test one unit and store the result",
		Long: `Tests one unit. Before anything moves it checks the product file, the serial
number and its check character, the room on the disk, and what is known of the
unit: one that passed already, that is another product, or that has used up its
attempts is not tested. The verdict is shown when the result is stored, and
never before.

--jig takes a port, or the serial number of a jig, which is then looked for on
every port. --actuation says how keys are pressed: mechanical (actuators push
them), electrical (the jig joins the two lines of each key through a known
resistor) or hand (a person presses each key once). Without it: mechanical where
the jig can, else hand. An electrical press is a check of jig and harness: when
it finds nothing it ends in HARNESS GOOD, which is no pass and no attempt, counts
in no yield and keeps no unit from its test. What it does find is a fail like any.

Exit status: 0 pass, 1 fail, 2 wrong use or a unit that must not be tested,
3 no verdict on the unit (reseat, incomplete, aborted, harness good), 4 could not
record.

With --json standard output holds one object, once the result is stored:
  run         id of the run, a UUID
  serial, product, revision, verdict ("pass", "fail", "reseat", "incomplete",
              "aborted", "harness good"), reason (when neither pass nor fail), simulated
  started     RFC 3339, UTC;  seconds: how long it took
  jig, operator, attempt, actuation; purpose, absent in production
  keys[]      key, lines, verdict ("pass", "fail", "untested"), closed_ohm,
              u_ohm, bounce_make_ms, bounce_break_ms; null when not measured;
              with actuation "electrical" closed_ohm is the jig's own resistor
  pairs[]     lines, ohm, u_ohm, while: abnormal connections and the key that
              was held meanwhile, "" with nothing pressed; ohm is null when
              it lies beyond what the jig can read; forward_ohm and
              backward_ohm: the first line fed, and the second; trend
              ("steady", "rising", "falling") of a leak that was watched
  findings[]  what, place, key, lines, pins, value, limit, unit; null or ""
              where there is none
  causes[]    of a fail, what it likely is: kind, place, key, lines, pins, ohm,
              u_ohm, group (those of one cannot be told apart), probability
  check       what would tell most next; see padjig diagnose --help
  reference   of a reference unit: good (it showed what it must), why[]
u_ohm is the standard uncertainty (k = 1) of the resistance before it.`,
		Example: `  padjig test --product my-pad.yaml --jig /dev/ttyACM0 --serial GCC-000001-3
  padjig test --product my-pad.yaml --jig J-0042 --serial GCC-000001-3 --json
  padjig test --product my-pad.yaml --jig /tmp/jig0 --serial GCC-000001-3 --store practice.sqlite`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.flags(cmd, "`NAME` of whoever tests, for the record", "print one JSON object in place of the verdict")
	cmd.Flags().StringVar(&o.serial, "serial", "", "serial number `SN` of the unit")
	cmd.Flags().StringVar(&o.press, "actuation", "", "`HOW` keys are pressed: mechanical, electrical or hand")
	needs(cmd, "serial")
	must(cmd.RegisterFlagCompletionFunc("actuation", cobra.FixedCompletions(
		[]string{"mechanical", "electrical", "hand"}, cobra.ShellCompDirectiveNoFileComp)))
	return cmd
}

// flags are those of whatever tests on a jig.
func (o *testOptions) flags(cmd *cobra.Command, operator, asJSON string) {
	f := cmd.Flags()
	f.StringVar(&o.product, "product", "", "product `FILE`")
	f.StringVar(&o.jig, "jig", "", "`PORT` of the jig, or the jig's serial number")
	f.StringVar(&o.operator, "operator", "", operator)
	f.StringVar(&o.record, "record", "", "write the traffic with the jig to `FILE`")
	f.IntVar(&o.baud, "baud", link.DefaultBaud, "speed of the line in bits per second")
	f.BoolVar(&o.json, "json", false, asJSON)
	storeFlag(cmd, &o.store)
	needs(cmd, "product", "jig")
}

func (o *testOptions) run(cmd *cobra.Command) error {
	how, err := pressing(o.press)
	if err != nil {
		return err
	}
	p, err := loadProduct(cmd, o.product)
	if err != nil {
		return err
	}
	if err := station.CheckSerial(p, o.serial); err != nil {
		return err
	}
	store, err := openStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	return recordsOf(store).Test(cmd.Context(), station.Job{Product: p, Serial: o.serial, Operator: o.operator, How: how}, station.Hooks{
		Open: o.open, Watcher: o.watcher(cmd, store, nil),
		Show: func(done station.Done) error { return o.show(cmd, p, done, store) },
	})
}

// watcher shows a test while it goes on; of is the returns case it belongs to,
// nil for production.
func (o *testOptions) watcher(cmd *cobra.Command, store *results.Store, of *returns.Case) station.Watcher {
	messages := terminalOf(cmd.ErrOrStderr())
	if o.json {
		return promptsOnly{messages}
	}
	return &progress{terminal: messages, store: store.Path(), of: of}
}

// show tells the verdict of a run that is stored.
func (o *testOptions) show(cmd *cobra.Command, p *product.Product, done station.Done, store *results.Store) error {
	status := statusOf(done.Outcome)
	if done.Reference != nil {
		status = referenceStatus(*done.Reference)
	}
	if o.json {
		o := object.RunOf(done.Stored)
		o.Reference = object.ReferenceCheckOf(done.Reference)
		o.Diagnose(wordsOf(cmd.OutOrStdout()), done.Stored, p)
		if err := object.Print(cmd.OutOrStdout(), o); err != nil {
			return fail(statusNotRecorded, fmt.Errorf("print the result: %w", err),
				"the result is stored: padjig unit "+done.Serial)
		}
		return quiet(status)
	}
	verdict{terminalOf(cmd.OutOrStdout()), p, done.Stored, done.Cause, o.serial + storeArgument(store)}.print()
	sayPatterns(cmd, store, done.Stored, p)
	if done.Reference != nil {
		sayReference(terminalOf(cmd.OutOrStdout()), *done.Reference, done.Run)
	}
	return quiet(status)
}

func statusOf(o sequence.Outcome) int {
	switch o {
	case sequence.Pass:
		return statusOK
	case sequence.Fail:
		return statusFail
	}
	return statusNotMeasured
}

func pressing(how string) (sequence.Actuation, error) {
	switch a := sequence.Actuation(how); a {
	case "", sequence.Mechanical, sequence.Electrical, sequence.Hand:
		return a, nil
	}
	return "", wrongUsef("--actuation %q: write mechanical, electrical or hand", how)
}

// open opens the jig, and the recording of its traffic if one was asked for.
func (o *testOptions) open(ctx context.Context) (*fixture.Jig, func() error, error) {
	options, closed := link.Options{Baud: o.baud}, func() error { return nil }
	if o.record != "" {
		r, err := newRecording(o.record, besideStore(o.store))
		if err != nil {
			return nil, nil, err
		}
		options.Trace, closed = link.Record(r), r.Close
	}
	jig, err := station.OpenJig(ctx, o.jig, options)
	if err != nil {
		_ = closed() // what was said until then stays
		return nil, nil, err
	}
	return jig, func() error { return errors.Join(jig.Close(), closed()) }, nil
}
