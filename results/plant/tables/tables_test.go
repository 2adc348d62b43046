package tables_test

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/plant/planttest"
	"padjig/results/plant/tables"
	"padjig/results/store"
)

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

const remedy = `
A table or column of the records that is not carried to a plant is lost for everybody who asks the plant. Say in
results/plant/tables/tables.txt what it holds (or in Staying why it stays), and add it in a new migration of
results/plant/postgres/migrations; if an older program would then write something incomplete, raise Contract and forward_contract.`

// column is one of a real table.
type column struct {
	name, kind         string // the type, as SQLite calls it
	nullable, computed bool
	to                 string // foreign key
}

// TestTables holds the list, a station's real tables and a plant's real tables against each other.
func TestTables(t *testing.T) {
	station, plant := ofStation(t), ofPlant(t)
	for _, wrong := range compare(tables.All(), station, plant) {
		t.Error(wrong + remedy)
	}
	var contract int
	require.NoError(t, server.Plant(t).QueryRowContext(t.Context(), `SELECT max(contract) FROM forward_contract`).Scan(&contract))
	assert.Equal(t, tables.Contract, contract)
}

// Whatever one of the three lacks is found.
func TestTablesThatDiffer(t *testing.T) {
	station, plant := ofStation(t), ofPlant(t)
	find := func(change func(said []tables.Table, station, plant map[string][]column) []tables.Table) []string {
		copies := [2]map[string][]column{{}, {}}
		for i, from := range []map[string][]column{station, plant} {
			for name, columns := range from {
				copies[i][name] = slices.Clone(columns)
			}
		}
		said := slices.Clone(tables.All())
		return compare(change(said, copies[0], copies[1]), copies[0], copies[1])
	}
	for name, change := range map[string]func([]tables.Table, map[string][]column, map[string][]column) []tables.Table{
		"a new table": func(said []tables.Table, station, _ map[string][]column) []tables.Table {
			station["humidity"] = nil
			return said
		},
		"a new column": func(said []tables.Table, station, _ map[string][]column) []tables.Table {
			station["run"] = append(station["run"], column{name: "humidity", kind: "REAL"})
			return said
		},
		"a column that the plant lacks": func(said []tables.Table, _, plant map[string][]column) []tables.Table {
			plant["stop"] = plant["stop"][1:]
			return said
		},
		"a column of another type": func(said []tables.Table, _, plant map[string][]column) []tables.Table {
			plant["stop"][1].kind = "INTEGER"
			return said
		},
		"a column that may be empty at one side": func(said []tables.Table, _, plant map[string][]column) []tables.Table {
			plant["stop"][1].nullable = true
			return said
		},
		"a reference that is carried as a number": func(said []tables.Table, station, _ map[string][]column) []tables.Table {
			station["run"][1].to = "jig"
			return said
		},
		"a table that nobody has": func(said []tables.Table, _, _ map[string][]column) []tables.Table {
			return append(said, tables.Table{Name: "humidity", Columns: []tables.Column{{Name: "seq", Use: tables.Own}}})
		},
	} {
		assert.NotEmpty(t, find(change), name)
	}
}

// A word's own references stand before it, and rows of another row after that.
func TestOrderOfTables(t *testing.T) {
	seen := map[string]bool{}
	for _, table := range tables.All() {
		for _, c := range table.Columns {
			if c.Use == tables.Ref && (table.Kind == tables.Word || c.Name == table.Key()) {
				assert.True(t, seen[c.To], "%s names %s", table.Name, c.To)
			}
		}
		seen[table.Name] = true
	}
}

// references that are no foreign keys, since 0 stands for none.
var references = map[string]string{"after_run": "run", "after_start": "run_start", "base": "release"}

func compare(said []tables.Table, station, plant map[string][]column) (wrong []string) {
	staying := tables.Staying()
	for name := range station {
		_, stays := staying[name]
		if carried := slices.ContainsFunc(said, func(t tables.Table) bool { return t.Name == name }); carried == stays {
			wrong = append(wrong, "table "+name+" of a station: it has to be either in tables.txt or in Staying.")
		}
	}
	for name := range staying {
		if _, there := station[name]; !there {
			wrong = append(wrong, "table "+name+" in Staying: a station has none.")
		}
	}
	for _, t := range said {
		wrong = append(wrong, compareTable(t, station[t.Name], plant[t.Name])...)
	}
	return wrong
}

func compareTable(t tables.Table, station, plant []column) (wrong []string) {
	say := func(format string, args ...any) {
		wrong = append(wrong, fmt.Sprintf("table %s: "+format, append([]any{t.Name}, args...)...))
	}
	expected := slices.Clone(station)
	for _, c := range station {
		at := t.Index(c.name)
		switch {
		case at < 0 && !c.computed:
			say("column %s is not in tables.txt.", c.name)
		case at >= 0 && c.computed:
			say("column %s is computed and not carried.", c.name)
		case at >= 0 && t.Columns[at].Use == tables.Ref && c.to != t.Columns[at].To && references[c.name] != t.Columns[at].To:
			say("column %s names no row of %s.", c.name, t.Columns[at].To)
		case at >= 0 && t.Columns[at].Use != tables.Ref && (c.to != "" || references[c.name] != ""):
			say("column %s names rows of %s%s.", c.name, c.to, references[c.name])
		}
	}
	for _, c := range t.Columns {
		if !slices.ContainsFunc(station, func(s column) bool { return s.name == c.Name }) {
			say("column %s: a station has none.", c.Name)
		}
	}
	if t.Kind == tables.Row {
		expected = append(expected, column{name: "member", kind: "INTEGER"}, column{name: "local", kind: "INTEGER"})
	}
	for _, c := range expected {
		at := slices.IndexFunc(plant, func(p column) bool { return p.name == c.name })
		if at < 0 {
			say("column %s: a plant has none.", c.name)
			continue
		}
		if p := plant[at]; p.kind != c.kind || p.nullable != c.nullable || p.computed != c.computed {
			say("column %s is %s (may be empty: %v, computed: %v) at a station and %s (%v, %v) at a plant.",
				c.name, c.kind, c.nullable, c.computed, p.kind, p.nullable, p.computed)
		}
	}
	for _, p := range plant {
		if !slices.ContainsFunc(expected, func(c column) bool { return c.name == p.name }) {
			say("column %s of a plant: a station has none.", p.name)
		}
	}
	return wrong
}

func ofStation(t *testing.T) map[string][]column {
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "records.sqlite"))
	require.NoError(t, err)
	defer s.Close()
	all := map[string][]column{}
	require.NoError(t, s.View(t.Context(), func(tx *sql.Tx) error {
		err := store.Visit(t.Context(), tx, func(r *sql.Rows) error {
			var table string
			var c column
			var hidden, key int
			err := r.Scan(&table, &c.name, &c.kind, &c.nullable, &key, &hidden)
			c.nullable, c.computed = c.nullable && key == 0, hidden > 0
			all[table] = append(all[table], c)
			return err
		}, `SELECT m.name, x.name, x.type, x."notnull" = 0 AND x.hidden = 0 OR x.hidden > 0, x.pk, x.hidden
			FROM sqlite_schema AS m, pragma_table_xinfo(m.name) AS x WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite_%'`)
		if err != nil {
			return err
		}
		return foreignKeys(t.Context(), tx, all)
	}))
	return all
}

func foreignKeys(ctx context.Context, tx *sql.Tx, all map[string][]column) error {
	return store.Visit(ctx, tx, func(r *sql.Rows) error {
		var table, from, to string
		err := r.Scan(&table, &from, &to)
		for i, c := range all[table] {
			if c.name == from {
				all[table][i].to = to
			}
		}
		return err
	}, `SELECT m.name, f."from", f."table" FROM sqlite_schema AS m, pragma_foreign_key_list(m.name) AS f WHERE m.type = 'table'`)
}

func ofPlant(t *testing.T) map[string][]column {
	all := map[string][]column{}
	require.NoError(t, store.Visit(t.Context(), server.Plant(t), func(r *sql.Rows) error {
		var table, kind string
		var c column
		err := r.Scan(&table, &c.name, &kind, &c.nullable, &c.computed)
		c.kind = map[string]string{"bigint": "INTEGER", "smallint": "INTEGER", "text": "TEXT", "double precision": "REAL", "bytea": "BLOB"}[kind]
		if c.kind == "" {
			c.kind = strings.ToUpper(kind)
		}
		all[table] = append(all[table], c)
		return err
	}, `SELECT table_name, column_name, data_type, is_nullable = 'YES', is_generated = 'ALWAYS' FROM information_schema.columns
		WHERE table_schema = 'public' ORDER BY table_name, ordinal_position`))
	return all
}
