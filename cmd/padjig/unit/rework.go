package unit

// padjig rework: what was done to a unit since it was made belongs to its life.

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/results/returns"
)

func newRework() *cobra.Command {
	var r returns.Rework
	var store, done string
	cmd := &cobra.Command{
		Use:   "rework SERIAL --did WHAT --operator NAME",
		Short: "Record what was done to a unit after it was made",
		Long: `Records rework of a unit: what was done, at which key or line, by whom and when.
It is part of the unit's life and stands in the report of a case. While the unit
has an open returns case the rework belongs to that.`,
		Example: `  padjig rework GCC-000001-3 --did "contact cleaned" --at "key 7" --operator Ines
  padjig rework GCC-000001-3 --did "tail replaced" --done 2026-11-24 --operator Ines`,
		Args: command.Exactly(1, command.OneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Serial, r.Done = args[0], time.Now()
			if done != "" {
				day, err := time.ParseInLocation(time.DateOnly, done, time.Local)
				if err != nil {
					return command.WrongUsef("--done %q: write a day such as %s", done, time.Now().Format(time.DateOnly))
				}
				r.Done = day
			}
			s, err := command.OpenStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			if err := command.As(cmd, s, &r.By, account.Desk); err != nil {
				return err
			}
			if r.Case, err = s.Returns.OpenCaseOf(cmd.Context(), r.Serial); err == nil {
				err = s.Returns.SaveRework(cmd.Context(), r)
			}
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "recorded for unit %s: %s\n", r.Serial, r.What)
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.What, "did", "", "`WHAT` was done")
	f.StringVar(&r.Place, "at", "", "key or line, such as \"key 7\" or \"line R3\"")
	f.StringVar(&r.Note, "note", "", "anything worth keeping")
	command.OperatorFlag(cmd, &r.By, "`NAME` of whoever did it")
	f.StringVar(&done, "done", "", "`DAY` it was done, such as 2026-11-24 (default today)")
	command.StoreFlag(cmd, &store)
	command.Must(cmd.MarkFlagRequired("did"))
	command.OperatorNeeded(cmd)
	return cmd
}
