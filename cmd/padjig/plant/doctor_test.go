package plant_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/doctor"
	"padjig/cmd/padjig/doctor/look"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
)

// How a station stands to its plant is looked at on a real server, step by step, as it would be set up.
func TestDoctorLooksAtThePlant(t *testing.T) {
	address, records := server.Empty(t), planttest.Records(t, 2, 1)
	pool, err := postgres.Open(address)
	require.NoError(t, err)
	defer pool.Close()
	said := look.Plant{Address: address, Member: "line-2"}
	codes := func() string {
		t.Helper()
		f := look.At(t.Context(), look.Asked{Store: records, Path: records.Path(), Plant: said})
		var out []string
		for _, found := range doctor.Examine(f) {
			if found.Check() == doctor.PlantCheck || found.Check() == doctor.NoticesCheck {
				out = append(out, string(found.Code))
			}
		}
		return strings.Join(out, " ")
	}
	assert.Equal(t, "plant.empty notices.none", codes())
	_, err = postgres.Migrate(t.Context(), pool)
	require.NoError(t, err)
	assert.Equal(t, "plant.unjoined notices.none", codes())
	_, err = forward.Join(t.Context(), pool, "line-2")
	require.NoError(t, err)
	assert.Equal(t, "plant.waiting notices.none", codes(), "its runs are of long ago")
	_, err = forward.All(t.Context(), pool, records, "line-2")
	require.NoError(t, err)
	assert.Equal(t, "plant.fine notices.none", codes())
	_, err = pool.ExecContext(t.Context(), `UPDATE forward_contract SET contract = contract + 1`)
	require.NoError(t, err)
	assert.Equal(t, "plant.newer notices.none", codes())

	said.Keys = filepath.Join(t.TempDir(), "plant.pub")
	assert.Contains(t, codes(), "notices.key", "there is no such file")
	require.NoError(t, os.WriteFile(said.Keys, []byte("no key"), 0o600))
	assert.Contains(t, codes(), "notices.key")
	said.Keys = ""
	said.Address = strings.ReplaceAll(address, "dbname=", "user=nobody_here dbname=")
	assert.Contains(t, codes(), "plant.denied")
	said.Address = "host=" + t.TempDir() + " dbname=plant"
	assert.Contains(t, codes(), "plant.away")
	said.Last = func() time.Time { return time.Now().Add(-time.Hour) }
	assert.Contains(t, codes(), "plant.since")
	said.Address = "host=db.example dbname=plant sslmode=require"
	assert.Contains(t, codes(), "plant.untrusted")
	said.Address = ""
	assert.Contains(t, codes(), "plant.none")
}
