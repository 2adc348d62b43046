package main

import (
	"bufio"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/wire"
)

// A simulated jig with a signal tower prints what it shows, and goes dark by itself when
// nobody speaks to it any more.
func TestASimulatedTower(t *testing.T) {
	port := filepath.Join(t.TempDir(), "jig0")
	cmd := exec.Command("padjig", "jig", "simulate", "--control", "--tower", "--pace=false",
		"--product", "../../testdata/products/vent-6.yaml", "--link", port)
	input, err := cmd.StdinPipe()
	require.NoError(t, err)
	output, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { assert.NoError(t, input.Close()); assert.NoError(t, cmd.Wait()) })
	lines := bufio.NewScanner(output)
	says := func() string { require.True(t, lines.Scan()); return lines.Text() }
	says() // it is ready

	jig, err := fixture.Open(t.Context(), port, link.Options{})
	require.NoError(t, err)
	require.True(t, jig.Capabilities().Tower)
	require.NoError(t, jig.Light(t.Context(), wire.Tower{Lit: wire.Red | wire.White, Blinking: wire.Red, Half: 50}))
	assert.Equal(t, "tower: red/500ms white", says())
	require.NoError(t, jig.Light(t.Context(), wire.Tower{Lit: wire.Green}))
	assert.Equal(t, "tower: green", says())
	require.NoError(t, jig.Close())
	assert.Equal(t, "tower: dark", says())
}
