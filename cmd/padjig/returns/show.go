package returns

// padjig returns show: a case as far as it is known.

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/report/returned"
	"padjig/results/returns"
)

func newShow() *cobra.Command {
	var flags caseFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show SERIAL",
		Short: "Show a case: the unit's life, as shipped and now, and what comes next",
		Long: `Shows the newest case of a unit: its life, what each key read when it left beside
what it reads now, with the uncertainty of the change, what each stage found, the
likely causes with what speaks for and against them, whether it reads like the pad
that left under its number or like another one, other units with something
at the same place, what speaks against the jig that passed it, and what comes
next.

With --json standard output holds one object: case, serial, product, simulated,
complaint, conditions, disposition, found_by, stages[] (stage, run, outcome, worst),
insulation[] (step, shipped and now: the pair of lines of which the least is known),
keys[] (key, lines, limit_ohm, shipped, first_press, test, change with ohm,
expanded_u_ohm (k = 2) and real, now, thin, spread, wrong, bounce as shipped and now
in shipped_bounce_on_closing, bounce_on_closing, shipped_bounce_on_opening,
bounce_on_opening, exercise, readings[] (stage, contact_resistance, bad, worst)),
insulation[], findings[], each with its stage, gone[] (finding, stage, then, reads, again,
why: what one stage found and a later one did not), causes[], against[], offers[],
alike[], identity (is it the pad that left: conclusion, left, nearest and what it rests
on, see docs/samepad.md), bound (presses, rule_of_three, exact), next, reworks[] as
padjig unit --json has them, photos[], no_photo, locked: damage ends testing. A closed
case has disposal and contradictions[] (code, args, answer). Readings and findings are
as padjig test --json prints them.`,
		Example: `  padjig returns show GCC-000001-3
  padjig returns show GCC-000001-3 --json`,
		Args: command.Exactly(1, command.OneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.with(cmd, command.ReadStore, args[0], func(s *results.Store, c returns.Case) error {
				return showCase(cmd, s, c, asJSON)
			})
		},
	}
	command.JSONFlag(cmd, &asJSON)
	flags.add(cmd)
	return cmd
}

// lifeOf gathers a case as it is now.
func lifeOf(cmd *cobra.Command, s *results.Store, number int64) (*returned.Life, error) {
	c, err := s.Returns.Case(cmd.Context(), number)
	if err != nil {
		return nil, command.RecordsFailed(s, err)
	}
	life, err := returned.Of(cmd.Context(), s, c)
	if err != nil {
		return nil, command.RecordsFailed(s, err)
	}
	life.At = command.StoreArgument(s)
	return life, nil
}

func showCase(cmd *cobra.Command, s *results.Store, c returns.Case, asJSON bool) error {
	life, err := lifeOf(cmd, s, c.Number)
	if err != nil {
		return err
	}
	if asJSON {
		return object.Print(cmd.OutOrStdout(), object.LifeOf(life))
	}
	t := terminal.Of(cmd.OutOrStdout())
	return life.Text(t, t.Wide)
}
