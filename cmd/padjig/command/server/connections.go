package server

import (
	"crypto/tls"
	"net"
	"net/http"
	"net/netip"
	"sync"

	"padjig/cmd/padjig/account/signin"
)

// mostConnections leaves a reserve of descriptors for jigs and records: the serial
// library waits with select, which knows descriptors below 1024 only (FD_SETSIZE
// in POSIX systems of today), and the lowest free number is taken each time.
const mostConnections = 512

// connectionRoom is how many connections there may be, at most half of what the
// system lets this process open.
func connectionRoom() int { return min(mostConnections, descriptorLimit()/2) }

// connections is a listener that bounds how many connections are open, in all
// and from one address. When there are too many, the one that has had nothing to
// do for longest goes: browsers open a new one when they need it. One with a
// request in hand, and so every live page, is never taken away for another.
type connections struct {
	net.Listener
	most, fromOne int

	mu    sync.Mutex
	open  map[net.Conn]*connection
	clock uint64 // counts what happens
}

// connection is one that is open.
type connection struct {
	net.Conn
	of    *connections
	from  netip.Prefix
	busy  bool
	since uint64 // it has been busy or not
}

func bounded(l net.Listener, most int) *connections {
	return &connections{Listener: l, most: most, fromOne: max(1, most/4), open: map[net.Conn]*connection{}}
}

// Accept gives the next connection that there is room for.
func (l *connections) Accept() (net.Conn, error) {
	for {
		raw, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		c := &connection{Conn: raw, of: l, from: signin.AddressOf(raw.RemoteAddr().String())}
		if l.makeRoom(c) {
			return c, nil
		}
		_ = raw.Close()
	}
}

// makeRoom makes room, if it can. This computer's own connections are bounded with
// all others only: a proxy on it brings everybody's.
func (l *connections) makeRoom(c *connection) bool {
	l.mu.Lock()
	var idle, idleOfThis *connection
	ofThis := 0
	for _, o := range l.open {
		same := o.from == c.from
		if same {
			ofThis++
		}
		if o.busy {
			continue
		}
		if idle == nil || o.since < idle.since {
			idle = o
		}
		if same && (idleOfThis == nil || o.since < idleOfThis.since) {
			idleOfThis = o
		}
	}
	var goes *connection
	full := false
	switch {
	case ofThis >= l.fromOne && !(c.from.IsValid() && c.from.Addr().IsLoopback()):
		full, goes = true, idleOfThis
	case len(l.open) >= l.most:
		full, goes = true, idle
	}
	if full && goes == nil {
		l.mu.Unlock()
		return false
	}
	if goes != nil {
		delete(l.open, goes)
	}
	l.clock++
	c.since = l.clock
	l.open[c] = c
	l.mu.Unlock()
	if goes != nil {
		_ = goes.Conn.Close() // the server notices
	}
	return true
}

// track is the server's http.Server.ConnState.
func (l *connections) track(c net.Conn, state http.ConnState) {
	if secure, ok := c.(*tls.Conn); ok {
		c = secure.NetConn()
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if is := l.open[c]; is != nil {
		l.clock++
		is.busy, is.since = state == http.StateActive, l.clock
	}
}

// Close frees the connection's place.
func (c *connection) Close() error {
	c.of.mu.Lock()
	delete(c.of.open, c)
	c.of.mu.Unlock()
	return c.Conn.Close()
}
