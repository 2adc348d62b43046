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
	"errors"
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
// words, and pin= for the sum of the server's certificate. Nothing is connected yet; an address that would trust
// anybody is an [UntrustedError], and so is, later, a server that does not show who it is.
func Open(address string) (*sql.DB, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return nil, fmt.Errorf("address of the plant's database: %w", err)
	}
	if err := trust(config); err != nil {
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

// Alone waits until this transaction is the only one that migrates or changes what roles may do, until it ends.
func Alone(ctx context.Context, tx *sql.Tx) error {
	if _, err := tx.ExecContext(ctx, `SELECT pg_advisory_xact_lock(?)`, int64(migrating)); err != nil {
		return fmt.Errorf("wait for another migration of the plant's database: %w", err)
	}
	return nil
}

// Migrate brings the tables up to date; version is the newest one that is in force then.
// Several programs may call it at a time, and one that is cut short leaves nothing. A database that a newer program made, or
// another one, is left untouched.
func Migrate(ctx context.Context, db *sql.DB) (version int, err error) {
	return migrate(ctx, db, migrations)
}

func migrate(ctx context.Context, db *sql.DB, from fs.FS) (version int, err error) {
	steps, err := fs.Glob(from, "migrations/*.sql")
	if err != nil {
		return 0, err
	}
	slices.Sort(steps)
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, fmt.Errorf("migrate the plant's database: %w", err)
	}
	defer func() { _ = tx.Rollback() }() // after Commit it does nothing
	if err := Alone(ctx, tx); err != nil {
		return 0, err
	}
	if version, err = standing(ctx, tx, steps); err != nil {
		return version, err
	}
	before := version
	for _, path := range steps[version:] {
		name := stepName(path)
		number, err := strconv.Atoi(name[:4])
		if err != nil || number != version+1 {
			return before, fmt.Errorf("migration %s does not follow %d", name, version)
		}
		text, err := fs.ReadFile(from, path)
		if err == nil {
			_, err = tx.ExecContext(ctx, string(text))
		}
		if err == nil {
			_, err = tx.ExecContext(ctx, `INSERT INTO migration VALUES (?, ?, (extract(epoch FROM now()) * 1000000)::bigint)`, number, name)
		}
		if err != nil {
			return before, fmt.Errorf("migration %s of the plant's database: %w", name, err)
		}
		version = number
	}
	return version, tx.Commit()
}

// stepName is the name of a migration by its path.
func stepName(path string) string {
	return strings.TrimSuffix(path[strings.LastIndexByte(path, '/')+1:], ".sql")
}

// standing is how far a database was migrated, by these steps and no others.
func standing(ctx context.Context, tx *sql.Tx, steps []string) (version int, err error) {
	var encoding string
	if err := tx.QueryRowContext(ctx, `SELECT current_setting('server_encoding')`).Scan(&encoding); err != nil {
		return 0, fmt.Errorf("migrate the plant's database: %w", err)
	}
	if encoding != "UTF8" {
		return 0, fmt.Errorf("the plant's database keeps texts as %s, which has no place for every name: make another one with "+
			"CREATE DATABASE NAME ENCODING 'UTF8' TEMPLATE template0", encoding)
	}
	if _, err := tx.ExecContext(ctx, `CREATE TABLE IF NOT EXISTS migration (version bigint PRIMARY KEY, name text NOT NULL, applied_us bigint NOT NULL)`); err != nil {
		return 0, fmt.Errorf("migrate the plant's database: %w", err)
	}
	var newest string
	err = tx.QueryRowContext(ctx, `SELECT version, name FROM migration ORDER BY version DESC LIMIT 1`).Scan(&version, &newest)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return 0, nil
	case err != nil:
		return 0, fmt.Errorf("migrate the plant's database: %w", err)
	case version > len(steps):
		return version, fmt.Errorf("the plant's database has version %d and this program knows %d: install the newer padjig here", version, len(steps))
	case stepName(steps[version-1]) != newest:
		return version, fmt.Errorf("version %d of the plant's database is %s, and this program's is %s: it was made by another program",
			version, newest, stepName(steps[version-1]))
	}
	return version, nil
}
