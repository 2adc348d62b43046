package store

import (
	"fmt"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func migrations(t *testing.T) []migration {
	t.Helper()
	list, err := listMigrations(embedded())
	require.NoError(t, err)
	return list
}

func TestReadingAnOlderStore(t *testing.T) {
	s := openTemp(t)
	files := fstest.MapFS{}
	for _, m := range migrations(t) {
		files[m.name] = &fstest.MapFile{Data: []byte(m.script)}
	}
	files[fmt.Sprintf("%04d_more.sql", len(files)+1)] = &fstest.MapFile{Data: []byte(`SELECT 1`)}
	older := candidate{path: s.path, readOnly: true, migrations: files}
	assert.ErrorIs(t, older.checkHeader(t.Context()), ErrOlder)
}

func TestMigrationNumbers(t *testing.T) {
	for name, files := range map[string]fstest.MapFS{
		"gap":       {"0001_a.sql": {}, "0003_c.sql": {}},
		"twice":     {"0001_a.sql": {}, "0001_b.sql": {}},
		"no number": {"first.sql": {}},
	} {
		_, err := listMigrations(files)
		assert.ErrorContains(t, err, "expected number", name)
	}
	assert.NotEmpty(t, migrations(t))
}

func TestHeader(t *testing.T) {
	s := openTemp(t)
	var application, version int64
	require.NoError(t, s.read.QueryRow(`PRAGMA application_id`).Scan(&application))
	require.NoError(t, s.read.QueryRow(`PRAGMA user_version`).Scan(&version))
	assert.Equal(t, "padj", string([]byte{
		byte(application >> 24), byte(application >> 16), byte(application >> 8), byte(application),
	}))
	assert.Equal(t, len(migrations(t)), int(version))
}

func TestEveryTableIsStrict(t *testing.T) {
	loose, err := Collect(t.Context(), openTemp(t).read, ScanText,
		`SELECT name FROM pragma_table_list WHERE type = 'table' AND NOT strict AND name NOT LIKE 'sqlite_%'`)
	require.NoError(t, err)
	assert.Empty(t, loose)
}
