package returns

// padjig returns list: what lies on the desk.

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results/returns"
)

func newList() *cobra.Command {
	var store string
	var asJSON, open bool
	var last int
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the cases, newest first",
		Example: `  padjig returns list
  padjig returns list --open`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			cases, err := s.Returns.Cases(cmd.Context(), last)
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			return printCases(cmd, cases, open, asJSON)
		},
	}
	cmd.Flags().BoolVar(&open, "open", false, "only those without a disposition")
	cmd.Flags().IntVar(&last, "last", 50, "no more than `N`")
	command.JSONFlag(cmd, &asJSON)
	command.StoreFlag(cmd, &store)
	return cmd
}

func printCases(cmd *cobra.Command, cases []returns.Case, open, asJSON bool) error {
	var shown []returns.Case
	for _, c := range cases {
		if !open || !c.Closed() {
			shown = append(shown, c)
		}
	}
	if asJSON {
		return object.Print(cmd.OutOrStdout(), object.Cases{Cases: command.Each(shown, object.ReturnsCaseOf)})
	}
	t := terminal.Of(cmd.OutOrStdout())
	for _, c := range shown {
		fmt.Fprintf(t, "%4d  %s  %-16s %-10s %-22s %s\n", c.Number, c.Intake().Received.Local().Format(time.DateOnly), c.Serial, c.Product,
			c.Intake().Complaint, standing(c))
	}
	if len(shown) == 0 {
		fmt.Fprintln(t, "no cases")
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
