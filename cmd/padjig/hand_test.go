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

// TestPressedByHand has somebody press the keys of a pad on a jig without
// actuators, one of them twice, as soon as the program asks for it.
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

	screen := bufio.NewScanner(stderr)
	shows := func(text string) {
		t.Helper()
		for screen.Scan() {
			if strings.Contains(screen.Text(), text) {
				return
			}
		}
		require.Fail(t, "never shown: "+text)
	}
	shows("keys pressed by hand")
	shows("press each key once, in any order")
	for i, key := range []string{"STOP", "RIDGE+", "SIDE+", "ALL", "SIDE-", "RIDGE-"} {
		require.NoError(t, jig.Order("tap "+key))
		shows(fmt.Sprintf("ohm, %d of 6", i+1))
		if i == 0 {
			require.NoError(t, jig.Order("tap STOP"))
			shows("STOP was pressed already")
		}
	}
	shows("keys by hand  done, 6 of 6 keys")
	shows("rest again    done")
	require.NoError(t, cmd.Wait(), stdout.String())
	assert.Contains(t, stdout.String(), "PASS")
}

func jigByHand(t *testing.T, dir string) *simulatedJig {
	t.Helper()
	port := filepath.Join(dir, "jig0")
	cmd := exec.Command("padjig", "jig", "simulate", "--control", "--no-actuators",
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
