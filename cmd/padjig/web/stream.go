package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"time"
)

// stream is a row of events that a live page holds open (server-sent events,
// HTML standard section 9.2).
type stream struct {
	path string
	who  may
	run  func(*visit, *events) error // until the visit's context ends
}

// events writes the events of one browser.
type events struct {
	w       http.ResponseWriter
	control *http.ResponseController
}

// A browser that takes nothing for this long is gone.
const streamPatience = 20 * time.Second

// stillThere is how often a beat goes out on a stream that has nothing to say, so
// that a browser that is gone is noticed, and that a browser notices a station
// that is gone without a word: a cable pulled, a process that hangs. After a
// silence of three of them a page takes off what it shows (live.js).
const (
	stillThere = 3 * time.Second
	silence    = 3 * stillThere
)

func (s *Site) stream(t stream) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := s.visit(w, r)
		if !v.admit(t.who, false) {
			return
		}
		h := w.Header()
		h.Set("Content-Type", "text/event-stream")
		h.Set("X-Accel-Buffering", "no")
		// The browser comes back on its own, soon: a station that restarts is
		// there again within a second or two.
		e := &events{w, http.NewResponseController(w)}
		if _, err := fmt.Fprint(w, "retry: 500\n\n"); err != nil {
			return
		}
		_ = t.run(v, e) // it ends when the browser has gone
	}
}

// send writes one event; data becomes JSON.
func (e *events) send(name string, data any) error {
	raw, err := json.Marshal(data)
	if err != nil {
		return err
	}
	if err := e.control.SetWriteDeadline(time.Now().Add(streamPatience)); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(e.w, "event: %s\ndata: %s\n\n", name, raw); err != nil {
		return err
	}
	return e.control.Flush()
}

// beat tells a browser that the station is there. The browser says with each scan
// when it was last told so, see late.
func (e *events) beat() error { return e.send("still", time.Now().UnixMilli()) }

// late reports whether a form lay somewhere until its page had to take the station
// for gone: in the queue of a process that hung, say. What is in it is expected
// by nobody any more. The times are all of the station's clock.
func (v *visit) late() bool {
	heard, err := strconv.ParseInt(v.r.FormValue("heard"), 10, 64)
	return err == nil && time.Since(time.UnixMilli(heard)) > silence
}

// follow calls tell at once and after every ring of either bell, until the
// browser or the station has gone.
func (v *visit) follow(e *events, a, b <-chan struct{}, tell func() error) error {
	beat := time.NewTicker(stillThere)
	defer beat.Stop()
	if err := e.beat(); err != nil {
		return err
	}
	for {
		if err := tell(); err != nil {
			return err
		}
	wait:
		for {
			select {
			case <-v.r.Context().Done():
				return nil
			case <-v.site.over:
				return nil
			case <-a:
				break wait
			case <-b:
				break wait
			case <-beat.C:
				if err := e.beat(); err != nil {
					return err
				}
			}
		}
	}
}
