// Package postgres holds the records of many stations in one PostgreSQL database, in tables
// that are asked with the very texts that ask a station's own.
//
// What a connection is sent is rewritten only where the two spell parameters differently;
// what the tables are is said in migrations/. Nothing else in the program knows pgx.
package postgres

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

//go:embed migrations/*.sql
var migrations embed.FS

// Open opens a pool of connections. address is as PostgreSQL writes them: a URL or key=value
// words. Nothing is connected yet.
func Open(address string) (*sql.DB, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return nil, fmt.Errorf("address of the plant's database: %w", err)
	}
	return sql.OpenDB(asked{stdlib.GetConnector(*config)}), nil
}

// Known is the newest version that this program knows.
func Known() (int, error) {
	steps, err := fs.Glob(migrations, "migrations/*.sql")
	return len(steps), err
}

// Version is that of a database, 0 for one that has no tables of a plant.
func Version(ctx context.Context, db *sql.Conn) (version int, err error) {
	err = db.QueryRowContext(ctx, `SELECT coalesce(max(version), 0) FROM migration`).Scan(&version)
	if Code(err) == UndefinedTable {
		return 0, nil
	}
	return version, err
}

// migrating is the advisory lock under which one program at a time migrates.
const migrating = 0x7061646a6967 // "padjig"

// Migrate brings the tables up to date; version is the newest one that is in force then.
// Several programs may call it at a time. A database that a newer program made is left untouched.
func Migrate(ctx context.Context, db *sql.DB) (version int, err error) {
	steps, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return 0, err
	}
	slices.Sort(steps)
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, fmt.Errorf("migrate the plant's database: %w", err)
	}
	defer func() { _ = tx.Rollback() }() // after Commit it does nothing
	if _, err := tx.ExecContext(ctx, `SELECT pg_advisory_xact_lock(?)`, int64(migrating)); err != nil {
		return 0, fmt.Errorf("wait for another migration of the plant's database: %w", err)
	}
	if _, err := tx.ExecContext(ctx, `CREATE TABLE IF NOT EXISTS migration (version bigint PRIMARY KEY, name text NOT NULL, applied_us bigint NOT NULL)`); err != nil {
		return 0, fmt.Errorf("migrate the plant's database: %w", err)
	}
	if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(version), 0) FROM migration`).Scan(&version); err != nil {
		return 0, fmt.Errorf("migrate the plant's database: %w", err)
	}
	if version > len(steps) {
		return version, fmt.Errorf("the plant's database has version %d and this program knows %d: install the newer padjig here", version, len(steps))
	}
	for _, path := range steps[version:] {
		name := strings.TrimSuffix(path[strings.LastIndexByte(path, '/')+1:], ".sql")
		number, err := strconv.Atoi(name[:4])
		if err != nil || number != version+1 {
			return version, fmt.Errorf("migration %s does not follow %d", name, version)
		}
		text, err := migrations.ReadFile(path)
		if err == nil {
			_, err = tx.ExecContext(ctx, string(text))
		}
		if err == nil {
			_, err = tx.ExecContext(ctx, `INSERT INTO migration VALUES (?, ?, (extract(epoch FROM now()) * 1000000)::bigint)`, number, name)
		}
		if err != nil {
			return version, fmt.Errorf("migration %s of the plant's database: %w", name, err)
		}
		version = number
	}
	return version, tx.Commit()
}
