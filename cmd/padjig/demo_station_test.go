package main

import (
	"bytes"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The demo ends in a station that serves its pages, and Ctrl-C ends it well.
func TestDemoOpensTheStation(t *testing.T) {
	t.Parallel()
	demo := exec.CommandContext(t.Context(), "padjig", "demo", "--fast", "--station", "--listen", "127.0.0.1:0",
		"--dir", filepath.Join(t.TempDir(), "demo"))
	output, err := demo.StdoutPipe()
	require.NoError(t, err)
	demo.Stderr = os.Stderr
	require.NoError(t, demo.Start())
	said, address := until(t, output, regexp.MustCompile(`station at (http://127\.0\.0\.1:\d+)/`))
	assert.Contains(t, said, "check: all as planted")
	assert.Regexp(t, `operator +PJB\w{20}`, said)
	answer, err := http.Get(address + "/door")
	require.NoError(t, err)
	page, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	assert.Contains(t, string(page), "Sign in")
	require.NoError(t, demo.Process.Signal(os.Interrupt))
	_, err = io.Copy(io.Discard, output)
	require.NoError(t, err)
	assert.NoError(t, demo.Wait())
}

// Ctrl-C is no error wherever the demo is: while it writes what was before, and
// in the middle of the lot.
func TestDemoStopsQuietly(t *testing.T) {
	t.Parallel()
	for where, c := range map[string]struct {
		flag, after string
	}{
		"what was before": {"--station", "(writing 3000 units)"},
		"the lot":         {"--exit", "(GCC-000001-3 .* PASS)"},
	} {
		t.Run(where, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(t.TempDir(), "demo")
			demo := exec.CommandContext(t.Context(), "padjig", "demo", c.flag, "--listen", "127.0.0.1:0", "--dir", dir)
			var trouble bytes.Buffer
			demo.Stderr = &trouble
			output, err := demo.StdoutPipe()
			require.NoError(t, err)
			require.NoError(t, demo.Start())
			until(t, output, regexp.MustCompile(c.after))
			require.NoError(t, demo.Process.Signal(os.Interrupt))
			rest, err := io.ReadAll(output)
			require.NoError(t, err)
			require.Error(t, demo.Wait())
			assert.Equal(t, statusNotMeasured, demo.ProcessState.ExitCode())
			assert.Empty(t, trouble.String())
			assert.Contains(t, string(rest), "stopped before the end; the records so far: "+filepath.Join(dir, "records.sqlite"))
			assert.NoFileExists(t, filepath.Join(dir, "jig0"))
		})
	}
}

// A station that will not open is known before anybody has waited for the lot.
func TestDemoKnowsBeforeTheLotThatItsStationWillNotOpen(t *testing.T) {
	t.Parallel()
	taken, err := new(net.ListenConfig).Listen(t.Context(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	demo := exec.CommandContext(t.Context(), "padjig", "demo", "--fast", "--station", "--listen", taken.Addr().String(),
		"--dir", filepath.Join(t.TempDir(), "demo"))
	said, err := demo.CombinedOutput()
	require.Error(t, err)
	assert.Equal(t, statusWrong, demo.ProcessState.ExitCode())
	assert.NotContains(t, string(said), "GCC-0", "no unit was tested")
	assert.Contains(t, string(said), "another port, such as --listen 127.0.0.1:8318")
}

// until reads until an expression was said, and gives all that was said and
// what stood in the expression's brackets.
func until(t *testing.T, from io.Reader, what *regexp.Regexp) (said, match string) {
	t.Helper()
	var all bytes.Buffer
	part := make([]byte, 4096)
	for {
		n, err := from.Read(part)
		all.Write(part[:n])
		if m := what.FindStringSubmatch(all.String()); m != nil {
			return all.String(), m[1]
		}
		require.NoError(t, err, all.String())
	}
}
