package returns

// padjig returns list: what lies on the desk.

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results/floor"
	"padjig/results/returns"
)

func newList() *cobra.Command {
	var store string
	var asJSON, open bool
	var asked returns.Search
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List and search the cases, newest first",
		Long: `Lists the cases, newest first, or those that are asked for: what is asked for together
has to hold together. Parts of a word are found, whatever their letters' case. The page of
the returns desk asks the same.

With --json standard output holds one object: found, how many there are, and cases[],
no more of them than --last.`,
		Example: `  padjig returns list
  padjig returns list --open --older 14
  padjig returns list --serial 0003 --complaint "key dead"
  padjig returns list --customer hall --sort=-received`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if open {
				asked.State = returns.Open
			}
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			found, err := s.Returns.Find(cmd.Context(), asked)
			switch {
			case errors.Is(err, returns.ErrSearch):
				return command.WrongUsef("%v", err)
			case err != nil:
				return command.RecordsFailed(s, err)
			}
			clock, err := command.PlantClock(cmd.Context(), s)
			if err != nil {
				return err
			}
			return printCases(cmd, clock, found, asJSON)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&open, "open", false, "only those without a disposition, as --state open")
	f.StringVar(&asked.Serial, "serial", "", "`PART` of the serial number")
	f.StringVar(&asked.Customer, "customer", "", "`PART` of the customer's name")
	f.StringVar(&asked.Complaint, "complaint", "", "what the customer said, in a `WORD` of the desk")
	f.StringVar(&asked.Words, "words", "", "`PART` of what was written at the intake")
	f.StringVar(&asked.State, "state", "", "`open` or closed")
	f.IntVar(&asked.Older, "older", 0, "came back more than `N` days ago")
	f.StringVar(&asked.Sort, "sort", "", "sort by `WORD`, with - before it from the top down:\n"+strings.Join(returns.SortedBy, ", "))
	f.IntVar(&asked.Most, "last", 50, "no more than `N`")
	cmd.MarkFlagsMutuallyExclusive("open", "state")
	command.Must(cmd.RegisterFlagCompletionFunc("complaint", cobra.FixedCompletions(returns.Complaints, cobra.ShellCompDirectiveNoFileComp)))
	command.Must(cmd.RegisterFlagCompletionFunc("sort", cobra.FixedCompletions(returns.SortedBy, cobra.ShellCompDirectiveNoFileComp)))
	command.JSONFlag(cmd, &asJSON)
	command.StoreFlag(cmd, &store)
	return cmd
}

func printCases(cmd *cobra.Command, clock floor.Clock, found returns.Found, asJSON bool) error {
	if asJSON {
		return object.Print(cmd.OutOrStdout(), object.Cases{Found: found.All, Cases: command.Each(found.Cases, object.ReturnsCaseOf)})
	}
	t := terminal.Of(cmd.OutOrStdout())
	for _, c := range found.Cases {
		fmt.Fprintf(t, "%4d  %s  %-16s %-10s %-22s %s\n", c.Number, clock.Day(c.Intake().Received), c.Serial, c.Product,
			c.Intake().Complaint, standing(c))
	}
	switch more := found.All - len(found.Cases); {
	case found.All == 0:
		fmt.Fprintln(t, "no cases")
	case more > 0:
		fmt.Fprintf(t, "and %d more: --last shows more of them\n", more)
	}
	return nil
}

// standing says how far a case is, in a few words.
func standing(c returns.Case) string {
	switch found, any := c.FoundBy(); {
	case c.Closed():
		return c.Disposition().Code
	case any:
		return "open, " + found.Worst
	case len(c.Stages) > 0:
		return "open, after the " + string(c.Stages[len(c.Stages)-1].Purpose)
	}
	return "open, taken in"
}
