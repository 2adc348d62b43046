package returns

// padjig returns intake: what is said and seen of a unit before anything touches it.

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/returns"
)

// intakeOptions are the flags of padjig returns intake.
type intakeOptions struct {
	product, store, received, noPhoto string
	photos                            []string
	correct, json                     bool
	returns.Intake
}

func newIntake() *cobra.Command {
	var o intakeOptions
	cmd := &cobra.Command{
		Use:   "intake SERIAL --product F --complaint WORD --condition WORD --operator NAME",
		Short: "Take in a unit that came back",
		Long: `Opens a case for a unit that came back: what the customer says, in a word that
can be counted and in words of its own, and what can be seen. Take photos before
anything is cleaned or plugged in. A unit has one open case at a time, and while
it has one it is not tested for production.

Complaints:
` + command.Listed(returns.Complaints) + `
Conditions:
` + command.Listed(returns.Conditions) + `
One at least has to be given: "nothing visible" is one. Of these,
` + strings.Join(returns.Damaging, ", ") + ` end electrical testing: current would tell no
more, or change what can be seen. An engineer may decide otherwise:
padjig returns unlock. No stage is made before there is a photo, here or by padjig
returns photo; --no-photo says why there can be none.

--correct adds an intake to the open case that counts in place of the last one;
nothing is overwritten.`,
		Example: `  padjig returns intake A-1 --product p.yaml --complaint "key dead" --condition dirty --operator Jon`,
		Args:    command.Exactly(1, command.OneSerial),
		RunE:    func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.product, "product", "", "product `FILE`")
	f.StringVar(&o.Complaint, "complaint", "", "what the customer says, in one of the `WORD`s above")
	f.StringVar(&o.ComplaintText, "text", "", "the same in `WORDS` of their own")
	f.StringArrayVar(&o.Conditions, "condition", nil, "what can be seen, in a `WORD` above; may be given more than once")
	f.StringVar(&o.ConditionText, "seen", "", "the same in `WORDS` of your own")
	f.StringVar(&o.received, "received", "", "`DAY` it came, such as 2026-11-25 (default today)")
	f.StringVar(&o.Customer, "customer", "", "whose it is")
	f.StringVar(&o.Lot, "lot", "", "lot it was made in, if it can be told")
	command.OperatorFlag(cmd, &o.By, "`NAME` of whoever takes it in")
	f.StringArrayVar(&o.photos, "photo", nil, "picture `FILE` to keep with the case; may be given more than once")
	f.StringVar(&o.noPhoto, "no-photo", "", "there can be no photo, for this `REASON`")
	f.BoolVar(&o.correct, "correct", false, "correct the intake of the open case")
	f.BoolVar(&o.json, "json", false, "print the case as one JSON object")
	command.StoreFlag(cmd, &o.store)
	command.Needs(cmd, "product", "complaint", "condition")
	command.OperatorNeeded(cmd)
	cmd.MarkFlagsMutuallyExclusive("photo", "no-photo")
	command.Must(cmd.RegisterFlagCompletionFunc("complaint", cobra.FixedCompletions(returns.Complaints, cobra.ShellCompDirectiveNoFileComp)))
	command.Must(cmd.RegisterFlagCompletionFunc("condition", cobra.FixedCompletions(returns.Conditions, cobra.ShellCompDirectiveNoFileComp)))
	return cmd
}

func (o *intakeOptions) run(cmd *cobra.Command, serial string) error {
	p, err := command.LoadProduct(cmd, o.product)
	if err != nil {
		return err
	}
	if err := station.CheckSerial(p, serial); err != nil {
		return err
	}
	photos, err := readPhotos(o.photos)
	if err != nil {
		return err
	}
	s, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return err
	}
	if o.Received, err = command.DayOf(clock, "received", o.received, time.Now()); err != nil {
		return err
	}
	if err := command.As(cmd, s, &o.By, account.Desk); err != nil {
		return err
	}
	c, err := o.save(cmd.Context(), s, serial, p.Code)
	if err != nil {
		return testrun.OfCase(s, serial, err)
	}
	if err := keepPhotos(cmd.Context(), s, c, photos, o.By, ""); err != nil {
		return err
	}
	if o.noPhoto != "" {
		if err := s.Returns.SayNoPhoto(cmd.Context(), c, returns.NoPhoto{Reason: o.noPhoto, By: o.By}); err != nil {
			return testrun.OfCase(s, serial, err)
		}
	}
	return showCase(cmd, s, c, o.json)
}

func (o *intakeOptions) save(ctx context.Context, s *results.Store, serial, product string) (returns.Case, error) {
	if !o.correct {
		return s.Returns.OpenCase(ctx, serial, product, o.Intake)
	}
	number, err := s.Returns.OpenCaseOf(ctx, serial)
	switch {
	case err != nil:
		return returns.Case{}, err
	case number == 0:
		return returns.Case{}, fmt.Errorf("%w: unit %s has no open case to correct", returns.ErrStage, serial)
	}
	c, err := s.Returns.Case(ctx, number)
	if err == nil {
		err = s.Returns.CorrectIntake(ctx, c, o.Intake)
	}
	if err != nil {
		return c, err
	}
	return s.Returns.Case(ctx, number)
}
