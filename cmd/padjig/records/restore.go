package records

// padjig records restore: a backup becomes the records.

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/backup"
)

// restoreOptions are the flags of padjig records restore.
type restoreOptions struct {
	to            string
	aside, asJSON bool
}

func newRestore() *cobra.Command {
	var o restoreOptions
	cmd := &cobra.Command{
		Use:   "restore BACKUP",
		Short: "Make a backup the records",
		Long: `Verifies every file of a backup by its sum, checks its records in full and puts
them in place. Records that are there are never written over: with --aside they
are kept under another name beside the new ones, and their runs of after the
backup are listed. Nothing is restored while a station has the records open.

What was tested after the backup is not in the restored records: they take such
a unit for one that was not tested. Take care of those on the list.

Exit status: 0 restored, 2 not possible there, 4 failed.`,
		Example: `  padjig records restore /media/backup/padjig-2026-11-30T021500Z --aside
  padjig records restore /media/backup/padjig-2026-11-30T021500Z --to drill.sqlite`,
		Args: command.Exactly(1, "the folder of a backup"),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.to, "to", "", "`FILE` that the records become (default that of --store elsewhere)")
	f.BoolVar(&o.aside, "aside", false, "keep records that are there under another name")
	command.Group(f, command.OfBackup, "to", "aside")
	command.JSONFlag(cmd, &o.asJSON)
	command.ProgressFlag(cmd)
	return cmd
}

func (o *restoreOptions) run(cmd *cobra.Command, from string) error {
	to := command.BesideStore(o.to)
	if o.to == "" {
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return command.Fail(command.NotRecorded, fmt.Errorf("restore: %w", err), "--to with another path")
		}
	}
	progress := command.Progress(cmd, "restoring", "")
	done, err := results.Restore(cmd.Context(), backup.Recovery{
		Backup: from, To: to, Aside: o.aside,
		Told: func(step backup.Step, part float64) { progress.Share(restoredShare(step, part)) },
	})
	progress.Clear()
	if err != nil {
		return command.Fail(statusOf(err), err, "")
	}
	if o.asJSON {
		return object.Print(cmd.OutOrStdout(), object.RestoreOf(from, done))
	}
	return o.tell(cmd, done)
}

// restoredShare is how much of a restore is done: reading, copying, checking.
func restoredShare(step backup.Step, part float64) float64 {
	const reading, checking = 0.1, 0.9
	switch step {
	case "":
		return reading * part
	case backup.Begun:
		return reading
	case backup.Copied:
		return reading + (checking-reading)*part
	}
	return 1
}

// clocked is when the backup was taken, by the clock of the plant; that of UTC where an older padjig wrote it.
func clocked(cmd *cobra.Command, done backup.Restored) string {
	s, err := results.OpenReadOnly(cmd.Context(), done.Path)
	if err != nil {
		return done.Made.UTC().Format(time.RFC3339)
	}
	defer s.Close()
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return done.Made.UTC().Format(time.RFC3339)
	}
	return clock.Zoned(done.Made)
}

func (o *restoreOptions) tell(cmd *cobra.Command, done backup.Restored) error {
	out := cmd.OutOrStdout()
	fmt.Fprintf(out, "restored: %s with %s, as of %s\n", done.Path, command.Count(int(done.Runs), "run"), clocked(cmd, done))
	if done.Aside == "" {
		fmt.Fprintln(out, "What was tested since is not in them, and they take such a unit for one that was not tested.")
		return nil
	}
	fmt.Fprintf(out, "The records that were there are kept as %s\n", done.Aside)
	since := done.Since
	for _, l := range since.Runs {
		purpose := ""
		if l.Purpose != "" {
			purpose = ", " + l.Purpose
		}
		fmt.Fprintf(out, "  not in the backup: %s, %s%s\n", l.Serial, l.Verdict, purpose)
	}
	for _, serial := range since.Begun {
		fmt.Fprintf(out, "  not in the backup: %s, test was begun\n", serial)
	}
	switch {
	case !since.Known:
		fmt.Fprintf(out, "Which units those have that the backup does not have cannot be said in full: %s\n", since.Why)
	case len(since.Runs)+len(since.Begun) == 0:
		fmt.Fprintln(out, "The backup has every run of them.")
	default:
		fmt.Fprintln(out, "The restored records take these units for ones that were not tested then. Test those that are here again; "+
			"what was shipped is proved by the records kept aside alone.")
	}
	return nil
}
