package planttest

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// NoRoom has what is made from now on in a database lie on a small disk of its own, which is larger when room is called. Only who may mount
// file systems can try this; the test fails for others and says so. The server has to end before the test does.
func (s *Server) NoRoom(t testing.TB, database *sql.DB) (room func()) {
	t.Helper()
	dir := filepath.Join(s.dir, "small")
	require.NoError(t, os.Mkdir(dir, 0o700))
	require.NoError(t, unix.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"), "a small disk cannot be mounted: run this test as root")
	t.Cleanup(func() { require.NoError(t, unix.Unmount(dir, 0)) })
	if s.as != nil {
		require.NoError(t, os.Chown(dir, int(s.as.Uid), int(s.as.Gid)))
	}
	var name string
	require.NoError(t, database.QueryRowContext(t.Context(), `SELECT current_database()`).Scan(&name))
	for _, do := range []string{`CREATE TABLESPACE small LOCATION '` + dir + `'`, `ALTER DATABASE ` + name + ` SET default_tablespace = small`} {
		_, err := database.ExecContext(t.Context(), do)
		require.NoError(t, err)
	}
	return func() { require.NoError(t, unix.Mount("tmpfs", dir, "tmpfs", unix.MS_REMOUNT, "size=64m")) }
}
