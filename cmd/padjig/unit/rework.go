package unit

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/returns"
	"padjig/results/store"
	"padjig/sequence/product"
)

type reworkOptions struct {
	store, done, at, product string
	returns.Rework
}

// newRework is padjig rework.
func newRework() *cobra.Command {
	var o reworkOptions
	cmd := &cobra.Command{
		Use:   "rework SERIAL --did WHAT --operator NAME",
		Short: "Record what was done to a unit after it was made",
		Long: `Records rework of a unit, in production or at the returns desk: what was done, at
which place, which part was put in of which lot, by whom and when. It is part of
the unit's life and stands in the report of a case. While the unit has an open
returns case the rework belongs to that. A unit that lies in a jig is refused.

What was done is one of
` + command.Listed(returns.Deeds()) + `
"other" needs --note. The place is "key LABEL", "line NAME", "pin NUMBER" or
"connector" of its product; without one it is the whole unit. What puts a part in
needs --lot; a lot nobody knows is "unknown".`,
		Example: `  padjig rework GCC-000001-3 --did "contact cleaned" --at "key 7" --operator Ines
  padjig rework GCC-000001-3 --did "tail replaced" --lot T-881 --done 2026-11-24 --operator Ines`,
		Args: command.Exactly(1, command.OneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.Serial = args[0]
			return o.run(cmd)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Deed, "did", "", "`WHAT` was done, in one of the words above")
	f.StringVar(&o.at, "at", "", "`PLACE`, such as \"key 7\" or \"line R3\" (default the whole unit)")
	f.StringVar(&o.Lot, "lot", "", "`LOT` of the part that was put in")
	f.StringVar(&o.Note, "note", "", "anything else worth keeping")
	command.OperatorFlag(cmd, &o.By, "`NAME` of whoever did it")
	f.StringVar(&o.done, "done", "", "`DAY` it was done, such as 2026-11-24 (default today)")
	f.StringVar(&o.product, "product", "", "product `FILE` (default what the unit was tested by last)")
	command.StoreFlag(cmd, &o.store)
	command.Must(cmd.MarkFlagRequired("did"))
	command.OperatorNeeded(cmd)
	command.Must(cmd.RegisterFlagCompletionFunc("did", cobra.FixedCompletions(returns.Deeds(), cobra.ShellCompDirectiveNoFileComp)))
	return cmd
}

func (o *reworkOptions) run(cmd *cobra.Command) (err error) {
	if o.Place, err = returns.ReadPlace(o.at); err != nil {
		return command.Fail(command.Wrong, err, "")
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
	if o.Done, err = command.DayOf(clock, "done", o.done, time.Now()); err != nil {
		return err
	}
	if err := command.As(cmd, s, &o.By, account.Desk); err != nil {
		return err
	}
	p, err := o.definition(cmd, s)
	if err != nil {
		return err
	}
	return o.save(cmd, s, p)
}

// definition is what the unit is, by its file or by the records.
func (o *reworkOptions) definition(cmd *cobra.Command, s *results.Store) (*product.Product, error) {
	if o.product != "" {
		return command.LoadProduct(cmd, o.product)
	}
	p, err := s.Returns.ProductOf(cmd.Context(), o.Serial)
	switch {
	case errors.Is(err, store.ErrNotFound):
		return nil, command.Fail(command.Wrong, fmt.Errorf("unit %s was never tested, as far as %s knows: what is it?", o.Serial, s.Path()),
			"the number on the label, letter by letter, or its --product FILE")
	case err != nil:
		return nil, command.RecordsFailed(s, err)
	}
	return p, nil
}

func (o *reworkOptions) save(cmd *cobra.Command, s *results.Store, p *product.Product) error {
	err := s.Returns.SaveRework(context.WithoutCancel(cmd.Context()), o.Rework, p)
	switch {
	case errors.Is(err, returns.ErrRework):
		return command.Fail(command.Wrong, err, "")
	case err != nil:
		return command.RecordsFailed(s, err)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "recorded for unit %s: %s\n", o.Serial, o.Deed)
	return nil
}
