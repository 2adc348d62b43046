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
	"padjig/cmd/padjig/web/door"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/sequence/product"
)

// called is a connection from an address, without a network.
type called struct {
	net.Conn
	from   string
	closed bool
}

func (c *called) RemoteAddr() net.Addr { return remote(c.from) }
func (c *called) Close() error         { c.closed = true; return nil }

type remote string

func (n remote) Network() string { return "tcp" }
func (n remote) String() string  { return string(n) }

// Of too many connections the one idle for longest goes, never one with a
// request in hand; one address cannot take the room of all.
func TestConnectionsMakeRoom(t *testing.T) {
	l := bounded(nil, 8)
	call := func(from string) (*connection, *called) {
		raw := &called{from: from}
		c := &connection{Conn: raw, of: l, from: door.AddressOf(from)}
		if !l.makeRoom(c) {
			return nil, raw
		}
		return c, raw
	}
	live, liveRaw := call("192.0.2.7:1")
	l.track(live, http.StateActive)
	first, firstRaw := call("198.51.100.66:1")
	_, second := call("198.51.100.66:2")
	l.track(first, http.StateActive) // it asked for something, and was answered
	l.track(first, http.StateIdle)
	_, third := call("198.51.100.66:3")
	assert.True(t, second.closed, "two from one address are a quarter of eight")
	assert.False(t, firstRaw.closed || third.closed || liveRaw.closed)
	for i := range 100 {
		call(fmt.Sprintf("198.51.100.66:%d", 10+i))
	}
	assert.Len(t, l.open, 3)
	for i := range 100 {
		call(fmt.Sprintf("203.0.113.%d:1", i))
	}
	assert.Len(t, l.open, 8)
	assert.False(t, liveRaw.closed)
	for i := range 100 {
		c, _ := call(fmt.Sprintf("127.0.0.1:%d", i))
		require.NotNil(t, c, "this computer takes the room of idle ones")
		if i < 7 {
			l.track(c, http.StateActive)
		} else {
			break
		}
		require.NoError(t, c.Close())
	}
	for i := range 20 {
		if c, _ := call(fmt.Sprintf("203.0.113.%d:2", i)); c != nil {
			l.track(c, http.StateActive)
		}
	}
	refused, raw := call("203.0.113.200:3")
	assert.Nil(t, refused, "all are at work")
	assert.False(t, raw.closed, "whoever accepted it closes it")
	assert.LessOrEqual(t, len(l.open), 8)
	assert.False(t, liveRaw.closed)
	require.NoError(t, live.Close())
	assert.True(t, liveRaw.closed)
	again, _ := call("203.0.113.201:4")
	assert.NotNil(t, again, "a place that was left is free")
}

func TestConnectionRoom(t *testing.T) {
	room := connectionRoom()
	assert.LessOrEqual(t, room, 512, "the serial library needs descriptors below 1024")
	assert.LessOrEqual(t, room, descriptorLimit()/2)
}

// stationProcess starts padjig station as a process of its own.
func stationProcess(t *testing.T, flags ...string) *os.Process {
	t.Helper()
	cmd := exec.Command("padjig", append([]string{"station"}, flags...)...)
	output, err := cmd.StdoutPipe()
	require.NoError(t, err)
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
	t.Setenv("PADJIG_PORTS", filepath.Join(dir, "jig*"))
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
	process := stationProcess(t, "--product", crashProduct, "--jig", jig.port, "--listen", address, "--store", filepath.Join(dir, "records.sqlite"))

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
