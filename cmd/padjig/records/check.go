package records

// padjig records check: whether what is stored is what was stored.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

func newCheck() *cobra.Command {
	var store string
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Read all records and say what is wrong with them",
		Long: `Reads all records and says everything that is wrong with them: damage to the
file, guards and tables that are not those padjig made, rows that do not belong
together, and runs, calibrations, product definitions and releases that were
changed since they were stored. Testing may go on meanwhile.

Exit status: 0 sound, 4 not.`,
		Example: `  padjig records check
  padjig records check --store /srv/line2/records.sqlite`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			wrong, err := s.Check(cmd.Context())
			for _, w := range wrong {
				fmt.Fprintln(cmd.OutOrStdout(), w)
			}
			switch {
			case err != nil:
				return command.Fail(command.NotRecorded, err, "")
			case len(wrong) > 0:
				return command.Fail(command.NotRecorded, fmt.Errorf("%s has %s", s.Path(), command.Count(len(wrong), "fault")),
					"keep the file as it is, go on with a new --store, and call whoever looks after the records")
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s is sound\n", s.Path())
			return nil
		},
	}
	command.StoreFlag(cmd, &store)
	return cmd
}
