package results

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
)

// A test that needs another process starts this very binary again with the
// name of a part to play in the environment.
const partVariable = "PADJIG_RESULTS_PART"

func TestMain(m *testing.M) {
	if os.Getenv(partVariable) == "saver" {
		if err := saver(os.Args[1], os.Args[2], os.Args[3]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if os.Getenv(partVariable) == "tester" {
		if err := tester(os.Args[1]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if part, known := cutShort[os.Getenv(partVariable)]; known {
		fmt.Fprintln(os.Stderr, part(os.Args[1], os.Args[2], os.Args[3]))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// tester begins and saves runs of one unit, each when it is told to by a line.
func tester(path string) error {
	ctx := context.Background()
	s, err := OpenWith(ctx, path, testSeams())
	if err != nil {
		return err
	}
	fmt.Println("ready")
	var begun *runs.Begun
	orders := bufio.NewScanner(os.Stdin)
	for orders.Scan() {
		switch orders.Text() {
		case "begin":
			begun, err = s.Runs.Begin(ctx, runstest.Climate(), startOf(runstest.Passed("24-000001")), agreed)
			if inHand, typed := errors.AsType[*runs.InHandError](err); typed {
				fmt.Println("in hand", inHand.ID)
				continue
			}
			if err != nil {
				return err
			}
			fmt.Println("began", begun.ID, begun.Attempt)
		case "save":
			run := runstest.Passed("24-000001")
			run.Attempt = begun.Attempt
			id, err := begun.Save(ctx, run)
			if err != nil {
				return err
			}
			fmt.Println("saved", id, begun.Attempt)
		}
	}
	return s.Close()
}

// saver saves runs, telling each when it is stored.
func saver(path, prefix, runs string) error {
	count, err := strconv.Atoi(runs)
	if err != nil {
		return err
	}
	ctx := context.Background()
	fmt.Println("start")
	s, err := OpenWith(ctx, path, testSeams())
	if err != nil {
		return err
	}
	for i := range count {
		run := runstest.Failed(fmt.Sprintf("%s-%d", prefix, i))
		id, err := s.Runs.Save(ctx, runstest.Climate(), run)
		if err != nil {
			return err
		}
		fmt.Println(id, run.Serial)
	}
	return s.Close()
}

// child is a saver or a tester in a process of its own.
type child struct {
	*exec.Cmd
	orders io.WriteCloser // of a tester
	lines  *bufio.Scanner
	stderr strings.Builder
}

func startSaver(t *testing.T, path, prefix string) *child {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	c := &child{Cmd: exec.Command(self, path, prefix, "30")}
	return c.start(t, "saver")
}

func startTester(t *testing.T, path string) *child {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	c := &child{Cmd: exec.Command(self, path)}
	c.orders, err = c.StdinPipe()
	require.NoError(t, err)
	c.start(t, "tester")
	require.Equal(t, []string{"ready"}, c.said(t))
	return c
}

func (c *child) order(t *testing.T, what string) {
	t.Helper()
	_, err := fmt.Fprintln(c.orders, what)
	require.NoError(t, err)
}

// said is the next line of a tester, in words.
func (c *child) said(t *testing.T) []string {
	t.Helper()
	require.True(t, c.lines.Scan(), c.stderr.String())
	return strings.Fields(c.lines.Text())
}

func (c *child) start(t *testing.T, part string) *child {
	t.Helper()
	c.Env = append(os.Environ(), partVariable+"="+part)
	c.Stderr = &c.stderr
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	c.lines = bufio.NewScanner(out)
	require.NoError(t, c.Start())
	return c
}

// acknowledged reads on to the end of the output and gives the lines after "start".
func (c *child) acknowledged() []string {
	var lines []string
	for c.lines.Scan() {
		if line := c.lines.Text(); line != "start" {
			lines = append(lines, line)
		}
	}
	return lines
}

func serialsOf(t *testing.T, s *Store) []string {
	t.Helper()
	var serials []string
	err := s.db.View(t.Context(), func(tx *sql.Tx) (err error) {
		serials, err = store.Collect(t.Context(), tx, store.ScanText, `SELECT serial FROM run ORDER BY seq`)
		return err
	})
	require.NoError(t, err)
	return serials
}

func TestSeveralProcessesShareTheStore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	var children []*child
	for _, name := range []string{"a", "b", "c"} {
		children = append(children, startSaver(t, path, name)) // all of them create it
	}
	total := 0
	for _, c := range children {
		total += len(c.acknowledged())
		assert.NoError(t, c.Wait(), c.stderr.String())
	}
	assert.Equal(t, 90, total)
	s := openChecked(t, path, testSeams()) // whose check looks at the order and the hashes
	assert.Len(t, serialsOf(t, s), 90)
}

// The other process is killed while it opens or saves, at no chosen moment.
// This shows that a crash of the program loses nothing; it shows nothing about
// power cuts, which only synchronous=FULL guards against.
func TestKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	acknowledged, extra := map[string]bool{}, 0
	const rounds = 50
	for round := range rounds {
		c := startSaver(t, path, fmt.Sprint(round))
		lines := killSomewhere(t, c)
		for _, line := range lines {
			acknowledged[line] = true
		}
		extra = afterKill(t, path, acknowledged, round+1)
	}
	t.Logf("%d rounds: %d runs acknowledged, all found; %d stored and not yet acknowledged",
		rounds, len(acknowledged), extra)
}

func killSomewhere(t *testing.T, c *child) []string {
	t.Helper()
	var lines []string
	for range rand.IntN(12) {
		if !c.lines.Scan() {
			break
		}
		if line := c.lines.Text(); line != "start" {
			lines = append(lines, line)
		}
	}
	for range rand.IntN(1_000_000) { // somewhere inside the next Save
		_ = c
	}
	require.NoError(t, c.Process.Kill())
	lines = append(lines, c.acknowledged()...)
	_ = c.Wait() // killed
	return lines
}

// afterKill opens the store, first as somebody would who only looks, and
// compares; it gives the number of runs that nobody was told of.
func afterKill(t *testing.T, path string, acknowledged map[string]bool, rounds int) int {
	t.Helper()
	if len(acknowledged) > 0 {
		reader, err := OpenReadOnly(t.Context(), path)
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(serialsOf(t, reader)), len(acknowledged))
		require.NoError(t, reader.Close())
	}
	s, err := OpenWith(t.Context(), path, testSeams()) // with its integrity check
	require.NoError(t, err)
	if rounds%10 == 0 {
		defer checkAndClose(t, s)
	} else {
		defer s.Close()
	}
	found, err := s.Runs.Recent(t.Context(), 10_000)
	require.NoError(t, err)
	missing := len(acknowledged)
	for _, run := range found {
		if acknowledged[run.ID.String()+" "+run.Serial] {
			missing--
		}
	}
	require.Zero(t, missing, "acknowledged runs are gone")
	extra := len(found) - len(acknowledged)
	require.LessOrEqual(t, extra, rounds, "at most one a round")
	return extra
}
