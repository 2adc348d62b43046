package quality

// padjig quality gauge list: which studies there are, and how far each is.

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/report"
)

func newGaugeList() *cobra.Command {
	var o answerForm
	var path string
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List gauge studies, and how far each has come",
		Example: `  padjig quality gauge list`,
		Args:    command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			store, err := command.ReadStore(cmd.Context(), path)
			if err != nil {
				return err
			}
			defer store.Close()
			list, err := store.Studies.Studies(cmd.Context())
			if err != nil {
				return command.Fail(command.NotRecorded, err, "")
			}
			return o.write(cmd, report.GaugeList(list), nil)
		},
	}
	o.flags(cmd)
	command.StoreFlag(cmd, &path)
	return cmd
}
