package plant

// padjig plant check: whether the plant has what the station has.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/plant/count"
	"padjig/results/plant/forward"
)

func newCheck() *cobra.Command {
	var store, plant, member string
	var asJSON, counts bool
	cmd := &cobra.Command{
		Use:   "check --plant ADDRESS --member NAME",
		Short: "Compare every row that came to the plant with the station's own",
		Long: `Compares every row that came to the plant from a station with the station's own,
and says table by table how many there are, whether they are the same, and how many
are still to come. Nothing is changed on either side; forwarding may go on meanwhile.

With --counts all runs of the plant are counted anew, and the aggregates that answers
are read from are held against that: those of all stations, since a unit that two
stations tested counts once.

Exit status: 0 the same, 4 not.`,
		Example: `  padjig plant check --plant postgres://station@db/plant --member line-2
  padjig plant check --store /srv/line2.sqlite --plant postgres://db/plant --member line-2 --json
  padjig plant check --plant postgres://db/plant --member line-2 --counts`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			db, s, done, err := command.BesidePlant(cmd.Context(), plant, store)
			if err != nil {
				return err
			}
			defer done()
			progress := command.Progress(cmd, "comparing", "runs")
			found, err := forward.Check(cmd.Context(), db, s, member, progress.At)
			progress.Clear()
			if err != nil {
				return command.PlantTrouble(err)
			}
			var wrong []string
			if counts {
				progress := command.Progress(cmd, "counting", "")
				wrong, err = count.Check(cmd.Context(), results.Over(db, "the plant"), progress.Share)
				progress.Clear()
				if err != nil {
					return command.PlantTrouble(err)
				}
			}
			if asJSON {
				err = object.Print(cmd.OutOrStdout(), object.PlantCheckOf(s.Path(), member, found, wrong))
			} else {
				sayChecked(cmd, found)
				for _, w := range wrong {
					fmt.Fprintln(cmd.OutOrStdout(), w)
				}
			}
			if err == nil && len(wrong) > 0 {
				err = command.Fail(command.NotRecorded, fmt.Errorf("the plant has %s", command.Count(len(wrong), "wrong count")),
					"keep the database as it is, and go on with its last backup")
			}
			if err == nil && !found.Same() {
				err = command.Fail(command.NotRecorded, fmt.Errorf("the plant does not have what %s has", s.Path()), "docs/plant.md, When forwarding stops")
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&counts, "counts", false, "count all runs of the plant anew as well")
	command.StoreFlag(cmd, &store)
	flags(cmd, &plant, &member)
	command.JSONFlag(cmd, &asJSON)
	command.ProgressFlag(cmd)
	return cmd
}

func sayChecked(cmd *cobra.Command, found forward.Checked) {
	out := cmd.OutOrStdout()
	for _, t := range found.Tables {
		if t.Here == 0 && t.There == 0 && t.Left == 0 {
			continue
		}
		is := "the same"
		if !t.Same() {
			is = fmt.Sprintf("NOT the same: %d at the plant", t.There)
		}
		if t.Left > 0 {
			is += fmt.Sprintf(", %d still to come", t.Left)
		}
		fmt.Fprintf(out, "%-20s %9d  %s\n", t.Table, t.Here, is)
	}
	for _, d := range found.Differences {
		fmt.Fprintln(out, d)
	}
}
