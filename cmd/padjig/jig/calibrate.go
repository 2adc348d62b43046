package jig

// padjig jig zero and jig verify: without both a real jig tests nothing. They differ in
// what lies in the nest and share how it is recorded.

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/calibration"
	"padjig/cmd/padjig/station/reach"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/floor"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/refbox"
)

// calibrateOptions are the flags of padjig jig zero and padjig jig verify.
type calibrateOptions struct {
	jig, box, store, operator string
	days                      float64
	baud                      int
}

func newZero() *cobra.Command {
	var o calibrateOptions
	cmd := &cobra.Command{
		Use:   "zero --jig PORT",
		Short: "Find what each channel adds, with the shorting plug",
		Long: `Finds the resistance in series with each channel while the shorting plug lies in
the nest, and records it. From then on it is taken off every reading on that
jig. A plug that is out or only partly in is refused and nothing is recorded.

Exit status: 0 good, 1 a channel is out of tolerance (recorded), 3 could not
measure (not recorded), 4 could not record.`,
		Example: `  padjig jig zero --jig /dev/ttyACM0 --operator "Ann Lee"`,
		Args:    command.OnlyFlags,
		RunE:    func(cmd *cobra.Command, _ []string) error { return o.run(cmd, sequence.KindZero) },
	}
	o.flags(cmd, sequence.ZeroInterval)
	return cmd
}

func newVerify() *cobra.Command {
	var o calibrateOptions
	cmd := &cobra.Command{
		Use:   "verify --jig PORT --box FILE",
		Short: "Check each range of a jig against a reference box",
		Long: `Checks each range of a jig against the certified resistors of the reference box
in the nest, and records every reading with its limit. The box is described by
a file made from its certificate; docs/calibration.md says how. The jig must
have a good zero first. A box that is not the one named, not in place, or whose
certificate has expired is refused and nothing is recorded.

Exit status: 0 good, 1 out of tolerance (recorded: the jig is blocked), 2 wrong
use, 3 could not measure (not recorded), 4 could not record.`,
		Example: `  padjig jig verify --jig /dev/ttyACM0 --box rb-1.yaml --operator "Ann Lee"`,
		Args:    command.OnlyFlags,
		RunE:    func(cmd *cobra.Command, _ []string) error { return o.run(cmd, sequence.KindVerify) },
	}
	o.flags(cmd, sequence.VerifyInterval)
	cmd.Flags().StringVar(&o.box, "box", "", "`FILE` of the reference box in the nest")
	command.Must(cmd.MarkFlagRequired("box"))
	command.Must(cmd.MarkFlagFilename("box", "yaml", "yml"))
	return cmd
}

func (o *calibrateOptions) flags(cmd *cobra.Command, interval time.Duration) {
	f := cmd.Flags()
	f.StringVar(&o.jig, "jig", "", "`PORT` of the jig, or the jig's serial number")
	command.OperatorFlag(cmd, &o.operator, "`NAME` of whoever does it, for the record")
	f.Float64Var(&o.days, "interval", interval.Hours()/24, "`DAYS` until the next one is due")
	command.BaudFlag(cmd, &o.baud)
	command.StoreFlag(cmd, &o.store)
	command.Must(cmd.MarkFlagRequired("jig"))
}

func (o *calibrateOptions) run(cmd *cobra.Command, kind sequence.CalibrationKind) error {
	interval := time.Duration(o.days * 24 * float64(time.Hour)).Round(time.Microsecond)
	if interval <= 0 || o.days > 3660 {
		return command.WrongUsef("--interval %v: write a number of days above 0, up to ten years", o.days)
	}
	ctx := cmd.Context()
	store, err := command.OpenStore(ctx, o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &o.operator, account.Engineers); err != nil {
		return err
	}
	jig, err := reach.Jig(ctx, o.jig, link.Options{Baud: o.baud})
	if err != nil {
		return err
	}
	defer func() { _ = jig.Close() }() // it is inert by then
	what := calibration.Order{Kind: kind, Operator: o.operator, Interval: interval}
	if kind == sequence.KindVerify {
		if what.Box, err = refbox.Load(o.box); err != nil {
			return command.Fail(command.Wrong, err, "a box file as docs/calibration.md describes it")
		}
	}
	c, err := calibration.Take(ctx, store, jig, what, calibration.Hooks{})
	if err != nil {
		return o.notCalibrated(store, err)
	}
	clock, err := command.PlantClock(ctx, store)
	if err != nil {
		return err
	}
	showCalibration(terminal.Of(cmd.OutOrStdout()), clock, c)
	if !c.Good {
		return command.Fail(command.Failed, fmt.Errorf("jig %s: %s; it is recorded, and the jig is blocked", c.Jig.Serial, c.Reason),
			mend(c, store))
	}
	return nil
}

// mend is what to do about a jig that is not good.
func mend(c sequence.Calibration, store *results.Store) string {
	if c.Kind == sequence.KindZero {
		return "clean or replace the probe and cable of each channel named, then zero again"
	}
	return "if a channel is named, clean its probe and zero again; else have the jig adjusted; then verify again. " +
		"What was tested meanwhile: padjig jig suspects " + c.Jig.Serial + simulatedFlag(c.Simulated) + command.StoreArgument(store)
}

func simulatedFlag(simulated bool) string {
	if simulated {
		return " --simulated"
	}
	return ""
}

// notCalibrated says why there is no calibration, and that nothing was recorded.
func (o *calibrateOptions) notCalibrated(store *results.Store, err error) error {
	if kept, is := errors.AsType[*calibration.NotKeptError](err); is {
		return command.Fail(command.NotRecorded, kept.Unwrap(),
			"do it again when the records are in order: padjig records check"+command.StoreArgument(store))
	}
	if _, is := errors.AsType[*calibration.ZeroFirstError](err); is {
		return command.Fail(command.NotMeasured, err, "put the shorting plug in, then: padjig jig zero --jig "+o.jig)
	}
	if _, is := errors.AsType[*station.Refusal](err); is {
		return err
	}
	if remedy := calibrate.RemedyOf(err); remedy != "" {
		return command.Fail(command.NotMeasured, fmt.Errorf("%w; nothing was recorded", err), remedy)
	}
	return command.Fail(command.NotMeasured, err, "")
}

func showCalibration(t terminal.Terminal, clock floor.Clock, c sequence.Calibration) {
	fmt.Fprintf(t, "%s of jig %s%s%s\n", c.Kind.Word(), c.Jig.Serial, command.OnSimulated(c.Simulated), command.By(c.Operator))
	if c.Kind == sequence.KindVerify {
		fmt.Fprintf(t, "against box %s (serial %s), certificate %s, good until %s\n", c.Box, c.BoxSerial, c.Certificate,
			c.CertificateDue.Format(time.DateOnly))
	}
	for _, r := range calibrate.Ranges(c) {
		fmt.Fprintf(t, "  range %-9v deviation %+.3f %%, U %.3f %% (k = 2), limit %.3f %%  %s\n", r.Reference,
			100*r.Deviation, 100*r.U, 100*r.Limit, goodWord(r.Good))
	}
	for _, ch := range calibrate.Channels(c) {
		w := ch.Worst
		fmt.Fprintf(t, "  channel %-2d %-24s limit %v  %s\n", ch.Channel, strings.TrimSuffix(w.Deviation.String(), ", k = 2"),
			w.Limit, goodWord(w.Good))
	}
	if c.Good {
		fmt.Fprintf(t, "good, next one due %s\n", clock.Zoned(c.Due()))
	}
}

func goodWord(good bool) string {
	if good {
		return "good"
	}
	return "OUT OF TOLERANCE"
}
