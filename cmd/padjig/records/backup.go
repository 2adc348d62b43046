package records

// padjig records backup: a copy of the records on another disk, while they are written.

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/backup"
	"padjig/results/store"
)

// backupOptions are the flags of padjig records backup.
type backupOptions struct {
	store, to     string
	keep          int
	quick, asJSON bool
}

func newBackup() *cobra.Command {
	var o backupOptions
	cmd := &cobra.Command{
		Use:   "backup --to FOLDER",
		Short: "Take a backup of the records",
		Long: `Copies the records and the photos of returned units to a folder of their own in
FOLDER, as they are at one moment, with a manifest of sums. Testing may go on
meanwhile. The copy is checked as padjig records check does, --quick looks at the
file and the sums alone, and only then it gets its name: one that was cut short
never looks like a backup.

FOLDER has to be there, so that a disk that is not connected is noticed. Nothing
in it is written over. With --keep older backups of the same records are removed.

Exit status: 0 taken, 2 not possible there, 4 failed.`,
		Example: `  padjig records backup --to /media/backup
  padjig records backup --to /media/backup --keep 14 --quick`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	f.StringVar(&o.to, "to", "", "`FOLDER` with the backups in it")
	f.IntVar(&o.keep, "keep", 0, "`NUMBER` of backups of these records to keep, the newest always; 0 for all")
	f.BoolVar(&o.quick, "quick", false, "look at the file and the sums alone, not at each run")
	command.Group(f, command.OfBackup, "to", "keep", "quick")
	command.StoreFlag(cmd, &o.store)
	command.JSONFlag(cmd, &o.asJSON)
	command.ProgressFlag(cmd)
	command.Must(cmd.MarkFlagRequired("to"))
	return cmd
}

func (o *backupOptions) run(cmd *cobra.Command) error {
	if o.keep < 0 {
		return command.WrongUsef("--keep %d: give how many backups to keep, 0 for all", o.keep)
	}
	s, err := command.ReadOwnStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	began := time.Now()
	order := backup.Order{Folder: o.to, Keep: o.keep}
	progress := command.Progress(cmd, "backing up", "")
	order.Told = func(step backup.Step, done float64) { progress.Share(shareOf(step, done, !o.quick)) }
	taken, failed := s.TakeBackup(cmd.Context(), order, !o.quick)
	progress.Clear()
	noted := note(cmd.Context(), s, backup.Outcome(order, began, taken, failed))
	if failed != nil {
		return command.Fail(statusOf(failed), failed, "")
	}
	messages := cmd.ErrOrStderr()
	for _, left := range taken.Left {
		fmt.Fprintf(messages, "padjig: %v\n", left)
	}
	if noted != nil {
		fmt.Fprintf(messages, "padjig: the records do not say that it was taken: %v\n", noted)
	}
	if o.asJSON {
		return object.Print(cmd.OutOrStdout(), object.BackupOf(taken, noted == nil))
	}
	tellTaken(cmd, taken)
	return nil
}

// shareOf is how much of a backup is done: copying, and checking where that is done in full.
func shareOf(step backup.Step, done float64, full bool) float64 {
	copying := 0.9
	if full {
		copying = 0.1
	}
	switch step {
	case "":
		return copying * done
	case backup.Pictured:
		return copying + (0.99-copying)*done*ifElse(full)
	case backup.Begun:
		return 0
	case backup.Copied:
		return copying
	}
	return 1
}

func ifElse(full bool) float64 {
	if full {
		return 1
	}
	return 0
}

// note keeps in the records what came of it, which were open for reading alone.
func note(ctx context.Context, s *results.Store, d backup.Deed) error {
	w, err := results.Open(ctx, s.Path())
	if err != nil {
		return err
	}
	return errors.Join(w.Backups.Note(ctx, d), w.Close())
}

func statusOf(err error) int {
	for _, wrong := range []error{backup.ErrDestination, backup.ErrTwice, backup.ErrThere, backup.ErrNoBackup, store.ErrHeld} {
		if errors.Is(err, wrong) {
			return command.Wrong
		}
	}
	return command.NotRecorded
}

func tellTaken(cmd *cobra.Command, t backup.Taken) {
	out := cmd.OutOrStdout()
	fmt.Fprintf(out, "backup %s: %s, %.1f MB in %s, check: %s\n", t.Path, command.Count(int(t.Runs), "run"),
		float64(t.Bytes())/1e6, command.Count(len(t.Files), "file"), t.Checked)
	for _, path := range t.Pruned {
		fmt.Fprintf(out, "removed: %s\n", path)
	}
	for _, sum := range t.Lacking {
		fmt.Fprintf(out, "photo %s is not in it: it cannot be read or is not what was stored\n", sum)
	}
	if t.SameDisk {
		fmt.Fprintln(out, "It is on the same disk as the records and is lost with it: name a folder on another one.")
	}
}
