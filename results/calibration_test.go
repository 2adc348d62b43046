package results

import (
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"
)

// calibrated adds a verification of the first jig there is, with two readings.
func calibrated(t testing.TB, s *Store) {
	t.Helper()
	require.NoError(t, s.update(t.Context(), func(tx *sql.Tx) error {
		_, err := tx.ExecContext(t.Context(), `
			INSERT INTO calibration_reading VALUES
				(1, 0, 1, 2, 'A', 500, 100, 0.001, 100.01, 0.02, 0.01, 0.02, 0.1, 1),
				(1, 1, 2, 3, 'B', 500, 499, 0.005, 499.02, 0.06, 0.02, 0.06, 0.3, 1);
			INSERT INTO calibration SELECT 1, randomblob(16), 'verify', jig, station, simulated, 'ana', max(seq),
				1000, 86400000000, 86400001000, 'RB-1', 'RB-1-0001', 'C-1', 5000000, 1, '', 2000, NULL, NULL, 2,
				randomblob(32) FROM run`)
		return err
	}))
}
