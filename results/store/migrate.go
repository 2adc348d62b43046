package store

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
	"sync"
	"time"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

var embedded = sync.OnceValue(func() fs.FS {
	sub, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		panic(err) // the name is a valid constant
	}
	return sub
})

// migration is one numbered step of the tables.
type migration struct {
	version int64
	name    string
	script  string
}

// listMigrations reads the numbered files; the numbers run from 1 without a gap.
func listMigrations(files fs.FS) ([]migration, error) {
	names, err := fs.Glob(files, "*.sql")
	if err != nil {
		return nil, err
	}
	slices.Sort(names)
	var list []migration
	for i, name := range names {
		digits, _, _ := strings.Cut(name, "_")
		version, err := strconv.ParseInt(digits, 10, 64)
		if err != nil || version != int64(i+1) {
			return nil, fmt.Errorf("migration %s: expected number %04d", name, i+1)
		}
		script, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		list = append(list, migration{version, name, string(script)})
	}
	return list, nil
}

func newestVersion(files fs.FS) (int64, error) {
	list, err := listMigrations(files)
	return int64(len(list)), err
}

// migrate applies what is missing, all in one transaction: another process that
// opens the store meanwhile sees it as it was or as it will be.
func (s *DB) migrate(ctx context.Context) error {
	list, err := listMigrations(s.with.Migrations)
	if err != nil {
		return err
	}
	newest := int64(len(list))
	var have int64
	if err := s.write.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&have); err != nil {
		return err
	}
	if have > 0 {
		want := func() ([]object, error) { return objectsOf(ctx, list[:min(have, newest)]) }
		if have >= newest && s.with.Migrations == embedded() {
			want = ours
		}
		if err := guarded(ctx, s.write, want); err != nil {
			return err
		}
	}
	if have >= newest {
		return nil
	}
	if have > 0 {
		if err := backup(ctx, s.write, fmt.Sprintf("%s.before-v%d", s.path, newest)); err != nil {
			return fmt.Errorf("back up before migrating: %w; the store is unchanged", err)
		}
	}
	parts, err := newestOf(s.with.Migrations, list)
	if err != nil {
		return err
	}
	return s.Update(ctx, func(tx *sql.Tx) error {
		if none, err := unmade(ctx, tx); err != nil || none && parts != nil {
			return errors.Join(err, begin(ctx, tx, parts, list, s.Now()))
		}
		for _, m := range list[have:] {
			if err := m.apply(ctx, tx, s.Now()); err != nil {
				return fmt.Errorf("migration %s: %w", m.name, err)
			}
		}
		return nil
	})
}

// unmade reports whether a file has no tables: another process may have been quicker.
func unmade(ctx context.Context, tx *sql.Tx) (bool, error) {
	var objects, version int64
	err := tx.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM sqlite_schema), (SELECT user_version FROM pragma_user_version)`).Scan(&objects, &version)
	return objects == 0 && version == 0, err
}

func (m migration) apply(ctx context.Context, tx *sql.Tx, now time.Time) error {
	var have int64
	if err := tx.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&have); err != nil {
		return err
	}
	if have >= m.version {
		return nil // another process was quicker
	}
	if _, err := tx.ExecContext(ctx, m.script); err != nil {
		return err
	}
	return m.applied(ctx, tx, now)
}

// applied writes down that what a migration does is done.
func (m migration) applied(ctx context.Context, tx *sql.Tx, now time.Time) error {
	header := fmt.Sprintf(`PRAGMA application_id = %d; PRAGMA user_version = %d`, applicationID, m.version)
	if _, err := tx.ExecContext(ctx, header); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `
		INSERT INTO migration (version, name, applied_us, software, sqlite)
		VALUES (?, ?, ?, ?, ?)`,
		m.version, m.name, now.UnixMicro(), Software(), SQLite())
	return err
}
