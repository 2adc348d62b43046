package unit

// padjig diagnose: a repairer asks what is broken and where, of readings that are stored.

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/reach"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/diagnose"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// diagnoseOptions are the flags of padjig diagnose.
type diagnoseOptions struct {
	product, jig, store string
	known               []string
	check, json         bool
}

func newDiagnose() *cobra.Command {
	var o diagnoseOptions
	cmd := &cobra.Command{
		Use:   "diagnose SERIAL|RUN",
		Short: "Say what is wrong with a unit, physically and where",
		Long: `Turns the stored readings of a run into physical causes with a place, likeliest
first: of the newest run of a unit, or of one run by its id. Causes that no
reading tells apart stand together. Below them is the next check that would
tell most; --check does it at once on the unit in the jig, where a jig can,
and shows what that changes. Nothing of it is stored.

The product is the one of the record; --product takes a file in its place.
--known names other products that are made here: one of them may have been in
the jig. What the units before this one failed with, on this jig and on others,
counts as a reading: what fails on one jig only speaks for that jig's actuator
or probe, what fails on all of them for the units.

With --json standard output holds one object:
  run, serial, product, revision, verdict, simulated
  sentence     everything in one line
  found        how many of groups[], taken together, explain everything;
               those behind are rivals;  probability: that of the explanation
  groups[]     probability, within_limits, causes[], for[], against[]
    causes[]   kind, place, key, lines, pins, between (the keys beside a fault
               of a line), ohm, u_ohm, weight (within the group), rows (of the
               table in docs/diagnosis.md), jig (true: the jig's fault),
               remedy, plant (in the simulator's fault language)
    for[]      reading, nats: how much more likely it makes the group
  masked[]     what, key, by: what could not be tested, and why
  unexplained[] reading, nats: what no cause explains
  check        action, by ("jig" or "person"), key, lines, say, bits, outcomes[]
  patterns[]   place, here of here_of units before failed there on this jig,
               elsewhere of elsewhere_of on others, jig and lot: probability
               that the jig's part or the lot is the reason; it is in groups[]
  terms        of a matrix, in ohm: medians and squares (two ways to take its
               closed readings apart), each overall and lines{}; or null
  looked       with --check: action, says;  before[]: the groups as they were`,
		Example: `  padjig diagnose GCC-000001-3
  padjig diagnose GCC-000001-3 --json
  padjig diagnose GCC-000001-3 --check --jig /dev/ttyACM0
  padjig diagnose GCC-000001-3 --known other-pad.yaml`,
		Args: command.Exactly(1, "the serial number of a unit, or the id of a run"),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.product, "product", "", "product `FILE` in place of the one in the records")
	f.StringSliceVar(&o.known, "known", nil, "`FILE` of another product the unit may be; may be repeated")
	f.BoolVar(&o.check, "check", false, "do the proposed check on the unit in the jig")
	f.StringVar(&o.jig, "jig", "", "`PORT` of the jig for --check, or the jig's serial number")
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	return cmd
}

// examined is a run with its diagnosis.
type examined struct {
	run       runs.Stored
	product   *product.Product
	evidence  readings.Unit
	diagnosis diagnose.Diagnosis
}

func (o *diagnoseOptions) run(cmd *cobra.Command, what string) error {
	if o.check && o.jig == "" {
		return command.WrongUsef("--check needs --jig, the port of the jig that the unit lies in")
	}
	s, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	x, err := o.examine(cmd, s, what)
	if err != nil {
		return err
	}
	if !o.check {
		return o.show(cmd, s, x, nil, nil)
	}
	looked, err := o.look(cmd, s, x)
	if err != nil {
		return err
	}
	before := x.diagnosis
	x.diagnosis = diagnose.Diagnose(x.evidence, looked)
	return o.show(cmd, s, x, &looked, &before)
}

func (o *diagnoseOptions) examine(cmd *cobra.Command, s *results.Store, what string) (*examined, error) {
	run, err := runOf(cmd.Context(), s, what)
	if err != nil {
		return nil, err
	}
	x := &examined{run: run}
	if o.product != "" {
		x.product, err = command.LoadProduct(cmd, o.product)
	} else if x.product, err = s.Runs.Product(cmd.Context(), run); err != nil {
		err = command.Fail(command.NotRecorded, err, "--product with the product's file")
	}
	if err != nil {
		return nil, err
	}
	if x.evidence, err = evidence.Of(run.Run, x.product); err != nil {
		return nil, command.Fail(command.Wrong, err, "the product file that the unit was tested with, or none: the records know it")
	}
	for _, file := range o.known {
		p, err := command.LoadProduct(cmd, file)
		if err != nil {
			return nil, err
		}
		x.evidence.Known = append(x.evidence.Known, p)
	}
	if x.evidence.Earlier, err = s.Care.Earlier(cmd.Context(), run, x.product.References.All()); err != nil {
		return nil, noRecords(err)
	}
	x.diagnosis = diagnose.Diagnose(x.evidence)
	return x, nil
}

// runOf is the run of an id, or the newest one of a serial number.
func runOf(ctx context.Context, s *results.Store, what string) (runs.Stored, error) {
	if id, err := store.ParseID(what); err == nil {
		run, err := s.Runs.Run(ctx, id)
		if errors.Is(err, store.ErrNotFound) {
			return run, command.Fail(command.Wrong, fmt.Errorf("there is no run %s in %s", what, s.Path()), "padjig unit SERIAL --json, which lists the ids")
		}
		return run, noRecords(err)
	}
	made, err := s.Runs.Unit(ctx, what)
	if err != nil {
		return runs.Stored{}, noRecords(err)
	}
	if len(made) == 0 {
		return runs.Stored{}, command.NeverTested(what, s.Path())
	}
	return made[len(made)-1], nil
}

func noRecords(err error) error {
	if err == nil {
		return nil
	}
	return command.Fail(command.NotRecorded, err, "padjig records check")
}

// look does the proposed check on the unit in the jig.
func (o *diagnoseOptions) look(cmd *cobra.Command, s *results.Store, x *examined) (diagnose.Looked, error) {
	ctx, check, words := cmd.Context(), x.diagnosis.Check, terminal.WordsOf(cmd.ErrOrStderr())
	switch {
	case check == nil:
		return diagnose.Looked{}, command.Fail(command.Wrong, errors.New("there is nothing to check: "+words.Diagnosis().Sentence(x.diagnosis)),
			"padjig diagnose without --check")
	case check.By != diagnose.Jig:
		return diagnose.Looked{}, command.Fail(command.Wrong, fmt.Errorf("the next check is not one for the jig: %s", words.Diagnosis().Of(check.Say)),
			"do that, then test the unit again")
	}
	release, err := command.RecordsOf(s).Hold(ctx, x.run.Serial)
	if err != nil {
		return diagnose.Looked{}, err
	}
	defer release()
	jig, err := reach.Jig(ctx, o.jig, link.Options{})
	if err != nil {
		return diagnose.Looked{}, err
	}
	defer jig.Close()
	caps := jig.Capabilities()
	if caps.Simulated != x.run.Simulated {
		return diagnose.Looked{}, command.Fail(command.Wrong, errors.New("one of run and jig is simulated and the other is not"),
			"a jig of the same sort")
	}
	fitness := station.Fitness{Records: command.RecordsOf(s), Product: x.product, Caps: caps, Now: time.Now()}
	zeros, err := fitness.Calibrated(ctx, terminal.Of(cmd.ErrOrStderr()).Warn)
	if err != nil {
		return diagnose.Looked{}, err
	}
	jig = jig.Zeroed(zeros)
	plan, err := runner.NewPlan(x.product, caps, runner.DefaultActuation(x.product, caps))
	if err != nil {
		return diagnose.Looked{}, command.Fail(command.Wrong, fmt.Errorf("plan %s on jig %s: %w", x.product.Code, caps.Serial, err),
			words.Try(station.PlanRemedy(err)))
	}
	looked, err := plan.Look(ctx, jig, *check)
	if err != nil {
		return looked, command.Fail(command.NotMeasured, err, "")
	}
	return looked, nil
}

func (o *diagnoseOptions) show(cmd *cobra.Command, s *results.Store, x *examined, looked *diagnose.Looked, before *diagnose.Diagnosis) error {
	if o.json {
		return object.Print(cmd.OutOrStdout(), object.DiagnosisOf(terminal.WordsOf(cmd.OutOrStdout()), x.run, x.product, x.diagnosis,
			looked, before))
	}
	v := testrun.CausesOf(terminal.Of(cmd.OutOrStdout()), x.diagnosis, x.run.Serial+command.StoreArgument(s))
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return err
	}
	v.Head(clock, x.run)
	if looked != nil {
		v.Changed(*looked, *before)
	}
	v.All()
	return nil
}
