package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/results/report"
	"padjig/sequence"
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
		Args: exactly(1, "the serial number of one jig"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !(o.confidence > 0 && o.confidence < 1) {
				return wrongUsef("--confidence %v: write a number between 0 and 1, such as 0.95", o.confidence)
			}
			return ask(cmd, args[0])
		},
	}
	o.flags(cmd)
	cmd.Flags().BoolVar(&o.simulated, "simulated", false, "of a simulated jig, which is never counted with real ones")
	cmd.Flags().Float64Var(&o.confidence, "confidence", 0.95, "of the intervals")
	storeFlag(cmd, &o.store)
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
	store, err := readStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	list, err := store.Calibrations(cmd.Context(), jig, o.simulated)
	if err != nil {
		return fail(statusNotRecorded, err, "")
	}
	var verified []sequence.Calibration
	for _, c := range list {
		if c.Kind == sequence.KindVerify {
			verified = append(verified, c.Calibration)
		}
	}
	if len(verified) == 0 {
		return fail(statusWrong, fmt.Errorf("jig %s has no stored verification%s", jig, onSimulatedJigs(o.simulated)),
			"padjig jig verify --jig "+jig+" --box FILE")
	}
	if o.last > 0 && o.last < len(verified) {
		verified = verified[len(verified)-o.last:]
	}
	d, err := report.GaugeLinearity(jig, readingsOf(verified), o.confidence, o.simulated)
	return o.write(cmd, d, err)
}

func onSimulatedJigs(simulated bool) string {
	if simulated {
		return " on simulated jigs"
	}
	return ""
}

func readingsOf(list []sequence.Calibration) (out []report.Verified) {
	for _, c := range list {
		for _, r := range c.Readings {
			out = append(out, report.Verified{
				Range: float64(r.Reference), Resistor: r.Resistor, Certified: float64(r.Certified.Value), Measured: float64(r.Measured.Value),
			})
		}
	}
	return out
}

func newGaugeStability() *cobra.Command {
	o := &gaugeJigOptions{}
	cmd := o.command("stability JIG --unit SERIAL", "Say whether a jig's readings of a reference unit wander",
		`Takes the checks of a good reference unit on a jig, in order of time, that showed
what they must. For each key: the mean, the scatter from one check to the next,
the trend per day, and the checks outside the control limits of all of them.`,
		`  padjig quality gauge stability J-0042 --unit REF-G
  padjig quality gauge stability J-0042 --unit REF-G --measure make --json`,
		func(cmd *cobra.Command, jig string) error { return o.stability(cmd, jig) })
	cmd.Flags().StringVar(&o.unit, "unit", "", "`SERIAL` of the reference unit")
	must(cmd.MarkFlagRequired("unit"))
	measureFlag(cmd, &o.measure)
	return cmd
}

func (o *gaugeJigOptions) stability(cmd *cobra.Command, jig string) error {
	m, err := measureOf(o.measure)
	if err != nil {
		return err
	}
	store, err := readStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	values, err := store.ReferenceValues(cmd.Context(), jig, o.unit, o.simulated, m)
	if err != nil {
		return fail(statusNotRecorded, err, "")
	}
	if len(values.Runs) == 0 {
		return fail(statusWrong, fmt.Errorf("reference unit %s has no good check on jig %s%s", o.unit, jig, onSimulatedJigs(o.simulated)),
			"padjig jig references "+jig+", which lists them")
	}
	d, err := report.GaugeStability(report.Stable{Jig: jig, Unit: o.unit, Measure: m, Values: values, Confidence: o.confidence, Simulated: o.simulated})
	return o.write(cmd, d, err)
}
