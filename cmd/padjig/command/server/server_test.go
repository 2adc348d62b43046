package server

import (
	"bufio"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// calls is a listener without a network, for fake time.
type calls chan net.Conn

func (c calls) Accept() (net.Conn, error) {
	if conn, open := <-c; open {
		return conn, nil
	}
	return nil, net.ErrClosed
}
func (c calls) Close() error   { close(c); return nil }
func (c calls) Addr() net.Addr { return remote("pipe") }

// serving does something with one connection to the station's server, in fake time.
func serving(t *testing.T, do func(t *testing.T, c net.Conn)) {
	synctest.Test(t, func(t *testing.T) {
		bound := bounded(make(calls), 8)
		server := newServer(http.NotFoundHandler(), bound, slog.New(slog.DiscardHandler))
		over := make(chan struct{})
		go func() { defer close(over); _ = server.Serve(bound) }()
		mine, theirs := net.Pipe()
		bound.Listener.(calls) <- theirs
		do(t, mine)
		assert.NoError(t, mine.Close())
		time.Sleep(time.Second) // the server lingers after an error, so that it is read
		bound.mu.Lock()
		assert.Empty(t, bound.open, "its place is free again")
		bound.mu.Unlock()
		assert.NoError(t, server.Close())
		<-over
	})
}

func TestIdleConnectionsEnd(t *testing.T) {
	serving(t, func(t *testing.T, c net.Conn) {
		in := bufio.NewReader(c)
		for range 3 { // kept as long as it is used
			_, err := io.WriteString(c, "GET / HTTP/1.1\r\nHost: x\r\n\r\n")
			require.NoError(t, err)
			answer, err := http.ReadResponse(in, nil)
			require.NoError(t, err)
			_, err = io.Copy(io.Discard, answer.Body)
			require.NoError(t, err)
			time.Sleep(idlePatience - time.Second)
		}
		began := time.Now()
		_, err := in.ReadByte()
		assert.ErrorIs(t, err, io.EOF)
		assert.LessOrEqual(t, time.Since(began), 2*time.Second)
	})
}

func TestSlowAndLargeHeaders(t *testing.T) {
	serving(t, func(t *testing.T, c net.Conn) {
		began := time.Now()
		go io.Copy(io.Discard, c)
		_, err := io.WriteString(c, "GET / HTTP/1.1\r\nHost: x\r\nX: ")
		for err == nil {
			time.Sleep(time.Second)
			_, err = io.WriteString(c, "a")
		}
		assert.LessOrEqual(t, time.Since(began), headerPatience+2*time.Second)
	})
	serving(t, func(t *testing.T, c net.Conn) {
		go func() {
			_, _ = fmt.Fprintf(c, "GET / HTTP/1.1\r\nHost: x\r\nX: %s\r\n\r\n", strings.Repeat("a", 1<<20))
		}()
		answer, err := http.ReadResponse(bufio.NewReader(c), nil)
		require.NoError(t, err)
		assert.Equal(t, http.StatusRequestHeaderFieldsTooLarge, answer.StatusCode)
	})
}

// A screen that is no length is refused with what to write; one that is too small for where
// it is read from is said, with the distance that it is good for, and serves all the same.
func TestTheScreenIsSaid(t *testing.T) {
	build := func(screen, distance string) (said string, err error) {
		var out strings.Builder
		cmd := &cobra.Command{}
		cmd.SetErr(&out)
		_, err = (&Options{Screen: screen, Distance: distance, Products: []string{"a", "b"}}).Build(cmd, nil)
		return out.String(), err
	}
	_, err := build("24", "")
	assert.ErrorContains(t, err, "--screen 24: write a number with its unit")
	_, err = build("", "3 miles")
	assert.ErrorContains(t, err, "--distance 3 miles: write a number with its unit")
	said, err := build("15.6in", "")
	assert.ErrorContains(t, err, "2 products", "it went on to the next thing")
	assert.Contains(t, said, "a screen of 15.6in is too small to be read from 3m, from 1.4 m it is")
	said, _ = build("24in", "3m")
	assert.Empty(t, said)
}
