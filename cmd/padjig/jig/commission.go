package jig

// padjig jig commission: whoever has built a jig is led through what shows that it is one.

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station/commissioning"
	"padjig/cmd/padjig/station/reach"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/care"
	"padjig/sequence/commission"
	"padjig/sequence/refbox"
	"padjig/sequence/wording"
)

// commissionOptions are the flags of padjig jig commission.
type commissionOptions struct {
	jig, box, product, store, operator, only string
	baud                                     int
	anew, json                               bool
	terminal                                 terminal.Terminal // for what is on the way
	input                                    io.Reader
	person                                   bool // somebody types at a terminal
}

func newCommission() *cobra.Command {
	var o commissionOptions
	cmd := &cobra.Command{
		Use:   "commission --jig PORT",
		Short: "Commission a jig that was built, step by step",
		Long: `Leads through the commissioning of a jig: self-test, guard, emergency stop,
leakage, mains, capacitance, zero, verification, capacitance with a keypad, and
travel of the actuators. Every step says what is done, when it is passed, with
figures that follow from what the jig states of itself, and what to do where it
fails. docs/build-guide.md has it as a part of building a jig.

Each step is recorded as it ends. Given again, the command goes on with what was
not passed; --anew begins from the start, --only does one step. A jig with
another board or firmware is commissioned anew by itself.

What you do at the jig it sees by itself: nothing need be typed. Actuators press
in the last step only, behind guard and emergency stop, and after a yes that is
typed at a terminal. Read docs/safety.md before; your local codes and licensed
practice come first.

Exit status: 0 all passed, 1 a step failed (recorded), 2 wrong use, 3 a step was
not done, 4 could not record.`,
		Example: `  padjig jig commission --jig /dev/ttyACM0 --box rb-1.yaml --product pad.yaml --operator "Ann Lee"
  padjig jig commission --jig J-0042 --only leakage
  padjig jig commission --jig J-0042 --box rb-1.yaml --product pad.yaml --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	f.StringVar(&o.jig, "jig", "", "`PORT` of the jig, or the jig's serial number")
	f.StringVar(&o.box, "box", "", "`FILE` of the reference box")
	f.StringVar(&o.product, "product", "", "product `FILE` of the keypad for the steps that need one")
	f.StringVar(&o.only, "only", "", "do this `STEP` alone, whether it was passed or not")
	f.BoolVar(&o.anew, "anew", false, "begin from the start, whatever was passed before")
	command.OperatorFlag(cmd, &o.operator, "`NAME` of whoever does it, for the record")
	command.BaudFlag(cmd, &o.baud)
	command.StoreFlag(cmd, &o.store)
	command.Group(f, command.OfJig, "jig", "box", "product")
	command.JSONFlag(cmd, &o.json)
	command.Must(cmd.MarkFlagRequired("jig"))
	command.Must(cmd.MarkFlagFilename("box", "yaml", "yml"))
	command.Must(cmd.MarkFlagFilename("product", "yaml", "yml"))
	cmd.MarkFlagsMutuallyExclusive("only", "anew")
	return cmd
}

func (o *commissionOptions) run(cmd *cobra.Command) error {
	o.terminal, o.input = terminal.Of(cmd.ErrOrStderr()), bufio.NewReader(cmd.InOrStdin())
	in, isFile := cmd.InOrStdin().(*os.File)
	o.person = isFile && term.IsTerminal(int(in.Fd()))
	order, err := o.order(cmd)
	if err != nil {
		return err
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
	order.Operator = o.operator
	jig, err := reach.Jig(ctx, o.jig, link.Options{Baud: o.baud})
	if err != nil {
		return err
	}
	defer func() { _ = jig.Close() }() // it is inert by then
	taken, err := commissioning.Take(ctx, store, jig, order, o.hooks())
	o.clear()
	if err != nil {
		return o.brokenOff(store, err)
	}
	return o.conclude(cmd.OutOrStdout(), taken)
}

// order turns flags into what is asked for.
func (o *commissionOptions) order(cmd *cobra.Command) (order commissioning.Order, err error) {
	order = commissioning.Order{Only: commission.Step(o.only), Anew: o.anew}
	if o.only != "" && !slices.Contains(commission.Steps(), order.Only) {
		names := command.Each(commission.Steps(), func(s commission.Step) string { return string(s) })
		return order, command.WrongUsef("--only %q: there is no such step; there are %s", o.only, strings.Join(names, ", "))
	}
	if o.box != "" {
		if order.Box, err = refbox.Load(o.box); err != nil {
			return order, command.Fail(command.Wrong, err, "a box file as docs/calibration.md describes it")
		}
	}
	if o.product != "" {
		order.Product, err = command.LoadProduct(cmd, o.product)
	}
	return order, err
}

// brokenOff says why not all steps were done. What ended before is recorded.
func (o *commissionOptions) brokenOff(store *results.Store, err error) error {
	again := "the same command goes on with what was not passed"
	if errors.Is(err, care.ErrOvertaken) {
		return command.Fail(command.NotRecorded, err, "agree who commissions it, then "+again)
	}
	if kept, is := errors.AsType[*commissioning.NotKeptError](err); is {
		return command.Fail(command.NotRecorded, kept.Unwrap(),
			"do the step again when the records are in order: padjig records check"+command.StoreArgument(store))
	}
	return command.Fail(command.NotMeasured, err, again)
}

// caution stands before everything, since a step is only as safe as who does it.
const caution = `CAUTION: a jig that was just built may be wired wrong.
  - Supply of the actuators off until guard and emergency stop are passed; then
    on, lid closed.
  - Wrist strap or footwear and floor before you touch nest or board: static
    electricity hurts both.
  - Work on mains and supplies is for whoever is licensed for it.
This program is no safety device. Your local codes and your employer's rules
come first; see docs/safety.md.`

func (o *commissionOptions) hooks() commissioning.Hooks {
	t := o.terminal
	w := wording.Commission{Words: t.Words}
	return commissioning.Hooks{
		Begun: func(c care.Commissioning) {
			fmt.Fprintln(t, t.In(caution, terminal.Bold))
			head := fmt.Sprintf("\ncommissioning %d of jig %s%s, %s, firmware %s%s", c.Number, c.Jig.Serial, command.OnSimulated(c.Simulated),
				c.Jig.Model, c.Jig.Firmware, command.By(c.By))
			if n := len(c.Last()); n > 0 {
				head += fmt.Sprintf("; goes on behind %s", command.Count(n, "step"))
			}
			fmt.Fprintln(t, t.Wrap(2, head))
		},
		Step: func(s commission.Step) {
			o.clear()
			fmt.Fprintf(t, "\n%s\n  %s\n  passed if: %s\n", t.In(w.Step(s), terminal.Bold), t.Wrap(2, w.Does(s)),
				t.Wrap(13, w.Criterion(s)))
		},
		Tell: func(ask commissioning.Ask) {
			o.clear()
			fmt.Fprintf(t, "  > %s\n", t.In(t.Wrap(4, w.Ask(ask)), terminal.Bold))
		},
		Agree: o.agree,
		Read: func(done, of int) {
			if t.Live {
				fmt.Fprintf(t, "\r  %d of %d", done, of)
			}
		},
		Ended: func(s care.CommissionStep) {
			o.clear()
			printCommissionStep(t, s, false)
		},
	}
}

func (o *commissionOptions) clear() {
	if o.terminal.Live {
		fmt.Fprint(o.terminal, "\r\x1b[K")
	}
}

// agree has a person type yes. What comes through a pipe was written before anybody looked.
func (o *commissionOptions) agree(ctx context.Context, ask commissioning.Ask) (bool, error) {
	if !o.person {
		return false, nil
	}
	o.clear()
	fmt.Fprintf(o.terminal, "  > %s Type yes: ", o.terminal.In(wording.Commission{Words: o.terminal.Words}.Ask(ask), terminal.Bold))
	answer := make(chan string, 1)
	go func() {
		line, _ := o.input.(*bufio.Reader).ReadString('\n') // no answer is no yes
		answer <- line
	}()
	select {
	case line := <-answer:
		return strings.TrimSpace(line) == "yes", nil
	case <-ctx.Done():
		return false, ctx.Err()
	}
}

// printCommissionStep says how a step ended: the figure nearest to its limit, or all beyond it.
func printCommissionStep(t terminal.Terminal, s care.CommissionStep, named bool) {
	w, ways := wording.Commission{Words: t.Words}, []string{terminal.Bold}
	if s.Outcome == commission.Fail {
		ways = append(ways, terminal.Red)
	}
	head := t.In(w.Outcome(s.Outcome), ways...)
	if named {
		head = fmt.Sprintf("%s: %s", w.Step(s.Step), head)
	}
	if why := w.Why(s.Why); why != "" {
		head += ": " + why
	}
	fmt.Fprintf(t, "  %s\n", t.Wrap(4, head))
	figures := s.Bad()
	if worst, is := s.Worst(); is && len(figures) == 0 {
		figures = []commission.Figure{worst}
	}
	for _, f := range figures {
		fmt.Fprintf(t, "    %s\n", t.Wrap(6, w.Figure(f)))
	}
	if s.Outcome == commission.Fail {
		fmt.Fprintf(t, "    try: %s\n", t.Wrap(9, w.Remedy(s.Step)))
	}
}

// conclude shows how the jig stands, and says it in the exit status.
func (o *commissionOptions) conclude(out io.Writer, c care.Commissioning) error {
	t := terminal.Of(out)
	missing := c.Progress().Missing(c.Caps())
	if o.json {
		if err := object.Print(t, object.CommissioningOf(c)); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(t, "jig %s%s, commissioning %d\n", c.Jig.Serial, command.OnSimulated(c.Simulated), c.Number)
		for _, s := range c.Last() {
			printCommissionStep(t, s, true)
		}
		if len(missing) == 0 {
			fmt.Fprintln(t, "commissioned: every step is passed")
		}
	}
	if o.only != "" {
		missing = slices.DeleteFunc(missing, func(s commission.Step) bool { return string(s) != o.only })
	}
	progress := c.Progress()
	names := func(steps []commission.Step) string {
		return strings.Join(command.Each(steps, wording.Commission{Words: t.Words}.Step), ", ")
	}
	failed := slices.DeleteFunc(slices.Clone(missing), func(s commission.Step) bool { return progress[s] != commission.Fail })
	switch {
	case len(failed) > 0:
		return command.Fail(command.Failed, fmt.Errorf("jig %s fails: %s; it is recorded", c.Jig.Serial, names(failed)),
			"what stands under each, then the same command: it goes on with what was not passed")
	case len(missing) > 0:
		return command.Fail(command.NotMeasured, fmt.Errorf("jig %s is not commissioned yet: %s", c.Jig.Serial, names(missing)),
			"the same command goes on with what was not passed")
	}
	return nil
}
