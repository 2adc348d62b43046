package records

// padjig records check: whether what is stored is what was stored.

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/sequence"
)

func newCheck() *cobra.Command {
	var store string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Read all records and say what is wrong with them",
		Long: `Reads all records and says everything that is wrong with them: damage to the
file, guards and tables that are not those padjig made, rows that do not belong
together, and runs, calibrations, product definitions and releases that were
changed since they were stored. Testing may go on meanwhile. A backup is checked
in the same way: give --store its folder.

Exit status: 0 sound, 4 not.`,
		Example: `  padjig records check
  padjig records check --store /srv/line2/records.sqlite
  padjig records check --store /media/backup/padjig-2026-11-30T021500Z --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := command.ReadOwnStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			began := time.Now()
			progress := command.Progress(cmd, "checking", "")
			wrong, err := s.CheckTold(cmd.Context(), progress.Share)
			progress.Clear()
			if asJSON {
				if err == nil {
					err = object.Print(cmd.OutOrStdout(), object.Soundness{
						Store: s.Path(), Sound: len(wrong) == 0, Faults: append([]string{}, wrong...),
						Took: sequence.Seconds(time.Since(began)),
					})
				}
			} else {
				for _, w := range wrong {
					fmt.Fprintln(cmd.OutOrStdout(), w)
				}
			}
			switch {
			case err != nil:
				return command.Fail(command.NotRecorded, err, "")
			case len(wrong) > 0:
				return command.Fail(command.NotRecorded, fmt.Errorf("%s has %s", s.Path(), command.Count(len(wrong), "fault")),
					"keep the file as it is, and go on with the last backup (padjig records restore) or with a new --store")
			case !asJSON:
				fmt.Fprintf(cmd.OutOrStdout(), "%s is sound\n", s.Path())
			}
			return nil
		},
	}
	command.StoreFlag(cmd, &store)
	command.JSONFlag(cmd, &asJSON)
	command.ProgressFlag(cmd)
	return cmd
}
