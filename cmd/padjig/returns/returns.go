// Package returns is padjig returns: a unit that came back is a case, and this is
// its order at the terminal.
package returns

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/returns"
	"padjig/results/store"
)

// Command is padjig returns with all that is below it.
func Command() *cobra.Command {
	cmd := command.Noun("returns", "Find out about a unit that came back", `  padjig returns intake GCC-000001-3 --product pad.yaml --complaint "key dead" --operator Jon
  padjig returns first-press GCC-000001-3 --product pad.yaml --jig J-0042 --operator Jon
  padjig returns show GCC-000001-3`,
		newIntake(), newPhoto(), newUnlock(), newFirstPress(), newTest(), newExercise(),
		newShow(), newDispose(), newReport(), newList())
	cmd.Long = `A unit that came back is a case, and a case has its order: intake, with what can
be seen and photos; one gentle press a key, before anything can clean the fault
away; the production test; then, if nothing was found, many presses, keys held,
the tail moved. Each stage is stored, and which one found the fault. What is
known is shown beside the readings the unit left with. docs/returns.md tells all
of it.`
	return cmd
}

// caseFlags are the flags of a command about one case.
type caseFlags struct {
	store  string
	number int64
}

func (f *caseFlags) add(cmd *cobra.Command) {
	cmd.Flags().Int64Var(&f.number, "case", 0, "`NUMBER` of the case, where it is not the unit's newest one")
	command.StoreFlag(cmd, &f.store)
}

// find gives the case of a unit.
func (f *caseFlags) find(ctx context.Context, s *results.Store, serial string) (c returns.Case, err error) {
	if f.number > 0 {
		c, err = s.Returns.Case(ctx, f.number)
	} else {
		c, err = s.Returns.CaseOf(ctx, serial)
	}
	switch {
	case errors.Is(err, store.ErrNotFound):
		return c, command.Fail(command.Wrong, fmt.Errorf("unit %s has no returns case, as far as %s knows", serial, s.Path()),
			"padjig returns intake "+serial+", or the number on the label, letter by letter")
	case err != nil:
		return c, command.RecordsFailed(s, err)
	case c.Serial != serial:
		return c, command.WrongUsef("case %d is of unit %s, not of %s", c.Number, c.Serial, serial)
	}
	return c, nil
}

// with opens the records, to read or to write, and does something with a case.
func (f *caseFlags) with(cmd *cobra.Command, open func(context.Context, string) (*results.Store, error), serial string,
	do func(*results.Store, returns.Case) error) error {
	s, err := open(cmd.Context(), f.store)
	if err != nil {
		return err
	}
	defer s.Close()
	c, err := f.find(cmd.Context(), s, serial)
	if err != nil {
		return err
	}
	return do(s, c)
}
