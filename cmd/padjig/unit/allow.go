package unit

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/results/accounts"
	"padjig/results/returns"
)

// newAllow is padjig allow.
func newAllow() *cobra.Command {
	var store string
	o := accounts.Override{What: returns.RepairLoop}
	cmd := &cobra.Command{
		Use:   "allow SERIAL --reason WORDS --operator NAME",
		Short: "Let a unit that failed after every repair be tested once more",
		Long: `Records an engineer's decision that a unit is tested once more although it failed
again after so many repairs as its product allows (repair loops). It holds until
the unit fails again. Where the records have accounts, NAME must be an engineer's.`,
		Example: `  padjig allow GCC-000001-3 --reason "new membrane, made by hand" --operator Ines`,
		Args:    command.Exactly(1, command.OneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.Serial = args[0]
			if len([]rune(o.Reason)) < 8 {
				return command.WrongUsef("--reason %q: say it in eight letters or more", o.Reason)
			}
			s, err := command.OpenStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			if err := command.As(cmd, s, &o.By, account.Engineers); err != nil {
				return err
			}
			if err := s.Accounts.SaveOverride(cmd.Context(), o); err != nil {
				return command.RecordsFailed(s, err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "unit %s may be tested once more\n", o.Serial)
			return nil
		},
	}
	cmd.Flags().StringVar(&o.Reason, "reason", "", "why, in `WORDS`")
	command.OperatorFlag(cmd, &o.By, "`NAME` of the engineer who decides")
	command.StoreFlag(cmd, &store)
	command.Must(cmd.MarkFlagRequired("reason"))
	command.OperatorNeeded(cmd)
	return cmd
}
