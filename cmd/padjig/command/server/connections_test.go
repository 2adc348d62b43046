package server

import (
	"fmt"
	"net"
	"net/http"
	"testing"

	"padjig/cmd/padjig/account/signin"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
		c := &connection{Conn: raw, of: l, from: signin.AddressOf(from)}
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
