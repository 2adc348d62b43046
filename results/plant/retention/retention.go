// Package retention takes the readings of old months out of a plant, after they lie in files that were read back.
//
// A month goes in four steps, each of which leaves the plant whole when it is cut short, and is carried on with by doing it
// again: it is closed, so that nothing comes into it any more; its rows are written as Parquet; the files are read
// back and held against the rows that are still there, row by row; and only then the tables of its readings are dropped,
// all of them in one transaction with the line that says so.
//
// What stays are verdicts, findings and counts: a run keeps its row, its findings and its place in the aggregates, so that
// yields, attempts and whether a unit passed are answered as before. What goes are its readings.
package retention

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"padjig/results/plant/postgres"
	"padjig/results/store"
)

// Readings are the tables of which a month is dropped.
var Readings = [...]string{"run_step", "run_seat", "run_key", "run_pair", "run_exercise", "run_insulation"}

// closed are those into which nothing comes once a month is closed.
var closed = append([]string{"run", "run_finding"}, Readings[:]...)

// Step is how far the retirement of a month came.
type Step string

// Steps of a month, in their order.
const (
	Closed    Step = "closed"    // nothing comes into it any more
	Exporting Step = "exporting" // rows of a table are written
	Exported  Step = "exported"  // the files have their names
	Checking  Step = "checking"  // a table was read back
	Checked   Step = "checked"   // files and rows are the same
	Dropped   Step = "dropped"   // the readings are in the files alone
)

// Retirement is what is to be done.
type Retirement struct {
	DB     *sql.DB // of the owner
	Before Month   // months before this one are retired
	Folder string  // gets a folder for each
	By     string  // who answers for it
	Now    time.Time

	// Told is asked after each step of a month, with how many rows were written or read back of about how many; an
	// error ends it there.
	Told func(m Month, step Step, done, of int64) error

	done, of int64 // rows of the month at hand
}

// Retired is a month that went.
type Retired struct {
	Month    Month
	Runs     int64
	Rows     int64 // in all files
	Bytes    int64 // of all files
	Folder   string
	Manifest string // SHA-256 of its manifest
}

var (
	// ErrNotOver is a month that may still get runs.
	ErrNotOver = errors.New("a month is retired when it is over")
	// ErrBusy is another program that retires months of this plant.
	ErrBusy = errors.New("another program retires months of this plant")
)

// retiring is the advisory lock of who retires.
const retiring = 0x72657469726564 // "retired"

// Do retires every month before another that still has its readings, the oldest first. What it gives has those that are done
// when an error ends it.
func (r *Retirement) Do(ctx context.Context) (done []Retired, err error) {
	if r.Before.after(monthOf(r.Now)) {
		return nil, fmt.Errorf("retire months before %s: %w, and this is %s", r.Before, ErrNotOver, monthOf(r.Now))
	}
	if info, err := os.Stat(r.Folder); err != nil || !info.IsDir() {
		return nil, errors.Join(fmt.Errorf("retire months: %s is no folder", r.Folder), err)
	}
	conn, err := r.DB.Conn(ctx)
	if err != nil {
		return nil, fmt.Errorf("retire months: %w", err)
	}
	defer conn.Close()
	var mine bool
	if err := conn.QueryRowContext(ctx, `SELECT pg_try_advisory_lock(?)`, int64(retiring)).Scan(&mine); err != nil {
		return nil, fmt.Errorf("retire months: %w", err)
	}
	if !mine {
		return nil, fmt.Errorf("retire months: %w", ErrBusy)
	}
	defer func() { // the pool keeps the connection, and with it the lock
		_, unlocked := conn.ExecContext(context.WithoutCancel(ctx), `SELECT pg_advisory_unlock(?)`, int64(retiring))
		err = errors.Join(err, unlocked)
	}()
	months, err := r.standing(ctx, conn)
	if err != nil {
		return nil, fmt.Errorf("retire months: %w", err)
	}
	for _, m := range months {
		d, err := r.month(ctx, conn, m)
		if err != nil {
			return done, fmt.Errorf("retire %s: %w", m, err)
		}
		done = append(done, d)
	}
	return done, nil
}

// standing are the months before r.Before that have readings, oldest first.
func (r *Retirement) standing(ctx context.Context, conn *sql.Conn) (months []Month, err error) {
	err = store.Visit(ctx, conn, func(rows *sql.Rows) error {
		var name string
		if err := rows.Scan(&name); err != nil {
			return err
		}
		m, err := ParseMonth(name)
		if err == nil && r.Before.after(m) {
			months = append(months, m)
		}
		return err
	}, `SELECT DISTINCT replace(right(relname, 7), '_', '-') FROM pg_inherits JOIN pg_class ON pg_class.oid = inhrelid
		WHERE inhparent = ANY (ARRAY['run_step', 'run_seat', 'run_key', 'run_pair', 'run_exercise', 'run_insulation']::regclass[]) ORDER BY 1`)
	return months, err
}

// told tells of a step in which so many rows were done.
func (r *Retirement) told(m Month, step Step, rows int64) error {
	r.done += rows
	if r.Told == nil {
		return nil
	}
	return r.Told(m, step, min(r.done, r.of), r.of)
}

func (r *Retirement) month(ctx context.Context, conn *sql.Conn, m Month) (Retired, error) {
	if err := r.close(ctx, conn, m); err != nil {
		return Retired{}, err
	}
	// Each row is written once and read back once; how many a run has is said in it.
	r.done = 0
	err := conn.QueryRowContext(ctx, `SELECT 2 * coalesce(sum(1 + steps + seats + keys + pairs + findings + exercised + insulation), 0) FROM `+m.part("run")).Scan(&r.of)
	if err != nil {
		return Retired{}, err
	}
	if err := r.told(m, Closed, 0); err != nil {
		return Retired{}, err
	}
	folder := filepath.Join(r.Folder, m.String())
	if err := r.export(ctx, conn, m, folder); err != nil {
		return Retired{}, err
	}
	if err := r.told(m, Exported, 0); err != nil {
		return Retired{}, err
	}
	done, err := r.check(ctx, conn, m, folder)
	if err != nil {
		return Retired{}, err
	}
	if err := r.told(m, Checked, 0); err != nil {
		return Retired{}, err
	}
	if err := r.drop(ctx, conn, m, done); err != nil {
		return Retired{}, err
	}
	return done, r.told(m, Dropped, 0)
}

// within does something in a transaction of the connection that holds the lock.
func within(ctx context.Context, conn *sql.Conn, lockTimeout string, do func(*sql.Tx) error) error {
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // after Commit it does nothing
	if _, err := tx.ExecContext(ctx, `SET LOCAL lock_timeout = '`+lockTimeout+`'`); err != nil {
		return err
	}
	if err := do(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// close shuts a month: a check that no row meets, and that is not asked of those that are there.
func (r *Retirement) close(ctx context.Context, conn *sql.Conn, m Month) error {
	return patiently(ctx, func() error {
		return within(ctx, conn, patience, func(tx *sql.Tx) error {
			added, err := tx.ExecContext(ctx, `INSERT INTO retired_month (low, high, name, by, closed_us) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
				m.Low(), m.High(), m.String(), r.By, r.Now.UnixMicro())
			if err != nil {
				return err
			}
			if n, err := added.RowsAffected(); err != nil || n == 0 {
				return err // it was closed before
			}
			for _, table := range closed {
				if _, err := tx.ExecContext(ctx, `ALTER TABLE `+m.part(table)+` ADD CONSTRAINT month_is_closed CHECK (false) NOT VALID`); err != nil {
					return err
				}
			}
			return nil
		})
	})
}

// patience is how long a lock is waited for in a row: less than a deadlock takes to be found (deadlock_timeout, one second),
// so that it is this program that lets go, and not a reader whose question is ended.
const patience = "500ms"

// tries are how often, until whoever reads without end is to be asked to stop.
const tries = 120

// patiently does something again as long as others hold what it needs.
func patiently(ctx context.Context, do func() error) (err error) {
	for range tries {
		if err = do(); postgres.Code(err) != postgres.LockNotAvailable || ctx.Err() != nil {
			return err
		}
	}
	return fmt.Errorf("somebody holds the tables of this month for long; SELECT pid, query FROM pg_stat_activity shows who: %w", err)
}

// drop takes the tables of a month's readings away, and says so in the same transaction.
func (r *Retirement) drop(ctx context.Context, conn *sql.Conn, m Month, done Retired) error {
	return patiently(ctx, func() error {
		return within(ctx, conn, patience, func(tx *sql.Tx) error {
			for _, table := range Readings {
				if _, err := tx.ExecContext(ctx, `ALTER TABLE `+table+` DETACH PARTITION `+m.part(table)); err != nil {
					return err
				}
				if _, err := tx.ExecContext(ctx, `DROP TABLE `+m.part(table)); err != nil {
					return err
				}
			}
			_, err := tx.ExecContext(ctx, `UPDATE retired_month SET runs = ?, manifest = ?, dropped_us = ?, folder = ? WHERE low = ?`,
				done.Runs, done.Manifest, r.Now.UnixMicro(), done.Folder, m.Low())
			return err
		})
	})
}
