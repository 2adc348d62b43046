package plant_test

import (
	"bytes"
	"encoding/json"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/plant"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
)

// ran is padjig plant with arguments.
func ran(t *testing.T, args ...string) (out string, err error) {
	t.Helper()
	cmd := plant.Command()
	var to bytes.Buffer
	cmd.SetOut(&to)
	cmd.SetErr(&to)
	cmd.SetArgs(args)
	cmd.SilenceUsage, cmd.SilenceErrors = true, true
	err = cmd.ExecuteContext(t.Context())
	return to.String(), err
}

// status is the exit status that an error stands for.
func status(err error) int {
	if err == nil {
		return 0
	}
	return command.Complain(io.Discard, plant.Command(), err)
}

// Every question about the stations is answered at the terminal, as an object and as CSV, over records
// that really were forwarded.
func TestQuestionsAtTheTerminal(t *testing.T) {
	address := server.Made(t)
	pool, err := postgres.Open(address)
	require.NoError(t, err)
	defer pool.Close()
	_, err = forward.Join(t.Context(), pool, "hall")
	require.NoError(t, err)
	f := &forward.Forwarder{Plant: pool, Records: planttest.Records(t, 120, 1), Member: "hall"}
	_, err = f.All(t.Context(), func(int64, int64) {})
	require.NoError(t, err)
	f.Close()

	for _, asked := range []struct {
		args   []string
		table  string
		status int
		says   string
	}{
		{[]string{"stations", "--simulated"}, "stations", 0, "1 station of the plant."},
		{[]string{"stations", "--simulated", "--silent", "1ns"}, "stations", 3, "silent"},
		{[]string{"compare", "--simulated", "--span", "all"}, "sides", 0, "Only one station"},
		{[]string{"compare", "--simulated", "--span", "all", "--jigs"}, "sides", 0, "J-0042"},
		{[]string{"due"}, "jigs", 3, "hall"},
		{[]string{"drift", "--simulated"}, "readers", 0, "No reference unit was read by two jigs"},
		{[]string{"suspects", "--simulated"}, "suspects", 0, "No jig of the plant has failed"},
		{[]string{"life", "GCC-000001-3"}, "life", 0, "tested"},
	} {
		args := append(asked.args, "--plant", address)
		out, err := ran(t, args...)
		assert.Equal(t, asked.status, status(err), "%v: %v", args, err)
		assert.Contains(t, out, asked.says, "%v", args)
		if asked.table == "stations" || asked.table == "life" {
			assert.Contains(t, out, "times: Europe/Vienna", "%v: by the clock of the plant", args)
		}
		out, err = ran(t, append(args, "--json")...)
		assert.Equal(t, asked.status, status(err), "%v: %v", args, err)
		var object struct {
			Tables     map[string]any `json:"tables"`
			Conclusion []string       `json:"conclusion"`
		}
		require.NoError(t, json.Unmarshal([]byte(out), &object), "%v: %s", args, out)
		assert.Contains(t, object.Tables, asked.table)
		out, err = ran(t, append(args, "--csv")...)
		assert.Equal(t, asked.status, status(err), "%v", args)
		assert.NotEmpty(t, out)
	}

	for _, wrong := range [][]string{
		{"life", "GCC-999999-9"}, {"compare", "--simulated=false"}, {"stations", "--silent", "0s"}, {"drift", "--from", "tomorrow"}, {"drift", "--confidence", "2"},
		{"compare", "--span", "sometime", "--interval", "odd"},
	} {
		_, err := ran(t, append(wrong, "--plant", address)...)
		assert.Equal(t, 2, status(err), "%v: %v", wrong, err)
	}
	_, err = ran(t, "stations", "--plant", "host=/nowhere user=nobody")
	assert.Equal(t, 4, status(err), "%v", err)
}
