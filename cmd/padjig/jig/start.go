package jig

// padjig jig start: whether closing the lid of a jig starts the unit that was scanned.

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/results/accounts"
	"padjig/results/floor"
)

// startOptions are the flags of padjig jig start.
type startOptions struct {
	store, assessment, by     string
	confirm                   []string
	byLid, byPress, simulated bool
}

func newStart() *cobra.Command {
	var o startOptions
	cmd := &cobra.Command{
		Use:   "start JIG",
		Short: "Show or decide whether closing a jig's lid starts the unit that was scanned",
		Long: `A unit that is scanned with the lid closed is tested at once. Scanned with the lid
open it waits for the lid, and then for start to be pressed: closing a lid is no
start. --by-lid makes it one on this jig, for 30 seconds after the scan, from the
next unit on; --by-press takes that back. JIG is the jig's serial number.

--by-lid needs an assessment of the finished jig. Whoever decides --confirms each of
these; docs/safety-guards.md says more of them:
  body      nobody, and no part of anybody, can be inside with the lid closed: the
            opening is too small for a body
  distance  the guard's distance was reckoned from the measured stopping time
            (ISO 13855, ISO 13857), and is kept
  function  the start function was assessed (ISO 12100, ISO 13849-1): no single
            failure of the interlock starts anything
  falling   the lid stays open by itself, and does not fall shut
  guards    every other guard is fixed, or interlocked too
--assessment says where that is written down, as in
  --confirm body,distance,function,falling,guards --assessment "RA-17, revision 2"
Both stay in the records with who
decided it and when. An emergency stop, or a jig that stopped by itself, ends every
wait: nothing starts by the lid after it.`,
		Example: `  padjig jig start J-0042
  padjig jig start J-0042 --by-press --assessment "lid was changed" --operator "Ines Roth"`,
		Args: command.Exactly(1, oneJig),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.BoolVar(&o.byLid, "by-lid", false, "closing the lid is a start from now on")
	f.BoolVar(&o.byPress, "by-press", false, "start is pressed from now on, as where nothing was decided")
	f.StringSliceVar(&o.confirm, "confirm", nil, "`CONDITIONS` that are met, of those above")
	f.StringVar(&o.assessment, "assessment", "", "`WHERE` it is written down, or why it is taken back")
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever decides")
	f.BoolVar(&o.simulated, "simulated", false, "of a simulated jig")
	cmd.MarkFlagsMutuallyExclusive("by-lid", "by-press")
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func (o *startOptions) run(cmd *cobra.Command, jig string) error {
	if !o.byLid && !o.byPress {
		if len(o.confirm) > 0 || o.assessment != "" {
			return command.WrongUsef("--confirm and --assessment belong to --by-lid or --by-press: nothing was decided")
		}
		return o.show(cmd, jig)
	}
	for _, c := range o.confirm {
		if !slices.Contains(accounts.LidConditions, c) {
			return command.WrongUsef("--confirm %q is none of %s", c, strings.Join(accounts.LidConditions, ", "))
		}
	}
	if !command.SaysWho(cmd, strings.TrimSpace(o.by)) {
		return command.WrongUsef("--operator is missing: name who decides how the jig is started")
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &o.by, account.Engineers); err != nil {
		return err
	}
	err = store.Accounts.SaveLidStart(cmd.Context(), accounts.LidStart{
		Jig: jig, Simulated: o.simulated, On: o.byLid, Confirmed: o.confirm, Assessment: o.assessment, By: o.by,
	})
	if missing, is := errors.AsType[*accounts.LidStartError](err); is {
		return command.WrongUsef("--by-lid needs each condition confirmed; missing in --confirm: %s", strings.Join(missing.Missing, ", "))
	}
	if errors.Is(err, accounts.ErrNoAssessment) {
		return command.WrongUsef("--assessment is missing or too short: say where it is written down, or why it is taken back")
	}
	if err != nil {
		return command.RecordsFailed(store, err)
	}
	return o.show(cmd, jig)
}

func (o *startOptions) show(cmd *cobra.Command, jig string) error {
	store, err := command.ReadOwnStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	held, err := store.Accounts.LidStart(cmd.Context(), jig, o.simulated)
	if err != nil {
		return command.RecordsFailed(store, err)
	}
	clock, err := command.PlantClock(cmd.Context(), store)
	if err != nil {
		return err
	}
	printStart(cmd.OutOrStdout(), clock, held)
	return nil
}

func printStart(to io.Writer, clock floor.Clock, l accounts.LidStart) {
	how := "with the lid closed by the scan, else by pressing start"
	if l.On {
		how = "with the lid closed by the scan, else BY CLOSING THE LID"
	}
	fmt.Fprintf(to, "jig %s starts a unit %s\n", l.Jig, how)
	if l.By == "" {
		fmt.Fprintln(to, "nothing was decided of it")
		return
	}
	fmt.Fprintf(to, "decided %s by %s: %s\n", clock.Zoned(l.At), l.By, l.Assessment)
	if len(l.Confirmed) > 0 {
		fmt.Fprintf(to, "confirmed: %s\n", strings.Join(l.Confirmed, ", "))
	}
}
