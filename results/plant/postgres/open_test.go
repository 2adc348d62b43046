package postgres_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
)

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

func TestMigrateTwice(t *testing.T) {
	db, err := postgres.Open(server.Empty(t))
	require.NoError(t, err)
	defer db.Close()
	for range 2 {
		version, err := postgres.Migrate(t.Context(), db)
		require.NoError(t, err)
		assert.Positive(t, version)
	}
}

func TestQuestionsOfRooms(t *testing.T) {
	db := server.Plant(t)
	var yes int
	var text, quoted string
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT ?2 + 0, ?1 || '?', "what?" -- why?
		FROM (SELECT 'so' AS "what?") AS one WHERE ?1 <> ''`, "a", true).Scan(&yes, &text, &quoted))
	assert.Equal(t, []any{1, "a?", "so"}, []any{yes, text, quoted})
}

func TestMonths(t *testing.T) {
	db := server.Plant(t)
	for range 2 {
		_, err := db.ExecContext(t.Context(), `SELECT month_of(?)`, 1<<50)
		require.NoError(t, err)
	}
	var n int
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT count(*) FROM pg_inherits`).Scan(&n))
	assert.Positive(t, n)
}
