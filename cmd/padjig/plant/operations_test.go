package plant_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"padjig/results"
	"padjig/results/answers/choice"
	"padjig/results/lines"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/asked"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/plant"
	"padjig/fixture"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/sequence"
)

// run is padjig plant with arguments: what it printed, what it complained of, its exit status.
func run(t *testing.T, args ...string) (stdout, stderr string, status int) {
	t.Helper()
	cmd := plant.Command()
	cmd.SilenceErrors, cmd.SilenceUsage = true, true
	var out, complaint bytes.Buffer
	cmd.SetOut(&out)
	cmd.SetErr(&complaint)
	cmd.SetArgs(args)
	called, err := cmd.ExecuteContextC(t.Context())
	status = command.Complain(&complaint, called, err)
	return out.String(), complaint.String(), status
}

// A plant is prepared, gets a station and a reader, and a month of it is retired.
func TestOwnersWork(t *testing.T) {
	address := server.Empty(t)
	out, complaint, status := run(t, "prepare", "--plant", address, "--json")
	require.Equal(t, 0, status, complaint)
	var prepared struct{ Schema, Database, Station, Reader string }
	require.NoError(t, json.Unmarshal([]byte(out), &prepared))
	assert.Equal(t, "plant-prepared-1", prepared.Schema)
	assert.Equal(t, prepared.Database+"_station", prepared.Station)

	password := filepath.Join(t.TempDir(), "line-1.password")
	require.NoError(t, os.WriteFile(password, []byte("aZ3-klmnopqrstuvwxyz\n"), 0o600))
	for range 2 {
		out, complaint, status = run(t, "member", "add", "line-1", "--plant", address, "--password-file", password)
		require.Equal(t, 0, status, complaint)
		assert.Equal(t, "station line-1 has number 1 at the plant\nit signs in as "+prepared.Station+"_1, with the password that was given\n", out)
	}
	out, complaint, status = run(t, "reader", "add", "quality", "--plant", address, "--json")
	require.Equal(t, 0, status, complaint)
	assert.Contains(t, out, prepared.Reader+"_quality")

	db, err := postgres.Open(strings.Replace(address, "user=owner", "user="+prepared.Station+"_1", 1))
	require.NoError(t, err)
	defer db.Close()
	station := planttest.Records(t, 5, 1)
	recent, err := station.Runs.Recent(t.Context(), 1)
	require.NoError(t, err)
	stored, err := station.Runs.Run(t.Context(), recent[0].ID)
	require.NoError(t, err)
	deviation := fixture.Resistance{Value: 100, U: 0.1}
	_, err = station.Care.SaveCalibration(t.Context(), sequence.Calibration{Kind: sequence.KindVerify, Jig: stored.Jig, Simulated: true, Operator: "Ines", Reason: "channel 1 reads too much", Performed: time.Now(), Interval: 60 * 24 * time.Hour,
		Box: "four resistors", BoxSerial: "RB-7", Certificate: "C-2026-118", CertificateDue: time.Now().AddDate(1, 0, 0),
		Readings: []sequence.CalibrationReading{{Channel: 1, Mate: 2, Resistor: "R1", Certified: fixture.Resistance{Value: 500, U: 0.05}, Reference: 500, Measured: fixture.Resistance{Value: 600, U: 0.1}, Deviation: deviation, Limit: 1}}})
	require.NoError(t, err)
	f := &forward.Forwarder{Plant: db, Records: station, Member: "line-1"}
	defer f.Close()
	_, err = f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)

	folder := t.TempDir()
	out, complaint, status = run(t, "retire", "--before", "2026-04", "--to", folder, "--operator", "Ines", "--plant", address)
	require.Equal(t, 0, status, complaint)
	assert.Regexp(t, `^2026-03: 5 runs, \d+ rows with all that belongs to them in .*/2026-03, \d+\.\d MB; read back and the same, readings taken out\n$`, out)
	out, complaint, status = run(t, "retire", "--before", "2026-04", "--to", folder, "--operator", "Ines", "--plant", address, "--json")
	require.Equal(t, 0, status, complaint)
	assert.Contains(t, out, `"months": []`)
	assert.FileExists(t, filepath.Join(folder, "2026-03", "manifest.json"))

	// What is asked of those runs says where their readings are.
	var serial string
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT min(serial) FROM run`).Scan(&serial))
	out, complaint, status = run(t, "life", serial, "--plant", address)
	require.Equal(t, 0, status, complaint)
	assert.Contains(t, out, "The readings of 2026-03 to 2026-03 are not at the plant any more")
	assert.Contains(t, strings.Join(strings.Fields(out), ""), filepath.Join(folder, "2026-03"))
	for _, args := range [][]string{{"drift", "--simulated"}, {"suspects", "--simulated"}} {
		out, complaint, _ = run(t, append(args, "--plant", address, "--json")...)
		assert.Contains(t, out, "The readings of 2026-03 to 2026-03 are not at the plant any more", "%s: %s", args, complaint)
	}
	out, _, _ = run(t, "drift", "--simulated", "--from", "2026-04-02", "--plant", address)
	assert.NotContains(t, out, "The readings of", "none of that month is asked for")
	records := results.Over(db, "the plant")
	life, err := asked.LifeOf(t.Context(), records, serial)
	require.NoError(t, err)
	object := life.Object()
	require.Len(t, object.Retired, 1)
	assert.Equal(t, "2026-03 Ines "+filepath.Join(folder, "2026-03"), object.Retired[0].Month+" "+object.Retired[0].By+" "+object.Retired[0].Folder)
	alone, err := asked.LifeOf(t.Context(), station, serial)
	require.NoError(t, err)
	assert.Empty(t, alone.Object().Retired, "the station has them")
	chosen, err := choice.Choose(t.Context(), records, choice.Asked{Simulated: true, Filter: lines.Filter{Simulated: true}}, choice.Runs, time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(chosen.Usual), "retired.months")

	// An office has a role that puts notices up.
	out, complaint, status = run(t, "office", "add", "pages", "--plant", address)
	require.Equal(t, 0, status, complaint)
	assert.Equal(t, "it signs in as "+prepared.Database+"_office_pages\n", out)
	_, complaint, status = run(t, "office", "add", "No Office", "--plant", address)
	assert.NotZero(t, status)
	assert.Contains(t, complaint, "small letters")
}

// What is given wrongly is said with what to do, and no password is ever shown.
func TestOwnersMistakes(t *testing.T) {
	address := server.Empty(t)
	_, complaint, status := run(t, "prepare", "--plant", address)
	require.Equal(t, 0, status, complaint)
	short := filepath.Join(t.TempDir(), "short")
	require.NoError(t, os.WriteFile(short, []byte("hunter2"), 0o600))
	folder := t.TempDir()
	for name, c := range map[string]struct {
		args []string
		says []string
	}{
		"anybody":         {[]string{"prepare", "--plant", "host=db.example dbname=plant"}, []string{"trusts whoever answers at db.example", "sslmode=verify-full", "pin="}},
		"no sum":          {[]string{"prepare", "--plant", "host=db.example pin=12"}, []string{"no SHA-256", "openssl x509"}},
		"no name":         {[]string{"member", "add", "line 2", "--plant", address}, []string{"station name"}},
		"no reader":       {[]string{"reader", "add", "Quality", "--plant", address}, []string{"small letters"}},
		"short password":  {[]string{"member", "add", "line-2", "--plant", address, "--password-file", short}, []string{"20 to 200 characters", "openssl rand"}},
		"no password":     {[]string{"member", "add", "line-2", "--plant", address, "--password-file", short + "er"}, []string{"read the password", "openssl rand"}},
		"no month":        {[]string{"retire", "--before", "March", "--to", folder, "--operator", "Ines", "--plant", address}, []string{"is no month", "2026-03"}},
		"not over":        {[]string{"retire", "--before", "2100-01", "--to", folder, "--operator", "Ines", "--plant", address}, []string{"when it is over", "--before this month"}},
		"no folder":       {[]string{"retire", "--before", "2026-01", "--to", folder + "/none", "--operator", "Ines", "--plant", address}, []string{"is no folder", "connect its disk"}},
		"not the owner":   {[]string{"prepare", "--plant", strings.Replace(address, "user=owner", "user=nobody_at_all", 1)}, []string{"try:"}},
		"nobody says who": {[]string{"retire", "--before", "2026-01", "--to", folder, "--plant", address}, []string{"operator"}},
	} {
		t.Run(name, func(t *testing.T) {
			out, complaint, status := run(t, c.args...)
			assert.NotZero(t, status)
			assert.Empty(t, out)
			for _, says := range c.says {
				assert.Contains(t, complaint, says)
			}
			assert.NotContains(t, complaint, "hunter2")
		})
	}
}
