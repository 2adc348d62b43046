package returns

// padjig returns dispose: a case ends in a word that can be counted.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/testrun"
	"padjig/results"
	"padjig/results/returns"
)

func newDispose() *cobra.Command {
	var flags caseFlags
	var d returns.Disposition
	cmd := &cobra.Command{
		Use:   "dispose SERIAL WORD --operator NAME",
		Short: "Close a case, or open it again",
		Long: `Closes the newest case of a unit with one of these words:
  "confirmed"                    a stage found the fault
  "not reproduced"               no stage found one, an exercise among them
  "customer damage"              broken after it left; the intake says what is seen
  "jig false accept suspected"   it may have left with the fault; needs --reason
What the stages do not support is refused. A disposition is corrected by another
one; "reopened" opens the case again.`,
		Example: `  padjig returns dispose GCC-000001-3 confirmed --operator Jon
  padjig returns dispose GCC-000001-3 "not reproduced" --operator Jon --reason "one key, damp hall"`,
		Args: command.Exactly(2, command.OneSerial+" and a disposition"),
		RunE: func(cmd *cobra.Command, args []string) error {
			d.Code = args[1]
			return flags.with(cmd, command.OpenStore, args[0], func(s *results.Store, c returns.Case) error {
				if err := command.As(cmd, s, &d.By, account.Desk); err != nil {
					return err
				}
				if err := s.Returns.Dispose(cmd.Context(), c, d); err != nil {
					return testrun.OfCase(s, c.Serial, err)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "case %d of unit %s: %s\n", c.Number, c.Serial, d.Code)
				return nil
			})
		},
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 1 {
				return returns.Dispositions, cobra.ShellCompDirectiveNoFileComp
			}
			return nil, cobra.ShellCompDirectiveNoFileComp
		},
	}
	cmd.Flags().StringVar(&d.Reason, "reason", "", "why, in `WORDS`")
	command.OperatorFlag(cmd, &d.By, "`NAME` of whoever decides")
	flags.add(cmd)
	command.OperatorNeeded(cmd)
	return cmd
}
