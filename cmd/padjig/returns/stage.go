package returns

// padjig returns first-press, test and exercise: the stages that measure, from the gentlest
// on. They differ in purpose and share their order.

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/product"
)

// stageOptions are the flags of the stages that measure.
type stageOptions struct {
	testrun.Options
	number  int64
	purpose sequence.Purpose

	bound      string // of an exercise, as the next ones
	presses    int
	keys       []string
	stop       bool
	hold, flex time.Duration
}

func (o *stageOptions) command(use, short, long, example string) *cobra.Command {
	cmd := &cobra.Command{
		Use:   use + " SERIAL --product FILE --jig PORT --operator NAME",
		Short: short,
		Long: long + `

Exit status: 0 nothing found, 1 something found, else as padjig test. With --json
standard output holds the run as padjig test --json prints it, with exercised[]:
key, presses, misses, high, sticks, first_bad, minimum_contact_resistance,
maximum_contact_resistance, bounce_on_closing_ms, bounce_on_opening_ms, held and
flexed (seconds, openings, longest_ms).`,
		Example: example,
		Args:    command.Exactly(1, command.OneSerial),
		RunE:    func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	o.Flags(cmd, "`NAME` of whoever tests", "print one JSON object")
	cmd.Flags().Int64Var(&o.number, "case", 0, "`NUMBER` of the case, where it is not the unit's newest one")
	command.OperatorNeeded(cmd)
	return cmd
}

func newFirstPress() *cobra.Command {
	o := &stageOptions{purpose: sequence.FirstPress}
	cmd := o.command("first-press", "Press each key once, gently, before anything else", `Reads everything at rest and presses each key once, with the smallest current of
the jig that still reads, and does nothing twice: a film, a hair or a thread of
silver that made the trouble may be gone after a few presses or milliampere. It
is stored by itself and counts neither as a production attempt nor as a pass. A
key whose value falls into the guard band is left undecided.`,
		`  padjig returns first-press GCC-000001-3 --product pad.yaml --jig J-0042 --operator Jon`)
	cmd.SuggestFor = []string{"gentle"} // its name of before
	command.ActuationFlag(cmd, &o.Press, "mechanical or hand")
	return cmd
}

func newTest() *cobra.Command {
	o := &stageOptions{purpose: sequence.ReturnTest}
	cmd := o.command("test", "Make the production test on a unit that came back", `Makes the production test at production limits on a unit that came back. It
belongs to the case: it is no production attempt, and a pass here does not
release the unit. It is refused until the first press is stored.`,
		`  padjig returns test GCC-000001-3 --product pad.yaml --jig J-0042 --operator Jon`)
	command.ActuationFlag(cmd, &o.Press, "mechanical or hand")
	return cmd
}

func newExercise() *cobra.Command {
	o := &stageOptions{purpose: sequence.Exercise}
	cmd := o.command("exercise", "Press each key many times, hold it, have the tail moved", `Looks for what comes and goes. Each key is pressed so often that not missing once
bounds how often it misses: n presses without a miss bound the rate at 3/n with
95 % confidence, so --bound 1% takes 300 presses. Then each key is held closed and
watched for openings as fast as the jig samples. With --flex a person is asked
to move the tail while keys that reach every line are held and watched: only
where the tail can be reached with the guard closed.

--stop-at-first ends at the first press that is not good and leaves the unit as
it then is. Test keys that were complained of and others alike: --keys limits the
exercise to some, and then it bounds nothing for the rest.`,
		`  padjig returns exercise GCC-000001-3 --product pad.yaml --jig J-0042 --operator Jon --bound 1%
  padjig returns exercise GCC-000001-3 --product pad.yaml --jig J-0042 --operator Jon --keys 7,8
  padjig returns exercise GCC-000001-3 --product pad.yaml --jig J-0042 --operator Jon --flex 5s`)
	f := cmd.Flags()
	f.StringVar(&o.bound, "bound", "1%", "press so often that no miss bounds the rate at `RATE`")
	f.IntVar(&o.presses, "presses", 0, "press each key `N` times, in place of --bound")
	f.StringSliceVar(&o.keys, "keys", nil, "only these keys, by `LABEL`, with commas between")
	f.BoolVar(&o.stop, "stop-at-first", false, "end at the first press that is not good")
	f.DurationVar(&o.hold, "hold", 2*time.Second, "hold and watch each key for this `TIME`, 0 for not")
	f.DurationVar(&o.flex, "flex", 0, "watch for this `TIME` a key while the tail is moved")
	cmd.MarkFlagsMutuallyExclusive("bound", "presses")
	return cmd
}

func (o *stageOptions) run(cmd *cobra.Command, serial string) error {
	how, err := command.Pressing(o.Press)
	if err != nil {
		return err
	}
	if how == sequence.Electrical {
		return command.WrongUsef("--actuation electrical: it does not touch the keys; write mechanical or hand")
	}
	p, err := command.LoadProduct(cmd, o.Product)
	if err != nil {
		return err
	}
	doing, err := o.exercising(cmd, p)
	if err != nil {
		return err
	}
	flags := caseFlags{store: o.Store, number: o.number}
	return flags.with(cmd, command.OpenStore, serial, func(s *results.Store, c returns.Case) error {
		if err := command.As(cmd, s, &o.Operator, account.Desk); err != nil {
			return err
		}
		return command.RecordsOf(s).Test(cmd.Context(), station.Job{
			Product: p, Serial: serial, Operator: o.Operator, How: how,
			Return: &station.Return{Case: c, Purpose: o.purpose, Exercising: doing},
		}, station.Hooks{
			Open: o.Open, Watcher: o.Watcher(cmd, s, &c),
			Keep: func(ctx context.Context, run runs.Stored) error { return testrun.CausesOfStage(ctx, s, c, p, run) },
			Show: func(done station.Done) error { return o.showStage(cmd, s, c, p, done) },
		})
	})
}

// exercising reads the flags of an exercise.
func (o *stageOptions) exercising(cmd *cobra.Command, p *product.Product) (e sequence.Exercising, err error) {
	if o.purpose != sequence.Exercise {
		return e, nil
	}
	e = sequence.Exercising{Presses: o.presses, StopAtFirst: o.stop, Hold: o.hold, Flex: o.flex}
	if !cmd.Flags().Changed("presses") {
		bound, err := rate(o.bound)
		if err != nil {
			return e, err
		}
		e.Presses = decide.PressesFor(bound)
	}
	if e.Presses < 0 || e.Hold < 0 || e.Flex < 0 || e.Presses == 0 && e.Hold == 0 && e.Flex == 0 {
		return e, command.WrongUsef("nothing to do: ask for --bound, --presses, --hold or --flex")
	}
	for _, label := range o.keys {
		k := p.Key(strings.TrimSpace(label))
		if k < 0 {
			return e, command.WrongUsef("--keys: %s has no key %q", p.Code, label)
		}
		if !slices.Contains(e.Keys, k) {
			e.Keys = append(e.Keys, k)
		}
	}
	return e, nil
}

// rate reads "1%" or "0.01".
func rate(text string) (float64, error) {
	v, err := command.ParseShare(text)
	const least = 1e-5 // 300,000 presses a key: more than a key's life
	if err != nil || !(v >= least && v < 1) {
		return 0, command.WrongUsef("--bound %q: write a rate such as 1%%, from 0.001%% to below 100%%", text)
	}
	return v, nil
}

// showStage tells what came of a stage that is stored.
func (o *stageOptions) showStage(cmd *cobra.Command, s *results.Store, c returns.Case, p *product.Product, done station.Done) error {
	status := command.StatusOf(done.Outcome)
	if done.Outcome == sequence.Incomplete {
		status = command.OK // undecided keys of a first press, or some keys only: as asked
	}
	if o.JSON {
		if err := object.Print(cmd.OutOrStdout(), object.RunOf(done.Stored)); err != nil {
			return command.Fail(command.NotRecorded, fmt.Errorf("print the result: %w", err), "the result is stored: padjig unit "+done.Serial)
		}
		return command.Quiet(status)
	}
	life, err := lifeOf(cmd, s, c.Number)
	if err != nil {
		return err
	}
	v := testrun.VerdictOf(terminal.Of(cmd.OutOrStdout()), p, done, c.Serial+command.StoreArgument(s))
	v.Stage(c.Number)
	if o.purpose == sequence.Exercise && done.Outcome != sequence.Aborted {
		fmt.Fprintf(v, "  %s\n", v.Wrap(2, life.Bound.String()))
	}
	next := life.Next()
	fmt.Fprintf(v, "\nnext: %s\n  %s\n", v.Wrap(6, next.Say), next.Command)
	return command.Quiet(status)
}
