package main

import (
	"bufio"
	"bytes"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPressedByHand has somebody press the keys of a pad on a jig without actuators, one of
// them twice, and do what the program asks for when it asks for it: nothing here depends on
// how long anything takes.
func TestPressedByHand(t *testing.T) {
	dir := t.TempDir()
	jig := jigByHand(t, dir)
	cmd := exec.Command("padjig", "test", "--product", "../../testdata/products/vent-6.yaml", "--jig", jig.Port,
		"--serial", "V6-00001-C", "--store", filepath.Join(dir, "records.sqlite"))
	var stdout bytes.Buffer
	cmd.Stdout = &stdout
	stderr, err := cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())

	shown := ""
	hand := finger{jig: jig, left: []string{"STOP", "STOP", "RIDGE+", "SIDE+", "ALL", "SIDE-", "RIDGE-"}}
	for screen := bufio.NewScanner(stderr); screen.Scan(); {
		shown += screen.Text() + "\n"
		require.NoError(t, hand.obey(screen.Text()), shown)
	}
	require.NoError(t, cmd.Wait(), shown)
	assert.Contains(t, shown, "keys pressed by hand")
	assert.Contains(t, shown, "STOP was pressed already")
	for done := range 6 {
		assert.Contains(t, shown, fmt.Sprintf("ohm, %d of 6", done+1))
	}
	assert.Contains(t, shown, "keys by hand  done, 6 of 6 keys")
	assert.Contains(t, shown, "rest again    done")
	assert.Contains(t, stdout.String(), "PASS")
}

// finger is a person at the keys of a jig: holds a key until the program says let go, or that
// it was pressed already, and presses it again when that did not count.
type finger struct {
	jig  *simulatedJig
	left []string // what is pressed yet, in this order
	on   string
}

// obey does what a line on the screen asks for, if it asks for anything.
func (f *finger) obey(line string) error {
	switch {
	case strings.HasSuffix(line, ": let go"), strings.HasSuffix(line, "was pressed already"):
		return f.jig.Order("let go " + f.on)
	case strings.HasSuffix(line, "press it again"):
		return f.jig.Order("hold " + f.on)
	case len(f.left) > 0 && (strings.Contains(line, "press each key once") || strings.Contains(line, "next: ")):
		f.on, f.left = f.left[0], f.left[1:]
		return f.jig.Order("hold " + f.on)
	}
	return nil
}

// jigByHand takes no time for what it does, so that no press falls between two looks.
func jigByHand(t *testing.T, dir string) *simulatedJig {
	t.Helper()
	port := filepath.Join(dir, "jig0")
	cmd := exec.Command("padjig", "jig", "simulate", "--control", "--no-actuators", "--pace=false",
		"--product", "../../testdata/products/vent-6.yaml", "--link", port)
	input, err := cmd.StdinPipe()
	require.NoError(t, err)
	output, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	jig := &simulatedJig{Name: "the jig", Port: port, Process: cmd, Input: input, Output: bufio.NewScanner(output)}
	t.Cleanup(func() { assert.NoError(t, jig.Stop()) })
	ready, err := jig.Hear()
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(ready, port+": "), ready)
	return jig
}
