package plant

// padjig plant retire: readings of old months go to files.

import (
	"errors"
	"fmt"
	"io/fs"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results/plant/postgres"
	"padjig/results/plant/retention"
)

// retireOptions are the flags of padjig plant retire.
type retireOptions struct {
	plant, before, to, by string
	asJSON                bool
}

func newRetire() *cobra.Command {
	var o retireOptions
	cmd := &cobra.Command{
		Use:   "retire --before MONTH --to FOLDER --plant ADDRESS",
		Short: "Take the readings of old months out of a plant, into files that were read back",
		Long: `Writes the runs of each month before one, with their readings, as Parquet into a
folder of its own below FOLDER, reads the files back, holds them against the rows of
the plant one by one, and only then takes the readings of the month out of the plant.
Cut short at any point it has lost nothing, and done again it goes on from there.

What stays: every run with its verdict, findings and time, and all counts. Yields,
attempts and whether a unit passed are answered as before. What goes: every reading.
Distributions of single readings, gauge studies and diagnoses of those months are
answered from the files alone. Records of a station that was away, of a month that
went, come into the first month that is still open, with the times that they have.

Keep FOLDER on two disks: after this it is the only place where the readings are.

Exit status: 0 done, 2 not possible so, 4 stopped: nothing was lost.`,
		Example: `  padjig plant retire --before 2025-01 --to /srv/plant-archive --operator Ines \
    --plant "host=/run/postgresql dbname=plant user=plant_owner"`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	f.StringVar(&o.before, "before", "", "first `MONTH` that keeps its readings, such as 2025-01")
	f.StringVar(&o.to, "to", "", "`FOLDER` for the files, with a folder for each month")
	command.Group(f, command.OfBackup, "before", "to")
	f.StringVar(&o.by, "operator", "", "`NAME` of who answers for it")
	command.Group(f, command.OfPerson, "operator")
	plantFlag(cmd, &o.plant)
	command.Needs(cmd, "before", "to", "operator")
	command.JSONFlag(cmd, &o.asJSON)
	command.ProgressFlag(cmd)
	return cmd
}

func (o *retireOptions) run(cmd *cobra.Command) error {
	before, err := retention.ParseMonth(o.before)
	if err != nil {
		return command.WrongUse(fmt.Errorf("--before %w", err))
	}
	db, err := command.OpenPlant(o.plant)
	if err != nil {
		return err
	}
	defer db.Close()
	progress := command.Progress(cmd, "retiring", "rows")
	done, err := (&retention.Retirement{
		DB: db, Before: before, Folder: o.to, By: o.by, Now: time.Now(),
		Told: func(_ retention.Month, _ retention.Step, done, of int64) error {
			progress.At(done, of)
			return nil
		},
	}).Do(cmd.Context())
	progress.Clear()
	if o.asJSON && err == nil {
		return object.Print(cmd.OutOrStdout(), object.PlantRetirementOf(o.to, done))
	}
	if !o.asJSON && (err == nil || len(done) > 0) {
		o.tell(cmd, done)
	}
	return retireFailed(err)
}

func retireFailed(err error) error {
	other, isOther := errors.AsType[*retention.OtherFilesError](err)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, retention.ErrNotOver):
		return command.Fail(command.Wrong, err, "--before this month, or an earlier one")
	case errors.Is(err, fs.ErrNotExist):
		return command.Fail(command.Wrong, err, "connect its disk, or make the folder")
	case errors.Is(err, retention.ErrBusy):
		return command.Fail(command.Wrong, err, "when it has ended")
	case isOther:
		return command.Fail(command.NotRecorded, err, "what became of "+other.Path)
	case postgres.Code(err) == postgres.LockNotAvailable:
		return command.Fail(command.NotRecorded, err, "again, when that has ended: it goes on from here")
	}
	return operationFailed(err)
}

func (o *retireOptions) tell(cmd *cobra.Command, done []retention.Retired) {
	out := cmd.OutOrStdout()
	for _, d := range done {
		fmt.Fprintf(out, "%s: %s, %s with all that belongs to them in %s, %.1f MB; read back and the same, readings taken out\n",
			d.Month, command.Count(int(d.Runs), "run"), command.Count(int(d.Rows), "row"), d.Folder, float64(d.Bytes)/1e6)
	}
	if len(done) == 0 {
		fmt.Fprintf(out, "no month before %s has readings\n", o.before)
	}
}
