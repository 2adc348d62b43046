package serve

import (
	"context"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/serve/backups"
	"padjig/results"
	"padjig/results/backup"
)

// backupFlags say whether and how the station backs its records up.
type backupFlags struct {
	to    string
	every time.Duration
	at    []string
	keep  int
}

const usualEvery = 24 * time.Hour

func (b *backupFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&b.to, "backup-to", "", "`FOLDER` on another disk that the records are backed up to")
	f.DurationVar(&b.every, "backup-every", usualEvery, "time from one backup to the next")
	f.StringSliceVar(&b.at, "backup-at", nil, "`TIMES` of the plant's day to back up at, such as 02:00,14:00, in place of --backup-every")
	f.IntVar(&b.keep, "backup-keep", 0, "`NUMBER` of backups of these records to keep, 0 for all")
	command.Group(f, command.OfBackup, "backup-to", "backup-every", "backup-at", "backup-keep")
	cmd.MarkFlagsMutuallyExclusive("backup-every", "backup-at")
}

// keeper is what takes the backups, nil where none are wanted.
func (b *backupFlags) keeper(cmd *cobra.Command, store *results.Store) (*backups.Keeper, error) {
	if b.to == "" {
		for _, name := range []string{"backup-every", "backup-at", "backup-keep"} {
			if cmd.Flags().Changed(name) {
				return nil, command.WrongUsef("--%s without --backup-to: name the folder that backups go to", name)
			}
		}
		return nil, nil
	}
	const soonest = 10 * time.Minute
	if b.every < soonest || b.keep < 0 {
		return nil, command.WrongUsef("--backup-every %s, --backup-keep %d: give %s or more, and how many to keep, 0 for all", b.every, b.keep, soonest)
	}
	clock, err := command.PlantClock(cmd.Context(), store)
	if err != nil {
		return nil, err
	}
	plan := backups.Plan{Every: b.every, Zone: clock.Zone()}
	for _, text := range b.at {
		at, err := time.Parse("15:04", strings.TrimSpace(text))
		if err != nil {
			return nil, command.WrongUsef("--backup-at %q: write times such as 02:00,14:00", text)
		}
		plan.Every, plan.At = 0, append(plan.At, time.Duration(at.Hour())*time.Hour+time.Duration(at.Minute())*time.Minute)
	}
	return &backups.Keeper{
		Plan: plan,
		Past: func(ctx context.Context) (whole, failed time.Time, err error) {
			good, bad, err := store.Backups.Newest(ctx)
			if good != nil {
				whole = good.At
			}
			if bad != nil {
				failed = bad.At
			}
			return whole, failed, err
		},
		Take: func(ctx context.Context) error {
			taken, err := store.TakeBackup(ctx, backup.Order{Folder: b.to, Keep: b.keep, Scheduled: true}, false)
			if err == nil {
				log.From(ctx).Info(log.BackupTaken, "backup", taken.Path, "runs", taken.Runs, "bytes", taken.Bytes(), "same_disk", taken.SameDisk,
					"removed", len(taken.Pruned), "kept_for_others", len(taken.Left), "lacking_photos", len(taken.Lacking))
			}
			return err
		},
		Failed: func(ctx context.Context, err error) { log.From(ctx).Error(log.BackupFailed, "error", err) },
	}, nil
}
