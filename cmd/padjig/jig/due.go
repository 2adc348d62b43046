package jig

// padjig jig due: every jig in the records, and what is due on it.

import (
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/asked"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
)

func newDue() *cobra.Command {
	var path string
	var asJSON, csv bool
	cmd := &cobra.Command{
		Use:   "due",
		Short: "Show what is due on every jig that the records know",
		Long: `Shows every jig that the records know, connected or not, those that need
something done first: how many days each zero and verification has left, what is
left of its reference units' interval, its most worn part, how far its readings
drifted towards their limit, and when it last tested. Below zero days it is
overdue. The page of the jigs shows the same.

Exit status: 0 nothing stops a jig, 3 a jig must not test units as it stands.`,
		Example: `  padjig jig due
  padjig jig due --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			store, err := command.ReadStore(cmd.Context(), path)
			if err != nil {
				return err
			}
			defer store.Close()
			clock, err := command.PlantClock(cmd.Context(), store)
			if err != nil {
				return err
			}
			all, document, err := asked.Jigs(cmd.Context(), store, clock.Zone(), time.Now())
			if err != nil {
				return command.RecordsFailed(store, err)
			}
			out := terminal.Of(cmd.OutOrStdout())
			switch {
			case asJSON:
				err = object.Print(out, document.Object())
			case csv:
				err = document.CSV(out)
			default:
				err = document.Text(out, out.Wide)
			}
			if err == nil && len(all.Jigs) > 0 && len(all.Jigs[0].Troubles) > 0 && all.Jigs[0].Troubles[0].Stops() {
				return command.Quiet(command.NotMeasured)
			}
			return err
		},
	}
	command.JSONFlag(cmd, &asJSON)
	cmd.Flags().BoolVar(&csv, "csv", false, "print the table as CSV")
	cmd.MarkFlagsMutuallyExclusive("json", "csv")
	command.StoreFlag(cmd, &path)
	return cmd
}
