package main

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
)

// Whatever only reads asks a plant by the address of its database, in --store, and says what the station says; what
// writes, and what is of one station, refuses it.
func TestStoreOfAPlant(t *testing.T) {
	server, err := startedPlant()
	require.NoError(t, err)
	station := planttest.Records(t, 150, 3)
	address := server.Empty(t)
	db, err := postgres.Open(address)
	require.NoError(t, err)
	_, err = postgres.Migrate(t.Context(), db)
	require.NoError(t, err)
	_, err = forward.All(t.Context(), db, station, "line-1")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	ask := func(args ...string) (out, complaint string, status int) {
		var stdout, stderr bytes.Buffer
		status = run(t.Context(), args, strings.NewReader(""), &stdout, &stderr)
		return stdout.String(), stderr.String(), status
	}
	recent, err := station.Runs.Recent(t.Context(), 1)
	require.NoError(t, err)
	unit, jig := recent[0].Serial, recent[0].Jig
	for _, command := range []string{
		"quality yield --simulated --revision all --span all --by jig", "quality causes --simulated --revision all --span all", "quality overview --simulated --span all",
		"quality units --simulated --span all --verdict fail --revision all", "quality probes --simulated --span all --revision all",
		"quality chart --simulated --span all --key 7", "quality distributions --simulated --span all", "quality gauge list",
		"unit " + unit, "jig due --simulated", "jig history " + jig + " --simulated", "jig parts " + jig + " --simulated", "jig suspects " + jig + " --simulated",
		"returns list", "product released GCC-20",
	} {
		here, said, status := ask(append(strings.Fields(command), "--store", station.Path())...)
		there, plantSaid, plantStatus := ask(append(strings.Fields(command), "--store", address)...)
		same := func(text string) string {
			return strings.ReplaceAll(strings.ReplaceAll(text, "'"+address+"'", "PATH"), address, "PATH")
		}
		assert.Equal(t, status, plantStatus, "%s: %s%s", command, there, plantSaid)
		if !slices.ContainsFunc([]string{"units", "chart", "history"}, func(one string) bool { return strings.Contains(command, one) }) { // these print numbers of rows
			assert.Equal(t, strings.ReplaceAll(here+said, station.Path(), "PATH"), same(there+plantSaid), command)
		}
	}
	out, said, status := ask("quality", "yield", "--simulated", "--revision", "all", "--span", "all", "--by", "station", "--station", "line-1", "--store", address)
	assert.Zero(t, status, said)
	assert.Contains(t, out, "line-1")
	_, said, status = ask("quality", "yield", "--simulated", "--station", "line-1", "--store", station.Path())
	assert.Equal(t, 2, status)
	assert.Contains(t, said, "--store with the address of the plant's database")

	for command, refused := range map[string]string{
		"records simulate --runs 5 --product ../../testdata/products/gcc-20.yaml": "not written from here",
		"records check": "a station's own records", "records backup --to " + t.TempDir(): "a station's own records",
		"station accounts list": "a station's own records", "station accounts attempts": "a station's own records",
	} {
		_, said, status := ask(append(strings.Fields(command), "--store", address)...)
		assert.NotZero(t, status, command)
		assert.Contains(t, said, refused, command)
	}

	const secret = "sesame-of-the-plant"
	settings := filepath.Join(t.TempDir(), "settings.yaml")
	withSecret := "postgres://reader:" + secret + "@127.0.0.1:1/plant"
	require.NoError(t, os.WriteFile(settings, []byte("every command:\n  store: "+withSecret+"\n"), 0o600))
	for _, args := range [][]string{
		{"unit", unit, "--store", withSecret}, {"quality", "yield", "--store", withSecret + "?sslmode=disable"},
		{"unit", unit, "--store", "host=127.0.0.1 port=1 user=reader password=" + secret}, {"unit", unit, "--store", "postgres://127.0.0.1:1/plant?password=" + secret},
		{"unit", unit, "--store", "postgres://reader:" + secret + "@127.0.0.1:none/plant"}, {"unit", unit, "--store", "host=127.0.0.1 user=reader password='" + secret + " and more'"},
		{"records", "check", "--store", withSecret}, {"station", "doctor", "--store", withSecret}, {"settings", "--config", settings}, {"settings", "unit", "--config", settings, "--json"},
		{"unit", unit, "--config", settings}, {"station", "--simulate", "--store", withSecret}, {"quality", "yield", "--store", withSecret, "--html", withSecret},
	} {
		out, said, _ := ask(args...)
		assert.NotContains(t, out+said, secret, args)
		assert.NotEmpty(t, out+said, args)
	}
}
