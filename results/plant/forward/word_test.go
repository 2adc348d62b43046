package forward_test

import (
	"crypto/sha256"
	"database/sql"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/plant/conflict"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
)

func one[T any](t *testing.T, db *sql.DB, query string, args ...any) (value T) {
	t.Helper()
	require.NoError(t, db.QueryRowContext(t.Context(), query, args...).Scan(&value))
	return value
}

// A word that a station changed in its own records does not come to the plant, nor anything that names it; what does not, comes. When it
// is put right nothing is missing, and another station that uses the word was never in the way.
func TestPoisonedAtTheStation(t *testing.T) {
	plant := server.Plant(t)
	for n, c := range []struct{ table, poison, mend, says string }{
		{"revision", `UPDATE revision SET definition = replace(definition, 'R1', 'R9')`, `UPDATE revision SET definition = replace(definition, 'R9', 'R1')`, "not what it is called"},
		{"", "", "", ""}, // from here on the plant has the words
		{"revision", `UPDATE revision SET definition = replace(definition, 'R1', 'R9')`, `UPDATE revision SET definition = replace(definition, 'R9', 'R1')`, "at the station and"},
		{"revision", `UPDATE revision SET hash = substr(hash, 2) || substr(hash, 1, 1)`, "", "not what it is called"},
		{"key", `UPDATE key SET label = label || '-x'`, `UPDATE key SET label = substr(label, 1, length(label) - 2)`, "not what it is called"},
		{"pin", `UPDATE pin SET number = number + 100`, `UPDATE pin SET number = number - 100`, "not what it is called"},
	} {
		member, records := fmt.Sprint("line-", n), planttest.Records(t, 2, 1+uint64(n))
		if c.table == "" {
			_, err := forward.All(t.Context(), plant, records, member)
			require.NoError(t, err, "another station is not in the way")
			same(t, plant, records, member)
			continue
		}
		unsealed(t, records, c.table, c.poison)
		number, err := forward.Join(t.Context(), plant, member)
		require.NoError(t, err)
		f := &forward.Forwarder{Plant: plant, Records: records, Member: member}
		_, err = f.All(t.Context(), func(int64, int64) {})
		var stopped *forward.StoppedError
		require.ErrorAs(t, err, &stopped, c.poison)
		assert.Equal(t, forward.OtherWord, stopped.Code)
		assert.Contains(t, stopped.What, "row 1 of ")
		assert.Contains(t, stopped.What, c.table)
		assert.Contains(t, stopped.What, c.says)
		assert.Contains(t, stopped.Remedy, "padjig records check")
		assert.Zero(t, one[int](t, plant, `SELECT count(*) FROM run WHERE member = ?`, number))
		assert.Positive(t, one[int](t, plant, `SELECT count(*) FROM program WHERE member = ?`, number), "what does not name it, comes")
		assert.Equal(t, "other word", one[string](t, plant, `SELECT stopped FROM heartbeat WHERE member = ?`, number))
		assert.EqualValues(t, 2, one[int](t, plant, `SELECT waiting_runs FROM heartbeat WHERE member = ?`, number))
		if c.mend != "" {
			unsealed(t, records, c.table, c.mend)
			_, err = f.All(t.Context(), func(int64, int64) {})
			require.NoError(t, err)
			same(t, plant, records, member)
			assert.Empty(t, one[string](t, plant, `SELECT stopped FROM heartbeat WHERE member = ?`, number))
		}
		f.Close()
	}
	assert.Zero(t, one[int](t, plant, `SELECT count(*) FROM revision WHERE hash <> encode(sha256(convert_to(definition, 'UTF8')), 'hex')`))
}

// Runs before the one that names a word which is wrong come, and it is that one which is named.
func TestUpToThePoison(t *testing.T) {
	plant, records := server.Plant(t), planttest.Records(t, 5, 1)
	_, err := forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)
	planttest.More(t, records, 4, 2)
	unsealed(t, records, "pin", `INSERT INTO pin (pin, revision, number, line) SELECT 900, revision, 1, 'R9' FROM revision LIMIT 1`)
	unsealed(t, records, "run_seat", `UPDATE run_seat SET pin = 900 WHERE run = 7 AND place = 0`)
	f := &forward.Forwarder{Plant: plant, Records: records, Member: "line-1"}
	defer f.Close()
	_, err = f.All(t.Context(), func(int64, int64) {})
	var stopped *forward.StoppedError
	require.ErrorAs(t, err, &stopped)
	assert.Contains(t, stopped.What, "row 7 of run names pin 900")
	assert.EqualValues(t, 6, one[int](t, plant, `SELECT count(*) FROM run`))
	assert.EqualValues(t, 3, one[int](t, plant, `SELECT waiting_runs FROM heartbeat`))
}

// Nobody stores a definition under a hash that it does not have, or a key that the definition does not have: not by hand either.
func TestPoisonedByHand(t *testing.T) {
	plant, records := server.Plant(t), planttest.Records(t, 2, 1)
	_, err := forward.All(t.Context(), plant, records, "line-1")
	require.NoError(t, err)
	const garbage = `{"keys": []}`
	for _, c := range []struct {
		query string
		args  []any
	}{
		{`INSERT INTO revision (hash, code, title, label, definition) SELECT hash, code, title, 'Z', ? FROM revision LIMIT 1`, []any{garbage}},
		{`INSERT INTO revision (hash, code, title, label, definition) VALUES (?, 'GCC-20', '', 'Z', '{}')`, []any{fmt.Sprintf("%x", sha256.Sum256([]byte(garbage)))}},
		{`UPDATE revision SET definition = ?`, []any{garbage}},
		{`INSERT INTO key (revision, label, line_a, line_b) SELECT revision, 'HEAT-2', line_a, line_b FROM key LIMIT 1`, nil},
		{`INSERT INTO key (revision, label, line_a, line_b) SELECT revision, label, line_b, 'R77' FROM key LIMIT 1`, nil},
		{`INSERT INTO pin (revision, number, line) SELECT revision, 0, line FROM pin LIMIT 1`, nil},
		{`INSERT INTO pin (revision, number, line) SELECT revision, 3000000000, line FROM pin LIMIT 1`, nil},
		{`INSERT INTO key (revision, label, line_a, line_b) VALUES (987654, 'A', 'R1', 'C1')`, nil},
	} {
		_, err := plant.ExecContext(t.Context(), c.query, c.args...)
		assert.Equal(t, postgres.CheckViolation, postgres.Code(err), "%s: %v", c.query, err)
	}
}

// A definition that was changed at the plant, by whoever may do all there, stops what names it anew, is told by the check and by the list of
// conflicts, and is put right by its owner.
func TestPoisonedAtThePlant(t *testing.T) {
	plant, records := server.Plant(t), planttest.Records(t, 4, 1)
	_, err := forward.All(t.Context(), plant, records, "line-1")
	require.NoError(t, err)
	do := func(query string, args ...any) {
		_, err := plant.ExecContext(t.Context(), query, args...)
		require.NoError(t, err)
	}
	do(`CREATE TABLE kept AS SELECT hash, definition FROM revision`)
	do(`ALTER TABLE revision DROP CONSTRAINT definition_of_hash`)
	do(`UPDATE revision SET definition = replace(definition, 'R1', 'R9')`)

	found, err := forward.Check(t.Context(), plant, records, "line-1", func(int64, int64) {})
	require.NoError(t, err)
	require.NotEmpty(t, found.Differences)
	assert.Equal(t, "revision", found.Differences[0].Table)
	assert.NotEqual(t, found.Differences[0].Here, found.Differences[0].There)
	assert.False(t, found.Same())
	told, err := conflict.Ask(t.Context(), results.Over(plant, "plant"), conflict.Asked{Since: time.Now().AddDate(1, 0, 0)})
	require.NoError(t, err)
	require.Len(t, told.Conflicts, len(found.Differences), "whenever its runs were")
	assert.Equal(t, conflict.OtherMeaning, told.Conflicts[0].Code)

	planttest.More(t, records, 2, 2)
	_, err = forward.All(t.Context(), plant, records, "line-1")
	var stopped *forward.StoppedError
	require.ErrorAs(t, err, &stopped)
	assert.Equal(t, forward.OtherWord, stopped.Code)
	assert.Contains(t, stopped.What, "names revision ")
	assert.Contains(t, stopped.Remedy, "its owner")
	assert.Less(t, one[int](t, plant, `SELECT count(*) FROM run`), 6)

	do(`UPDATE revision SET definition = kept.definition FROM kept WHERE kept.hash = revision.hash`)
	_, err = forward.All(t.Context(), plant, records, "line-1")
	require.NoError(t, err)
	same(t, plant, records, "line-1")
}

// unsealed changes a table as nothing of the program can.
func unsealed(t *testing.T, records *results.Store, table, query string) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+records.Path())
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.QueryContext(t.Context(), `SELECT name FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = ?`, table)
	require.NoError(t, err)
	var guards []string
	for rows.Next() {
		var guard string
		require.NoError(t, rows.Scan(&guard))
		guards = append(guards, guard)
	}
	require.NoError(t, rows.Err())
	require.NoError(t, rows.Close())
	for _, guard := range guards {
		_, err := db.ExecContext(t.Context(), `DROP TRIGGER "`+guard+`"`)
		require.NoError(t, err)
	}
	_, err = db.ExecContext(t.Context(), query)
	require.NoError(t, err)
}
