package store

import (
	"cmp"
	"context"
	"database/sql"
	_ "embed"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"
)

// newestText is what all migrations of this program make together, one statement below the other. Carrying the
// migrations out takes SQLite five times as long, as each ALTER TABLE reads every view and trigger again, and each
// process would do so: to begin a store, or to know what guards one should have. It is derived:
// TestNewestIsWhatTheMigrationsMake writes it, and fails where it is another.
//
//go:embed newest.sql
var newestText string

const (
	newestHead = "-- What migrations 0001 and following make, written by go test ./results/store -run NewestIs -update: version "
	newestPart = "\n-- = " // begins each statement, with what it makes
	rowsOf     = "rows"    // the kind of what fills a table
)

// newest gives the version and the statements of a text, in the order in which they make a store.
func newest(text string) (version int64, parts []object, err error) {
	head, rest, _ := strings.Cut(strings.TrimSuffix(text, "\n"), newestPart)
	version, err = strconv.ParseInt(strings.TrimPrefix(head, newestHead), 10, 64)
	if err != nil {
		return 0, nil, fmt.Errorf("newest tables: %w", err)
	}
	for part := range strings.SplitSeq(rest, newestPart) {
		what, statement, _ := strings.Cut(part, "\n")
		kind, name, _ := strings.Cut(what, " ")
		parts = append(parts, object{kind, name, strings.TrimSuffix(statement, ";")})
	}
	return version, parts, nil
}

// newestOf gives the statements that do what the migrations do, none where these are others.
func newestOf(files fs.FS, list []migration) ([]object, error) {
	version, parts, err := newest(newestText)
	if err != nil || files != embedded() || version != int64(len(list)) {
		return nil, err
	}
	return parts, nil
}

// begin makes the tables of a store that has none, as if each migration had been carried out.
func begin(ctx context.Context, tx *sql.Tx, parts []object, list []migration, now time.Time) error {
	for _, p := range parts {
		if _, err := tx.ExecContext(ctx, p.text); err != nil {
			return fmt.Errorf("make %v: %w", p, err)
		}
	}
	for _, m := range list {
		if err := m.applied(ctx, tx, now); err != nil {
			return fmt.Errorf("migration %s: %w", m.name, err)
		}
	}
	return nil
}

// guardsOf are the objects among the statements, as [objects] lists them.
func guardsOf(parts []object) []object {
	made := slices.DeleteFunc(slices.Clone(parts), func(o object) bool { return o.kind == rowsOf })
	slices.SortFunc(made, func(a, b object) int { return cmp.Or(strings.Compare(a.kind, b.kind), strings.Compare(a.name, b.name)) })
	return made
}
