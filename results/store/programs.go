package store

import (
	"context"
	"database/sql"
	"time"

	"github.com/mattn/go-sqlite3"

	"padjig/results/store/program"
)

// signing is the migration from which on programs are in the records.
const signing = 33

// SQLite is the version of SQLite that is in this program.
func SQLite() string {
	version, _, _ := sqlite3.Version()
	return version
}

// Tables is the number of the newest migration that this program knows.
func Tables() (int64, error) { return newestVersion(embedded()) }

// sign writes down which program is writing, where the last one was another or it is the first: so the program
// of whatever a transaction stores is that of the last row before it.
func sign(ctx context.Context, tx *sql.Tx, p program.Program, host string, now time.Time) error {
	var is bool
	_, err := RowOf(ctx, tx, `SELECT (version, commit_hash, modified, go, platform, sqlite, host) = (?, ?, ?, ?, ?, ?, ?)
		FROM program ORDER BY seq DESC LIMIT 1`,
		[]any{p.Version, p.Commit, p.Modified, p.Go, p.Platform, SQLite(), Text(host)}, &is)
	if is || err != nil {
		return err
	}
	var newest int64
	if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM run`).Scan(&newest); err != nil {
		return err
	}
	e := Entry{Table: "program"}
	e.Set("version", p.Version)
	e.Set("commit_hash", p.Commit)
	e.Set("modified", p.Modified)
	e.Set("go", p.Go)
	e.Set("platform", p.Platform)
	e.Set("sqlite", SQLite())
	e.Set("host", host)
	e.Set("after_run", newest)
	e.Set("at_us", now)
	_, err = e.Insert(ctx, tx)
	return err
}
