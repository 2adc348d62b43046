package forward_test

import (
	"encoding/binary"
	"errors"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"
)

// line is the line between a station and a server, on which things go wrong. It reads messages of PostgreSQL's
// protocol (version 3.0, "Message Formats").
type line struct {
	testing.TB
	to    string // socket of the server
	dir   string
	piece int // how many bytes go at a time; 0: whole messages
	asked func(message) fate
	all   sync.WaitGroup
	open  sync.Map // connections
}

// message is one that a station sends.
type message struct {
	kind byte
	body []byte
}

// commits reports whether it is a commit.
func (m message) commits() bool { return m.kind == 'Q' && strings.HasPrefix(string(m.body), "commit") }

// copies reports whether it is data of a COPY.
func (m message) copies() bool { return m.kind == 'd' }

// fate is what becomes of a message.
type fate int

const (
	arrives  fate = iota
	cut           // the line breaks before it
	answered      // it arrives, and the line breaks before the answer
)

// broken gives the address of a database over a line; asked decides of each message, from any goroutine.
func broken(t testing.TB, address string, piece int, asked func(message) fate) string {
	host, rest, found := strings.Cut(strings.TrimPrefix(address, "host="), " ")
	require.True(t, found)
	dir, err := os.MkdirTemp("", "line") // the path of a socket has to be short, and a comma would part two hosts
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	l := &line{TB: t, to: filepath.Join(host, ".s.PGSQL.5432"), dir: dir, piece: piece, asked: asked}
	listener, err := net.Listen("unix", filepath.Join(l.dir, ".s.PGSQL.5432"))
	require.NoError(t, err)
	l.all.Go(func() {
		for {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			l.carry(c)
		}
	})
	t.Cleanup(func() {
		_ = listener.Close()
		l.open.Range(func(c, _ any) bool { _ = c.(net.Conn).Close(); return true })
		l.all.Wait()
	})
	return "host=" + l.dir + " " + rest
}

func (l *line) carry(station net.Conn) {
	server, err := net.Dial("unix", l.to)
	if err != nil {
		_ = station.Close() // the server is down
		return
	}
	l.open.Store(station, true)
	l.open.Store(server, true)
	var silent atomic.Bool
	end := func() { _ = station.Close(); _ = server.Close() }
	l.all.Go(func() { defer end(); l.there(station, server, &silent) })
	l.all.Go(func() { defer end(); l.back(server, station, &silent) })
}

// there carries what the station sends.
func (l *line) there(station, server net.Conn, silent *atomic.Bool) {
	for first := true; ; first = false {
		m, raw, err := next(station, first)
		if err != nil {
			return
		}
		switch l.asked(m) {
		case cut:
			return
		case answered:
			silent.Store(true)
		}
		if l.write(server, raw) != nil {
			return
		}
	}
}

// back carries what the server answers, until nothing arrives any more.
func (l *line) back(server, station net.Conn, silent *atomic.Bool) {
	for {
		m, raw, err := next(server, false)
		if err != nil || silent.Load() && m.kind == 'Z' { // the commit is done, as the server would say
			return
		}
		if !silent.Load() && l.write(station, raw) != nil {
			return
		}
	}
}

func (l *line) write(to io.Writer, raw []byte) error {
	for len(raw) > 0 {
		n := len(raw)
		if l.piece > 0 {
			n = min(n, l.piece)
		}
		if _, err := to.Write(raw[:n]); err != nil {
			return err
		}
		raw = raw[n:]
	}
	return nil
}

// next reads a message; the first of a connection has no kind.
func next(from io.Reader, first bool) (m message, raw []byte, err error) {
	head := make([]byte, 5)
	if first {
		head = head[:4]
	}
	if _, err := io.ReadFull(from, head); err != nil {
		return m, nil, err
	}
	long := int(binary.BigEndian.Uint32(head[len(head)-4:])) - 4
	if long < 0 || long > 1<<28 {
		return m, nil, errors.New("this is no message")
	}
	raw = append(head, make([]byte, long)...)
	_, err = io.ReadFull(from, raw[len(head):])
	if !first {
		m.kind = head[0]
	}
	m.body = raw[len(head):]
	return m, raw, err
}
