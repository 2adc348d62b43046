package main

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
)

// process starts the bed's station as a program of its own, and gives a way to
// send it signals. It is dead at the end of the test in any case.
func (b *bed) process() *exec.Cmd {
	b.Helper()
	args := []string{"station", "--product", b.file, "--store", b.store.Path(), "--listen", b.options.Listen}
	for _, jig := range b.jigs {
		args = append(args, "--jig", jig.port)
	}
	cmd := exec.CommandContext(b.Context(), "padjig", args...)
	cmd.Stderr, cmd.Env = os.Stderr, append(os.Environ(), "PADJIG_PORTS="+b.portPattern())
	output, err := cmd.StdoutPipe()
	require.NoError(b, err)
	require.NoError(b, cmd.Start())
	line, err := bufio.NewReader(output).ReadString('\n')
	require.NoError(b, err)
	require.Contains(b, line, "station at")
	return cmd
}

// noVerdict expects that the page says that the station is gone, and nothing of
// what it said before.
func (t *tab) noVerdict(word string) {
	t.Helper()
	t.await(fmt.Sprintf("!document.querySelector('main').textContent.includes(%q)", word))
	assert.Equal(t, "NO STATION", t.text("#gone .word"))
}

// A station that hangs or dies takes its verdicts off every screen; nothing that
// is scanned meanwhile is taken, then or later; and when it is back the page
// shows what is so then.
func TestPagesProgramGone(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{jigs: 2})
	b.stop()
	station := b.process()
	serial, other := b.product.Serial.Complete(1), b.product.Serial.Complete(2)
	page := b.as(account.Operator, "station", "/lane/1")
	page.await("!document.getElementById('jig').classList.contains('gone')")
	page.scan(serial)
	page.shows("pass", serial)
	all := b.as(account.Quality, "station", "/")
	all.await("document.querySelector('#card-1 .card-word')?.innerText === 'PASS'")

	require.NoError(t, station.Process.Signal(syscall.SIGSTOP)) // it hangs; its connections stand
	early := b.product.Serial.Complete(3)
	page.scan(early) // before anybody can know, and the one behind it
	page.scan(b.product.Serial.Complete(5))
	page.noVerdict("PASS")
	page.state("lane-gone")
	all.noVerdict("PASS")
	all.state("lanes-gone")
	assert.Contains(t, page.text("#entry"), "Nothing is taken")
	assert.Equal(t, "true", page.eval("document.getElementById('typed').disabled"))
	page.scan(other)
	page.await(fmt.Sprintf("document.getElementById('said').innerText.includes('Not taken') && document.getElementById('said').innerText.includes(%q)", other))
	page.scan(b.badges[account.Quality])
	assert.NotContains(t, page.text("#said"), b.badges[account.Quality], "nobody reads a badge off the screen")
	require.NoError(t, station.Process.Signal(syscall.SIGCONT))
	page.shows("pass", serial)
	page.await("document.getElementById('gone').hidden && !document.getElementById('typed').disabled")
	page.await(fmt.Sprintf("document.getElementById('said').innerText.includes('not taken. Scan again: ' + %q)", other))
	all.await("document.querySelector('#card-1 .card-word')?.innerText === 'PASS' && document.querySelector('#card-2 .card-word')")
	page.shows("pass", serial)
	page.await("!document.getElementById('jig').classList.contains('gone')")
	next := b.product.Serial.Complete(4)
	b.jigs[0].jig.Reseat() // its pad is in the jig now
	page.scan(next)
	page.shows("pass", next)
	for _, n := range []string{early, other, b.product.Serial.Complete(5)} {
		runs, err := b.store.Runs.Unit(t.Context(), n)
		require.NoError(t, err)
		assert.Empty(t, runs, "what was scanned meanwhile is not tested later: %s", n)
	}

	require.NoError(t, station.Process.Kill())
	page.noVerdict("PASS")
	all.noVerdict("PASS")
	assert.Contains(t, page.text("#entry"), "Nothing is taken")
	page.resize("phone")
	page.check("lane-gone, phone")
	page.resize("big")
	page.check("lane-gone, big")
	_ = station.Wait() // killed

	again := b.process()
	page.shows("idle", "")
	page.await("document.getElementById('gone').hidden && document.getElementById('word').innerText === 'SCAN'")
	assert.False(t, strings.Contains(page.text("main"), "PASS"))
	require.NoError(t, again.Process.Signal(os.Interrupt))
	assert.NoError(t, again.Wait())
}
