package quality

// padjig quality gauge linearity and stability: one jig over time, from what is recorded of
// it anyway.

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/answers"
	"padjig/results/answers/gauge"
	"padjig/results/report"
)

// gaugeJigOptions are the flags of questions about one jig over time.
type gaugeJigOptions struct {
	answerForm
	store, measure, unit string
	simulated            bool
	confidence           float64
	last                 int
}

func (o *gaugeJigOptions) command(use, short, long, example string, ask func(*cobra.Command, string) error) *cobra.Command {
	cmd := &cobra.Command{
		Use: use, Short: short, Long: long, Example: example,
		Args: command.Exactly(1, "the serial number of one jig"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := confident(o.confidence); err != nil {
				return err
			}
			return ask(cmd, args[0])
		},
	}
	o.flags(cmd)
	cmd.Flags().BoolVar(&o.simulated, "simulated", false, "of a simulated jig, which is never counted with real ones")
	cmd.Flags().Float64Var(&o.confidence, "confidence", answers.Confidence, "of the intervals")
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func newGaugeLinearity() *cobra.Command {
	o := &gaugeJigOptions{}
	cmd := o.command("linearity JIG", "Say how a jig's deviations change with the size of what it reads",
		`Takes the stored verifications of a jig (padjig jig verify): what it read on
resistors of a reference box against their certificates. For each resistor the
bias with its interval, for each range of the jig the line through the biases.
The certificates' own uncertainty is not taken off: it is common to all readings
on a resistor and cannot be seen here.`,
		`  padjig quality gauge linearity J-0042
  padjig quality gauge linearity J-0042 --last 5 --csv`,
		func(cmd *cobra.Command, jig string) error { return o.linearity(cmd, jig) })
	cmd.Flags().IntVar(&o.last, "last", 0, "only the last so many verifications")
	return cmd
}

func (o *gaugeJigOptions) linearity(cmd *cobra.Command, jig string) error {
	store, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	l, err := gauge.AskLinearity(cmd.Context(), store, gauge.LinearityAsked{Jig: jig, Simulated: o.simulated,
		Last: o.last, Confidence: o.confidence})
	if errors.Is(err, gauge.ErrNoVerification) {
		return command.Fail(command.Wrong, fmt.Errorf("jig %s has no stored verification%s", jig, onSimulatedJigs(o.simulated)),
			"padjig jig verify --jig "+jig+" --box FILE")
	}
	if err != nil {
		return command.Fail(command.NotRecorded, err, "")
	}
	return o.write(cmd, report.GaugeLinearity(l), nil)
}

func onSimulatedJigs(simulated bool) string {
	if simulated {
		return " on simulated jigs"
	}
	return ""
}

func newGaugeStability() *cobra.Command {
	o := &gaugeJigOptions{}
	cmd := o.command("stability JIG --unit SERIAL", "Say whether a jig's readings of a reference unit wander",
		`Takes the checks of a good reference unit on a jig, in order of time, that showed
what they must. For each key: the mean, the scatter from one check to the next,
the trend per day, and the checks outside the control limits of all of them.`,
		`  padjig quality gauge stability J-0042 --unit REF-G
  padjig quality gauge stability J-0042 --unit REF-G --measure closing --json`,
		func(cmd *cobra.Command, jig string) error { return o.stability(cmd, jig) })
	cmd.Flags().StringVar(&o.unit, "unit", "", "`SERIAL` of the reference unit")
	command.Must(cmd.MarkFlagRequired("unit"))
	measureFlag(cmd, &o.measure)
	return cmd
}

func (o *gaugeJigOptions) stability(cmd *cobra.Command, jig string) error {
	m, err := measureOf(o.measure)
	if err != nil {
		return err
	}
	store, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	a := gauge.StabilityAsked{Jig: jig, Unit: o.unit, Measure: m, Confidence: o.confidence, Simulated: o.simulated}
	st, err := gauge.AskStability(cmd.Context(), store, a)
	switch {
	case errors.Is(err, gauge.ErrNoChecks):
		return command.Fail(command.Wrong, fmt.Errorf("reference unit %s has no good check on jig %s%s", o.unit, jig,
			onSimulatedJigs(o.simulated)),
			"padjig jig references "+jig+", which lists them")
	case err != nil:
		return command.WrongUse(err)
	}
	return o.write(cmd, report.GaugeStability(st), nil)
}
