package product

// padjig product released: the file that production tests by, from the records.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
)

func newReleased() *cobra.Command {
	var store, serial string
	cmd := &cobra.Command{
		Use:   "released CODE",
		Short: "Print the product file of the revision in force",
		Long: `Prints the product file as it was released last, for --product: once a revision
of a product is released, only the one in force is tested for production. --serial
is for a unit from before the serial number from which that holds.`,
		Example: `  padjig product released GCC-20 >gcc-20.yaml
  padjig product released GCC-20 --store line2.sqlite >gcc-20.yaml`,
		Args: command.Exactly(1, "the code of a product"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			return printReleased(cmd, s, args[0], serial)
		},
	}
	cmd.Flags().StringVar(&serial, "serial", "", "the one that this unit is tested by, by its serial number `SN`")
	command.StoreFlag(cmd, &store)
	return cmd
}

func printReleased(cmd *cobra.Command, s *results.Store, code, serial string) error {
	if _, err := command.RecordsOf(s).Released(cmd.Context(), code); err != nil {
		return err
	}
	list, err := s.Runs.Releases(cmd.Context(), code)
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	if len(list) == 0 {
		return command.Fail(command.Wrong, fmt.Errorf("no revision of %q was released, as far as %s knows", code, s.Path()),
			"the code as the product file has it, or another --store")
	}
	source := list[0].Source
	if serial != "" {
		holds, _, err := command.RecordsOf(s).ReleasedFor(cmd.Context(), code, serial)
		if err != nil {
			return err
		}
		source = holds.Source
	}
	fmt.Fprint(cmd.OutOrStdout(), source)
	return nil
}
