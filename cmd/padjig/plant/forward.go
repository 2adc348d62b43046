package plant

// padjig plant forward: what a station has is brought to the plant now.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/plant/forward"
)

func newForward() *cobra.Command {
	var store, plant, member string
	cmd := &cobra.Command{
		Use:   "forward --plant ADDRESS --member NAME",
		Short: "Bring to the plant what it has not yet, now",
		Long: `Brings to the plant what the records have and it has not, and ends. A station with
--plant does so all the time by itself; this is for records whose station does not
run any more. Both at once do no harm: each row comes once.`,
		Example: `  padjig plant forward --plant postgres://station@db/plant --member line-2
  padjig plant forward --store old.sqlite --plant postgres://station@db/plant --member line-7`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			db, s, done, err := command.BesidePlant(cmd.Context(), plant, store)
			if err != nil {
				return err
			}
			defer done()
			f := &forward.Forwarder{Plant: db, Records: s, Member: member}
			defer f.Close()
			progress := command.Progress(cmd, "forwarding", "runs")
			moved, err := f.All(cmd.Context(), progress.At)
			progress.Clear()
			if err != nil {
				return command.PlantTrouble(err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "the plant has everything of %s; %s came now\n", s.Path(), command.Count(int(moved.Rows), "row"))
			return nil
		},
	}
	command.StoreFlag(cmd, &store)
	flags(cmd, &plant, &member)
	command.ProgressFlag(cmd)
	return cmd
}
