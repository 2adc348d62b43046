package results

import (
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"
)

// raw is the connection that writes, for what only somebody beside the program
// does to a store.
func raw(s *Store) (db *sql.DB) {
	err := s.db.Outside(func(writing *sql.DB) error {
		db = writing
		return nil
	})
	if err != nil {
		panic(err)
	}
	return db
}

// besides opens a store as another program would, one connection with the
// parameters given.
func besides(t testing.TB, path, parameters string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite3", "file://"+path+"?"+parameters)
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	return db
}

// copyOf makes a consistent copy of a store.
func copyOf(t testing.TB, s *Store, path string) {
	t.Helper()
	_, err := raw(s).Exec(`VACUUM INTO ?`, path)
	require.NoError(t, err)
}
