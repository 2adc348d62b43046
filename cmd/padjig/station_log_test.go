package main

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A station that the system starts logs to its journal: its start with what was set, its end, each
// with a priority and without a time; standard output has its address and nothing else.
func TestAStationLogsToTheJournal(t *testing.T) {
	dir := t.TempDir()
	journal, err := os.Create(filepath.Join(dir, "journal"))
	require.NoError(t, err)
	info, err := journal.Stat()
	require.NoError(t, err)
	of := info.Sys().(*syscall.Stat_t)
	cmd := exec.CommandContext(t.Context(), "padjig", "station", "--product", crashProduct, "--jig", filepath.Join(dir, "none"),
		"--listen", "127.0.0.1:0", "--store", filepath.Join(dir, "r.sqlite"), "--log-level", "warn", "--log-level", "info")
	cmd.Env = append(os.Environ(), fmt.Sprintf("JOURNAL_STREAM=%d:%d", of.Dev, of.Ino))
	cmd.Stderr = journal
	output, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(output)
	require.True(t, lines.Scan(), "it says where it is")
	assert.True(t, strings.HasPrefix(lines.Text(), "station at http://127.0.0.1:"))
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	assert.False(t, lines.Scan(), "nothing else on standard output")
	require.NoError(t, cmd.Wait())

	text, err := os.ReadFile(journal.Name())
	require.NoError(t, err)
	assert.Regexp(t, `(?m)^<6>INFO  station started pid=\d+ .*at=http://127\.0\.0\.1:\d+/ records=\S+r\.sqlite .*set\.listen=127\.0\.0\.1:0`, string(text))
	assert.Regexp(t, `(?m)^<6>INFO  station stopped after=\S+$`, string(text))
	for line := range strings.Lines(string(text)) {
		assert.Regexp(t, `^<[3467]>`, line)
	}
	require.NoError(t, journal.Close())
}
