package plant

// padjig plant conflicts close and reopen: what was decided about one.

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/plant/conflict"
	"padjig/results/plant/postgres"
)

// shortestReason is in characters, as on the pages.
const shortestReason = 8

func newClose() *cobra.Command {
	return newDecision(false, `Writes down what came of a conflict that padjig plant conflicts lists, by its name
there: who says so, when, and why. It is not listed any more, but with --show closed,
and nothing is taken out. Something new of the same kind opens it again by itself:
the unit tested there once more, the label used for a third revision.

Nothing else comes of it: what a unit is refused for is decided at a station. --store are
the records of the office; where they have accounts, NAME must be a quality engineer's
or an engineer's. The address in --plant is that of an office.`,
		`  padjig plant conflicts close 3f9a01c27be4 --operator Quinn \
    --reason "one unit, sent on by mistake" --plant postgres://office@db/plant`)
}

func newReopen() *cobra.Command {
	return newDecision(true, `Opens a conflict that was closed by mistake. What was said when it was closed stays.

--store are the records of the office; where they have accounts, NAME must be a
quality engineer's or an engineer's.`,
		`  padjig plant conflicts reopen 3f9a01c27be4 --operator Quinn \
    --reason "two units after all" --plant postgres://office@db/plant`)
}

func newDecision(reopen bool, long, example string) *cobra.Command {
	var plant, store string
	var asJSON bool
	d := conflict.Decision{Reopen: reopen}
	use, short := "close", "Write down what came of a conflict"
	if reopen {
		use, short = "reopen", "Open a conflict that was closed by mistake"
	}
	cmd := &cobra.Command{
		Use: use + " NAME --reason WORDS --operator NAME --plant ADDRESS", Short: short, Long: long, Example: example,
		Args: command.Exactly(1, "the name of a conflict"),
		RunE: func(cmd *cobra.Command, args []string) error {
			d.ID = args[0]
			if len([]rune(d.Reason)) < shortestReason {
				return command.WrongUsef("--reason %q: say it in eight letters or more", d.Reason)
			}
			s, err := command.OpenStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			if err := command.As(cmd, s, &d.By, account.Deciding); err != nil {
				return err
			}
			db, err := command.OpenPlant(plant)
			if err != nil {
				return err
			}
			name, err := postgres.Called(plant)
			if err != nil {
				return command.Fail(command.Wrong, err, "")
			}
			records := results.Over(db, name)
			defer records.Close()
			if err := command.SameTables(cmd.Context(), db, "--plant"); err != nil {
				return err
			}
			clock, err := records.Floor.Clock(cmd.Context())
			if err != nil {
				return command.PlantTrouble(err)
			}
			c, err := conflict.Decide(cmd.Context(), db, records, d)
			switch {
			case err != nil:
				return undecided(d, err)
			case asJSON:
				return object.Print(cmd.OutOrStdout(), object.ConflictsOf(conflict.Answer{Conflicts: []conflict.Conflict{c}}))
			}
			sayConflict(terminal.Of(cmd.OutOrStdout()), c, clock.Zone())
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&d.Reason, "reason", "", "why, in `WORDS`")
	f.StringVar(&d.Serial, "serial", "", "look at the unit with this `NUMBER` alone: sooner, and\nfor two units of longer ago than 31 days")
	command.OperatorFlag(cmd, &d.By, "`NAME` of who decides so")
	command.PlantFlag(cmd, &plant)
	command.Group(f, command.OfPlant, "plant")
	command.StoreFlag(cmd, &store)
	command.JSONFlag(cmd, &asJSON)
	command.Needs(cmd, "plant", "reason")
	command.OperatorNeeded(cmd)
	return cmd
}

// undecided says why nothing came of it.
func undecided(d conflict.Decision, err error) error {
	switch {
	case errors.Is(err, conflict.ErrNone):
		return command.Fail(command.Wrong, fmt.Errorf("there is no conflict %q", d.ID), "padjig plant conflicts --show all, with the days from which on they are listed")
	case errors.Is(err, conflict.ErrAlready) && d.Reopen:
		return command.Fail(command.Wrong, fmt.Errorf("conflict %s is open", d.ID), "")
	case errors.Is(err, conflict.ErrAlready):
		return command.Fail(command.Wrong, fmt.Errorf("conflict %s is closed", d.ID), "padjig plant conflicts --show closed says by whom")
	case errors.Is(err, conflict.ErrMayNot):
		return command.Fail(command.NotRecorded, err, "an address of an office in --plant (padjig plant office add)")
	}
	return command.PlantTrouble(err)
}

// decided says what was decided about a conflict.
func decided(t terminal.Terminal, c conflict.Conflict, zone *time.Location) {
	fmt.Fprintf(t, "  conflict %s\n", c.ID())
	for _, n := range c.Notes {
		what := "opened again"
		if n.Closed {
			what = "closed"
		}
		fmt.Fprintf(t, "  %s\n", t.Wrap(2, fmt.Sprintf("%s %s by %s: %s", what, n.At.In(zone).Format("2006-01-02 15:04"), n.By, n.Reason)))
	}
	if c.Came() {
		fmt.Fprintln(t, "  something came to it since: it is open again")
	}
}
