package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/mattn/go-sqlite3"
)

// ErrUnguarded is returned for writing to a store whose triggers are not those that its
// migrations made: they are what refuses every change and every incomplete run.
var ErrUnguarded = errors.New("store is without its guards")

// object is a table, an index, a trigger or a view, with the text it was made by.
type object struct{ kind, name, text string }

func (o object) String() string { return o.kind + " " + o.name }

func scanObject(rows *sql.Rows) (o object, err error) {
	return o, rows.Scan(&o.kind, &o.name, &o.text)
}

// objects lists all there is but SQLite's own.
func objects(ctx context.Context, q querier) ([]object, error) {
	return Collect(ctx, q, scanObject, `
		SELECT type, name, coalesce(sql, '') FROM sqlite_schema WHERE name NOT LIKE 'sqlite\_%' ESCAPE '\'
		ORDER BY type, name`)
}

// objectsOf lists what migrations make, by carrying them out in memory: nothing else says what
// the migrations of before made, and newest.sql is held against it.
func objectsOf(ctx context.Context, list []migration) ([]object, error) {
	db := sql.OpenDB(&connector{driver: &sqlite3.SQLiteDriver{}, dsn: ":memory:"})
	defer db.Close()
	db.SetMaxOpenConns(1) // each connection would have a memory of its own
	for _, m := range list {
		if _, err := db.ExecContext(ctx, m.script); err != nil {
			return nil, fmt.Errorf("migration %s: %w", m.name, err)
		}
	}
	return objects(ctx, db)
}

// differences says in words how the objects of a store differ from those wanted.
func differences(want, have []object) []string {
	var found []string
	texts := map[string]string{}
	for _, o := range have {
		texts[o.String()] = o.text
	}
	for _, o := range want {
		text, there := texts[o.String()]
		delete(texts, o.String())
		switch {
		case !there:
			found = append(found, fmt.Sprintf("%v is missing", o))
		case text != o.text:
			found = append(found, fmt.Sprintf("%v is not as padjig made it: %s", o, firstDifference(o.text, text)))
		}
	}
	for _, o := range have {
		if _, left := texts[o.String()]; left {
			found = append(found, fmt.Sprintf("%v is not padjig's", o))
		}
	}
	return found
}

// firstDifference shows the place where a text differs from the one wanted.
func firstDifference(want, have string) string {
	at := 0
	for at < min(len(want), len(have)) && want[at] == have[at] {
		at++
	}
	const around = 24
	excerpt := func(s string) string {
		from, to := max(at-around, 0), min(at+around, len(s))
		return strings.ToValidUTF8(strings.Join(strings.Fields(s[from:to]), " "), "")
	}
	return fmt.Sprintf("%q should be %q", excerpt(have), excerpt(want))
}

// Schema compares the whole schema with the one that the migrations make.
func (s *DB) Schema(ctx context.Context, tx *sql.Tx) ([]string, error) {
	list, err := listMigrations(s.with.Migrations)
	if err != nil {
		return nil, err
	}
	want, err := objectsOf(ctx, list)
	if err != nil {
		return nil, err
	}
	have, err := objects(ctx, tx)
	return differences(want, have), err
}

// ours is what all migrations of this program make, looked up at its first store: where that is written down, else
// worked out.
var ours = sync.OnceValues(func() ([]object, error) {
	list, err := listMigrations(embedded())
	if err != nil {
		return nil, err
	}
	version, parts, err := newest(newestText)
	if err != nil || version == int64(len(list)) {
		return guardsOf(parts), err
	}
	return objectsOf(context.Background(), list)
})

// guarded refuses a store whose triggers are others than those of what its migrations
// made: rows could be changed in it without anybody noticing.
func guarded(ctx context.Context, write querier, made func() ([]object, error)) error {
	want, err := made()
	if err != nil {
		return err
	}
	have, err := objects(ctx, write)
	if err != nil {
		return err
	}
	found := differences(triggers(want), triggers(have))
	if len(found) == 0 {
		return nil
	}
	const named = 3
	more := ""
	if len(found) > named {
		more = fmt.Sprintf(" and %d more differences", len(found)-named)
		found = found[:named]
	}
	return fmt.Errorf("%w: %s%s; padjig records check says everything that differs; %s",
		ErrUnguarded, strings.Join(found, ", "), more, damagedRemedy)
}

func triggers(all []object) []object {
	return slices.DeleteFunc(slices.Clone(all), func(o object) bool { return o.kind != "trigger" })
}
