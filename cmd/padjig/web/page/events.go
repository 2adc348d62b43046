package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"time"
)

// Events writes the events of one browser.
type Events struct {
	// Over is closed when the station ends.
	Over <-chan struct{}

	w       http.ResponseWriter
	control *http.ResponseController
	part    func(name, part string, view any) (string, error)
}

// A browser that takes nothing for this long is gone.
const streamPatience = 20 * time.Second

// stillThere is how often a beat goes out on a stream that has nothing to say, so
// that a browser that is gone is noticed, and that a browser notices a station
// that is gone without a word: a cable pulled, a process that hangs. After a
// Silence of three of them a page takes off what it shows (live.js).
const (
	stillThere = 3 * time.Second
	Silence    = 3 * stillThere
)

// NewEvents begins a stream until the browser has gone, or the station is over. Part
// renders one named part of a page's template.
func NewEvents(w http.ResponseWriter, over <-chan struct{}, part func(name, part string, view any) (string, error)) (*Events, error) {
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("X-Accel-Buffering", "no")
	// The browser comes back on its own, soon: a station that restarts is
	// there again within a second or two.
	_, err := fmt.Fprint(w, "retry: 500\n\n")
	return &Events{over, w, http.NewResponseController(w), part}, err
}

// Part renders one named part of a page's template.
func (e *Events) Part(name, part string, view any) (string, error) { return e.part(name, part, view) }

// Send writes one event; data becomes JSON.
func (e *Events) Send(name string, data any) error {
	var raw bytes.Buffer
	code := json.NewEncoder(&raw)
	code.SetEscapeHTML(false) // parts of pages are markup: escaped they are half as long again, and nobody reads them as a page
	if err := code.Encode(data); err != nil {
		return err
	}
	if err := e.control.SetWriteDeadline(time.Now().Add(streamPatience)); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(e.w, "event: %s\ndata: %s\n", name, raw.Bytes()); err != nil {
		return err
	}
	return e.control.Flush()
}

// beat tells a browser that the station is there. The browser says with each scan
// when it was last told so, see Visit.Late.
func (e *Events) beat() error { return e.Send("still", time.Now().UnixMilli()) }

// Follow calls tell at once and after every change that either channel tells of, until the
// browser or the station has gone.
func (e *Events) Follow(v *Visit, a, b <-chan struct{}, tell func() error) error {
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
			case <-v.Ctx().Done():
				return nil
			case <-e.Over:
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
