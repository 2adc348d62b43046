package main

import (
	"bytes"
	"io"
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
