package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	walkFile = "../../docs/walk.md"
	// walkHome stands in the page for the home of whoever made the walk.
	walkHome = "/home/you"
	// walkPatience ends a walk in which a command never comes back.
	walkPatience = 5 * time.Minute
)

// TestWalk follows docs/walk.md as a newcomer does, in one terminal: a shell
// with job control, in the clone. It types every command of every block as it
// is written there, makes the files the page shows, and compares what the shell
// and the commands print with the page. With -update the page gets what they
// printed.
func TestWalk(t *testing.T) {
	w := newWalk(t)
	w.through(walkFile)
	assert.Greater(t, w.commands, 15)
}

// TestPagesWithOutput goes through every other page that shows what commands print: it types them and makes its files,
// in a folder of its own.
func TestPagesWithOutput(t *testing.T) {
	pages, err := filepath.Glob("../../docs/*.md")
	require.NoError(t, err)
	count := 0
	for _, page := range pages {
		text, err := os.ReadFile(page)
		require.NoError(t, err)
		if page == walkFile || strings.HasSuffix(page, "/api.md") /* asked over the network: web/machine_page_test.go */ || !strings.Contains(string(text), "\n```console\n") {
			continue
		}
		count++
		t.Run(filepath.Base(page), func(t *testing.T) {
			t.Parallel()
			w := newWalk(t)
			w.typed("mkdir ~/pads && cp testdata/products/gcc-20.yaml testdata/boxes/*.yaml ~/pads && cd ~/pads")
			w.through(page)
		})
	}
	assert.GreaterOrEqual(t, count, 5)
}

// through goes through a page.
func (w *walk) through(file string) {
	t := w.t
	page, err := os.ReadFile(file)
	require.NoError(t, err)
	fenced := regexp.MustCompile("(?ms)^```(sh|yaml|console)(?: ([^\n]+))?\n(.*?)^```$")
	walked := fenced.ReplaceAllStringFunc(string(page), func(block string) string {
		part := fenced.FindStringSubmatch(block)
		switch {
		case part[2] != "": // a file
			require.NoError(t, os.WriteFile(filepath.Join(w.pads(), part[2]), []byte(part[3]), 0o644))
			return block
		case part[1] == "sh":
			for command := range strings.Lines(part[3]) {
				w.typed(strings.TrimSpace(command))
				assert.Equal(t, "status 0\n", w.typed(`echo "status $?"`), command)
			}
			return block
		case part[1] == "yaml": // a piece of one
			return block
		}
		return "```console\n" + w.console(part[3]) + "```"
	})
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(walked), 0o644))
		return
	}
	require.Equal(t, tidied(string(page), walkHome), tidied(walked, walkHome), "make docs")
	assert.Empty(t, w.typed("wait; jobs"), "nothing runs on when the walk is over")
}

// walk is somebody at a terminal.
type walk struct {
	t        *testing.T
	home     string
	terminal *os.File
	read     strings.Builder // since the last command
	commands int
}

// walkPrompt is what the shell says when it is ready: nothing else says it.
const walkPrompt = "\x1eready\x1e"

func newWalk(t *testing.T) *walk {
	home, err := filepath.EvalSymlinks(t.TempDir())
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), walkPatience)
	shell := exec.CommandContext(ctx, "bash", "--noprofile", "--norc", "--noediting", "-i")
	shell.Dir = "../.."
	shell.Env = append(os.Environ(), "HOME="+home, "PS1="+walkPrompt, "TERM=dumb", "TZ=UTC", "LC_ALL=C",
		"XDG_DATA_HOME=", "XDG_RUNTIME_DIR="+home, "TMPDIR="+home, "PATH="+filepath.Join(home, "go", "bin")+":"+os.Getenv("PATH"), "GOPATH=", "GOBIN=")
	for _, kept := range []string{"GOCACHE", "GOMODCACHE"} { // as on a machine where this was built before
		where, err := exec.Command("go", "env", kept).Output()
		require.NoError(t, err)
		shell.Env = append(shell.Env, kept+"="+strings.TrimSpace(string(where)))
	}
	terminal, err := pty.StartWithSize(shell, &pty.Winsize{Rows: 24, Cols: plainWidth})
	require.NoError(t, err)
	t.Cleanup(func() {
		_ = terminal.Close() // the shell hangs up on all that still runs
		_ = shell.Wait()
		cancel()
	})
	require.NoError(t, terminal.SetReadDeadline(time.Now().Add(walkPatience)))
	w := &walk{t: t, home: home, terminal: terminal}
	w.until(walkPrompt)
	w.typed("stty -echo") // what is typed is known
	return w
}

func (w *walk) pads() string { return filepath.Join(w.home, "pads") }

// console types the commands of a block and gives the block with what they print.
func (w *walk) console(block string) string {
	var out strings.Builder
	for line := range strings.Lines(block) {
		command, typed := strings.CutPrefix(strings.TrimSpace(line), "$ ")
		if !typed {
			continue // what an earlier walk printed
		}
		out.WriteString("$ " + command + "\n")
		out.WriteString(strings.ReplaceAll(w.typed(command), w.home, walkHome))
	}
	return out.String()
}

// notes of the shell about jobs come when it likes, and stand in no page.
var notes = regexp.MustCompile(`(?m)^\[\d+\].*\n`)

// typed types a command and gives what is printed until the shell is ready
// again, and for one that stays until it says that it is ready. A job that was
// killed may still be about to end, as it is for somebody who types on.
func (w *walk) typed(command string) string {
	w.commands++
	w.enter(command)
	w.until(walkPrompt)
	if strings.HasSuffix(command, " &") {
		w.until(": simulated jig", "\n")
	}
	said := strings.NewReplacer("\r\n", "\n", walkPrompt, "").Replace(w.read.String())
	w.read.Reset()
	return notes.ReplaceAllString(said, "")
}

func (w *walk) enter(line string) {
	_, err := fmt.Fprintln(w.terminal, line)
	require.NoError(w.t, err)
}

// until reads until these were printed since the last command, one behind the
// other; a prompt must be a new one.
func (w *walk) until(marks ...string) {
	w.t.Helper()
	from := w.read.Len()
	if marks[0] != walkPrompt {
		from = 0
	}
	part := make([]byte, 4096)
	for {
		rest, found := w.read.String()[from:], true
		for _, mark := range marks {
			var here bool
			_, rest, here = strings.Cut(rest, mark)
			found = found && here
		}
		if found {
			return
		}
		if marks[0] != walkPrompt {
			require.NotContains(w.t, w.read.String(), "  try: ", "it did not stay")
		}
		n, err := w.terminal.Read(part)
		w.read.Write(part[:n])
		require.NoError(w.t, err, "the shell was never ready again after: %s", w.read.String())
	}
}
