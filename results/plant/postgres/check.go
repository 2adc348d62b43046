package postgres

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"net"
	"strconv"

	"github.com/jackc/pgx/v5"
)

// Check gives an error where the tables are not those that this program knows.
func Check(ctx context.Context, db *sql.DB) error {
	steps, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return err
	}
	var there sql.NullString
	if err := db.QueryRowContext(ctx, `SELECT to_regclass('migration')::text`).Scan(&there); err != nil {
		return fmt.Errorf("look at the plant's database: %w", err)
	}
	if !there.Valid {
		return fmt.Errorf("the database has no tables of a plant")
	}
	var version int
	if err := db.QueryRowContext(ctx, `SELECT coalesce(max(version), 0) FROM migration`).Scan(&version); err != nil {
		return fmt.Errorf("look at the plant's database: %w", err)
	}
	if version != len(steps) {
		return fmt.Errorf("the plant's database has version %d and this program needs %d", version, len(steps))
	}
	return nil
}

// Called is what a database is called in messages, by its address: without the user and the password.
func Called(address string) (string, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return "", fmt.Errorf("address of the plant's database: %w", err) // pgx leaves passwords out
	}
	return fmt.Sprintf("database %s at %s", config.Database, net.JoinHostPort(config.Host, strconv.Itoa(int(config.Port)))), nil
}
