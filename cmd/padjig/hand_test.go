package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPressedByHand has somebody press the keys of a pad on a jig without actuators, one of
// them twice, and do what the program asks for when it asks for it. Nothing here depends on
// how long anything takes; where the machine stood still the run ends, and the person begins
// again, as people do.
func TestPressedByHand(t *testing.T) {
	dir := t.TempDir()
	hand := finger{jig: jigByHand(t, dir)}
	shown, verdict, err := "", "", error(nil)
	for range 5 {
		shown, verdict, err = hand.test(filepath.Join(dir, "records.sqlite"),
			"STOP", "STOP", "RIDGE+", "SIDE+", "ALL", "SIDE-", "RIDGE-")
		if !stalled.MatchString(verdict) {
			break
		}
		t.Log("begun again, the machine stood still:", stalled.FindString(verdict))
	}
	require.NoError(t, err, shown+verdict)
	assert.Contains(t, shown, "keys pressed by hand")
	assert.Contains(t, shown, "STOP was pressed already")
	for done := range 6 {
		assert.Contains(t, shown, fmt.Sprintf("ohm, %d of 6", done+1))
	}
	assert.Contains(t, shown, "keys by hand  done, 6 of 6 keys")
	assert.Contains(t, shown, "rest again    done")
	assert.Contains(t, verdict, "PASS")
}

// stalled is what a run ends with on a machine that stood still for a second or more: the
// program was, or the jig was. Whatever else ends a run is a fault.
var stalled = regexp.MustCompile(`jig refused: silence|jig does not answer to 3 keep-alives`)

// finger is a person at the keys of a jig: holds a key until the program says let go, or that
// it was pressed already, and presses it again when that did not count.
type finger struct {
	jig  *simulatedJig
	left []string // what is pressed yet, in this order
	on   string
	down bool
}

// test has the unit tested, and presses the keys.
func (f *finger) test(store string, keys ...string) (shown, verdict string, err error) {
	if f.left = keys; f.down {
		err = f.move("let go", false)
	}
	cmd := exec.Command("padjig", "test", "--product", "../../testdata/products/vent-6.yaml", "--jig", f.jig.Port,
		"--serial", "V6-00001-C", "--store", store)
	var stdout bytes.Buffer
	cmd.Stdout = &stdout
	stderr, wrong := cmd.StderrPipe()
	if err = errors.Join(err, wrong); err == nil {
		err = cmd.Start()
	}
	if err != nil {
		return "", "", err
	}
	for screen := bufio.NewScanner(stderr); screen.Scan(); {
		shown += screen.Text() + "\n"
		err = errors.Join(err, f.obey(screen.Text()))
	}
	err = errors.Join(err, cmd.Wait()) // only then is all of stdout there
	return shown, stdout.String(), err
}

// obey does what a line on the screen asks for, if it asks for anything.
func (f *finger) obey(line string) error {
	switch {
	case strings.HasSuffix(line, ": let go"), strings.HasSuffix(line, "was pressed already"):
		return f.move("let go", false)
	case strings.HasSuffix(line, "press it again"):
		return f.move("hold", true)
	case len(f.left) > 0 && (strings.Contains(line, "press each key once") || strings.Contains(line, "next: ")):
		f.on, f.left = f.left[0], f.left[1:]
		return f.move("hold", true)
	}
	return nil
}

func (f *finger) move(how string, down bool) error {
	f.down = down
	return f.jig.Order(how + " " + f.on)
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
