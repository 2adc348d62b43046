package returns

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/testrun"
	"padjig/results"
	"padjig/results/returns"
)

// newUnlock is padjig returns unlock.
func newUnlock() *cobra.Command {
	var flags caseFlags
	var by, reason string
	cmd := &cobra.Command{
		Use:   "unlock SERIAL --reason WORDS --operator NAME",
		Short: "Have a damaged unit tested all the same",
		Long: `Visible damage ends electrical testing of a case, also when a later intake leaves
it out. An engineer may decide that the unit is tested all the same; the reason
is kept. It holds until damage is seen again. Where the records have accounts, NAME
must be an engineer's.`,
		Example: `  padjig returns unlock GCC-000001-3 --reason "only the label is burnt" --operator Ines`,
		Args:    command.Exactly(1, command.OneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.with(cmd, command.OpenStore, args[0], func(s *results.Store, c returns.Case) error {
				if err := command.As(cmd, s, &by, account.Engineers); err != nil {
					return err
				}
				if err := s.Returns.Unlock(cmd.Context(), c, by, reason); err != nil {
					return testrun.OfCase(s, c.Serial, err)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "case %d of unit %s is tested although damaged\n", c.Number, c.Serial)
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&reason, "reason", "", "why, in `WORDS`")
	command.OperatorFlag(cmd, &by, "`NAME` of the engineer who decides")
	flags.add(cmd)
	command.Must(cmd.MarkFlagRequired("reason"))
	command.OperatorNeeded(cmd)
	return cmd
}
