package main

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	walkFile = "../../docs/walk.md"
	// walkHome stands in the page for the folder the walk was made in.
	walkHome = "/home/you/pads"
)

// TestWalk follows docs/walk.md as a newcomer does: it writes the files the
// page shows, types the commands, and compares what they print with the page.
// With -update the page gets what they printed.
func TestWalk(t *testing.T) {
	page, err := os.ReadFile(walkFile)
	require.NoError(t, err)
	w := &walk{t: t, dir: t.TempDir()}
	t.Cleanup(w.end)
	fenced := regexp.MustCompile("(?ms)^```(yaml|console) ?([^\n]*)\n(.*?)^```$")
	walked := fenced.ReplaceAllStringFunc(string(page), func(block string) string {
		part := fenced.FindStringSubmatch(block)
		if part[1] == "yaml" {
			require.NoError(t, os.WriteFile(filepath.Join(w.dir, part[2]), []byte(part[3]), 0o644))
			return block
		}
		return "```console\n" + w.console(part[3]) + "```"
	})
	if *update {
		require.NoError(t, os.WriteFile(walkFile, []byte(walked), 0o644))
		return
	}
	assert.Equal(t, tidied(string(page), walkHome), tidied(walked, walkHome), "go test ./cmd/padjig -run Walk -update")
	assert.Positive(t, w.commands)
}

// walk is somebody at a terminal.
type walk struct {
	t        *testing.T
	dir      string
	commands int
	jobs     []*exec.Cmd // started with &
}

// console types the commands of a block and gives the block with what they print.
func (w *walk) console(block string) string {
	var out strings.Builder
	for line := range strings.Lines(block) {
		command, typed := strings.CutPrefix(strings.TrimSpace(line), "$ ")
		if !typed {
			continue // what an earlier walk printed
		}
		w.commands++
		out.WriteString("$ " + command + "\n")
		out.WriteString(strings.ReplaceAll(w.typed(command), w.dir, walkHome))
	}
	return out.String()
}

func (w *walk) typed(command string) string {
	if started, background := strings.CutSuffix(command, " &"); background {
		return w.start(started)
	}
	if command == "kill %1" {
		w.end()
		return ""
	}
	said, err := w.shell(command).CombinedOutput()
	if _, exited := err.(*exec.ExitError); !exited {
		require.NoError(w.t, err)
	}
	return string(said)
}

func (w *walk) shell(command string) *exec.Cmd {
	cmd := exec.Command("sh", "-c", command)
	cmd.Dir = w.dir
	cmd.Env = append(os.Environ(), "TZ=UTC", "XDG_RUNTIME_DIR="+w.dir)
	return cmd
}

// start starts a command that stays and gives the line that says it is ready.
func (w *walk) start(command string) string {
	cmd := w.shell("exec " + command)
	output, err := cmd.StdoutPipe()
	require.NoError(w.t, err)
	require.NoError(w.t, cmd.Start())
	w.jobs = append(w.jobs, cmd)
	line, err := bufio.NewReader(output).ReadString('\n')
	require.NoError(w.t, err)
	return line
}

// end stops what was started.
func (w *walk) end() {
	for _, job := range w.jobs {
		assert.NoError(w.t, job.Process.Signal(os.Interrupt))
		assert.NoError(w.t, job.Wait())
	}
	w.jobs = nil
}
