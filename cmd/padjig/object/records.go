package object

import (
	"time"

	"padjig/results/backup"
	"padjig/sequence"
)

// Soundness is what padjig records check found.
type Soundness struct {
	Store  string           `json:"store"` // file of the records
	Sound  bool             `json:"sound"`
	Faults []string         `json:"faults"` // everything that is wrong, in words
	Took   sequence.Seconds `json:"seconds"`
}

// Backup is a backup that was taken.
type Backup struct {
	Backup    string    `json:"backup"` // its folder
	Store     string    `json:"store"`  // file of the records it is of
	Made      time.Time `json:"made"`
	Checked   string    `json:"checked"` // quick or full
	Runs      int64     `json:"runs"`    // number of the newest run in it
	NewestRun string    `json:"newest_run,omitempty"`
	Files     int       `json:"files"`
	Bytes     int64     `json:"bytes"`
	SameDisk  bool      `json:"same_disk"`                // as the records: lost with it
	Lacking   []string  `json:"lacking_photos,omitempty"` // sums of photos that could not be read
	Removed   []string  `json:"removed"`                  // older backups
	Noted     bool      `json:"noted"`                    // it is kept in the records that it was taken
}

// BackupOf is one that was taken.
func BackupOf(t backup.Taken, noted bool) Backup {
	b := Backup{
		Backup: t.Path, Store: t.Store, Made: t.Made, Checked: string(t.Checked), Runs: t.Runs, Files: len(t.Files), Bytes: t.Bytes(),
		SameDisk: t.SameDisk, Lacking: t.Lacking, Removed: append([]string{}, t.Pruned...), Noted: noted,
	}
	if t.Newest != nil {
		b.NewestRun = t.Newest.ID.String()
	}
	return b
}

// Restore are records that were restored.
type Restore struct {
	Store   string    `json:"store"` // file of the records
	Backup  string    `json:"backup"`
	Made    time.Time `json:"made"` // the backup
	Runs    int64     `json:"runs"`
	Aside   string    `json:"aside,omitempty"`  // where the records are that were there
	Known   bool      `json:"since_known"`      // those records could be read to their end
	Missing []Missing `json:"missing"`          // runs that those have and the backup does not have
	Begun   []string  `json:"begun,omitempty"`  // serial numbers of units whose test was begun since and has no run
	Unknown string    `json:"reason,omitempty"` // why those records could not be read
}

// Missing is a run that is not in the restored records.
type Missing struct {
	Serial  string    `json:"serial"`
	Verdict string    `json:"verdict"`
	Purpose string    `json:"purpose,omitempty"`
	Saved   time.Time `json:"saved"`
}

// RestoreOf are those that were restored from a folder.
func RestoreOf(from string, r backup.Restored) Restore {
	o := Restore{
		Store: r.Path, Backup: from, Made: r.Made, Runs: r.Runs, Aside: r.Aside, Known: r.Since.Known, Begun: r.Since.Begun,
		Unknown: r.Since.Why, Missing: []Missing{},
	}
	for _, l := range r.Since.Runs {
		o.Missing = append(o.Missing, Missing{l.Serial, l.Verdict, l.Purpose, l.Saved})
	}
	return o
}
