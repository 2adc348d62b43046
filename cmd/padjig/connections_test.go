package main

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/sequence/product"
)

// stationProcess starts padjig station as a process of its own, which looks for jigs at these ports.
func stationProcess(t *testing.T, ports string, flags ...string) *os.Process {
	t.Helper()
	cmd := exec.Command("padjig", append([]string{"station"}, flags...)...)
	output, err := cmd.StdoutPipe()
	require.NoError(t, err)
	cmd.Env = append(os.Environ(), "PADJIG_PORTS="+ports)
	cmd.Stderr = os.Stderr // beside the test's own output, should the station not start
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		assert.NoError(t, cmd.Process.Signal(os.Interrupt))
		_ = cmd.Wait()
	})
	require.True(t, bufio.NewScanner(output).Scan(), "the station says where it is")
	return cmd.Process
}

// However many connections have nothing to do, a jig that is lost is opened
// again, and people are served.
func TestIdleConnectionsKeepNoJigAway(t *testing.T) {
	dir := t.TempDir()
	p, err := product.Load(crashProduct)
	require.NoError(t, err)
	b := &bed{TB: t, dir: dir, product: p}
	store, err := results.Open(t.Context(), filepath.Join(dir, "records.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, store.Close()) })
	require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{
		Name: "Abel", Kind: accounts.AccountRole, Role: string(account.Operator), By: "test"}))
	require.NoError(t, store.Accounts.StartSession(t.Context(), sha256.Sum256([]byte("token")), "Abel", "badge"))
	jig := b.newJig("SIM-0001", filepath.Join(dir, "jig0"), bedding{})
	address := b.freeAddress()
	process := stationProcess(t, b.portPattern(), "--product", crashProduct, "--jig", jig.port, "--listen", address, "--store", filepath.Join(dir, "records.sqlite"))

	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second) // ends a test that has gone wrong
	defer cancel()
	ask := func(path, accept string) *http.Response {
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+address+path, nil)
		require.NoError(t, err)
		r.AddCookie(&http.Cookie{Name: "padjig", Value: "token"})
		r.Header.Set("Accept", accept)
		w, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, w.StatusCode)
		return w
	}
	live := ask("/lane/1/live?screen=test", "text/event-stream")
	defer live.Body.Close()
	changes := bufio.NewScanner(live.Body)
	changes.Buffer(nil, 16<<20)
	present := func(want bool) {
		t.Helper()
		for {
			w := ask("/lane/1", "application/json")
			var lane struct {
				Jig struct{ Present bool }
			}
			err := json.NewDecoder(w.Body).Decode(&lane)
			w.Body.Close()
			require.NoError(t, err)
			if lane.Jig.Present == want {
				return
			}
			require.True(t, changes.Scan(), "the jig is present: %v, wanted %v: %v", lane.Jig.Present, want, changes.Err())
		}
	}
	present(true)
	for range 1100 {
		c, err := net.Dial("tcp", address)
		require.NoError(t, err)
		defer c.Close()
		// One that never asks is dropped after headerPatience; one that did may stay.
		_, err = fmt.Fprintf(c, "GET /static/none HTTP/1.1\r\nHost: %s\r\n\r\n", address)
		require.NoError(t, err)
		answer, err := http.ReadResponse(bufio.NewReader(c), nil)
		require.NoError(t, err)
		require.Equal(t, http.StatusNotFound, answer.StatusCode)
	}
	present(true)
	if runtime.GOOS == "linux" {
		open, err := os.ReadDir(fmt.Sprintf("/proc/%d/fd", process.Pid))
		require.NoError(t, err)
		assert.Less(t, len(open), 1024)
	}
	jig.unplug()
	present(false)
	jig.plug()
	present(true)
}
