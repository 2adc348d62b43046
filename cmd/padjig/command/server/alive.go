package server

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"sync"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/server/ready"
	"padjig/cmd/padjig/log"
)

// inside is a listener that only this process calls. Whether the pages answer is asked through it, so that neither a
// network nor the many who call over it have a part in the answer.
type inside struct {
	calls chan net.Conn
	over  chan struct{}
	once  sync.Once
}

func newInside() *inside { return &inside{calls: make(chan net.Conn), over: make(chan struct{})} }

// Accept gives the next call.
func (l *inside) Accept() (net.Conn, error) {
	select {
	case c := <-l.calls:
		return c, nil
	case <-l.over:
		return nil, net.ErrClosed
	}
}

// Close ends it.
func (l *inside) Close() error {
	l.once.Do(func() { close(l.over) })
	return nil
}

// Addr is none that anybody could call.
func (l *inside) Addr() net.Addr { return &net.UnixAddr{Name: "inside", Net: "unix"} }

// dial calls it, whatever address is asked for.
func (l *inside) dial(ctx context.Context, _, _ string) (net.Conn, error) {
	mine, theirs := net.Pipe()
	select {
	case l.calls <- theirs:
		return mine, nil
	case <-l.over:
		return nil, net.ErrClosed
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// askedFor is a file that every page has.
const askedFor = "/static/station.css"

// answers asks the pages for something, under a name they go by.
func (l *inside) answers(host string) ready.Part {
	client := &http.Client{Transport: &http.Transport{DialContext: l.dial, DisableKeepAlives: true}}
	return ready.Part{Name: "the server of the pages", Turns: func(ctx context.Context) error {
		ask, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+host+askedFor, nil)
		if err != nil {
			return err
		}
		answer, err := client.Do(ask)
		if err != nil {
			return fmt.Errorf("does not answer: %w", err)
		}
		_, err = io.Copy(io.Discard, answer.Body)
		_ = answer.Body.Close()
		if err == nil && answer.StatusCode != http.StatusOK {
			err = fmt.Errorf("answers %s", answer.Status)
		}
		return err
	}}
}

// parts are what has to turn: every lane's loop, and what serves the pages.
func (s *Station) parts(pages ready.Part) []ready.Part {
	all := []ready.Part{pages}
	for i, lane := range s.Lanes {
		all = append(all, ready.Part{
			Name: fmt.Sprintf("lane %d", i+1), Turns: func(context.Context) error { return lane.Turning() },
		})
	}
	return all
}

// keep tells who started the station that it is up, alive and ending, until ctx ends.
func (s *Station) keep(ctx context.Context, manager ready.Manager, calls *inside, address string) {
	of := command.Count(len(s.Lanes), "lane")
	if s.office {
		of = "office"
	}
	status := fmt.Sprintf("%s, pages at %s", of, address)
	manager.Keep(ctx, status, s.parts(calls.answers(s.host)), func(why string) {
		log.From(ctx).ErrorContext(ctx, log.StandsStill, "why", why)
	})
}
