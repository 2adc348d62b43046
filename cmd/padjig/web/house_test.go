package web

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/bench"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/results"
	"padjig/results/returns"
	"padjig/sequence/product"
)

// house is a station with lanes that work on simulated jigs, in fake time, and
// people of every role at its pages.
type house struct {
	*testing.T
	product *product.Product
	text    string // of its file
	site    *Site
	handler http.Handler
	ports   simport.Ports
	jigs    []*jigsim.Jig
	lang    string // of who asks
}

// at has somebody visit a station with so many lanes, whose product's file has
// more lines at its end.
func at(t *testing.T, lanes int, more string, visit func(*house)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		text, err := os.ReadFile("../../../testdata/products/gcc-20.yaml")
		require.NoError(t, err)
		h := &house{T: t, text: string(text) + more, lang: "en"}
		h.product, err = product.Parse("gcc-20.yaml", []byte(h.text))
		require.NoError(t, err)
		h.open()
		var ids []wire.Identity
		for n := range lanes {
			id := jigsim.Defaults()
			id.Serial = fmt.Sprintf("SIM-%04d", n+1)
			ids = append(ids, id)
		}
		h.lanes(ids...)
		visit(h)
	})
}

func (h *house) open() {
	h.Helper()
	path := filepath.Join(h.TempDir(), "r.sqlite")
	require.NoError(h, os.WriteFile(path+"-ballast", nil, 0o644)) // it takes a while to set aside
	store, err := results.Open(h.Context(), path)
	require.NoError(h, err)
	h.Cleanup(func() { assert.NoError(h, store.Close()) })
	for _, role := range account.Roles {
		signUp(h, store, role)
	}
	h.site = &Site{Config: Config{
		Store: store, Hosts: []string{ourHost}, LockAfter: time.Hour,
		Sources: map[string]Source{h.product.Code: {Path: "no/longer/there.yaml", Text: h.text}},
	}}
}

// lanes makes the site anew, with a lane for each jig.
func (h *house) lanes(ids ...wire.Identity) {
	h.Helper()
	c := h.site.Config
	for _, id := range ids {
		jig, err := jigsim.New(jigsim.Config{
			Identity: id, Keypad: h.product.Circuit(), Contact: h.product.Nominal.Contact, Wiring: h.product.Wiring(),
			Actuators: h.product.Pushes(), Seed: 7, Pace: true, Baud: link.DefaultBaud,
		})
		require.NoError(h, err)
		h.jigs = append(h.jigs, jig)
		h.ports.Plug("sim/"+id.Serial, jig)
		c.Lanes = append(c.Lanes, bench.NewLane(bench.Setup{
			Store: c.Store, Product: h.product, Jig: "sim/" + id.Serial, Twice: time.Nanosecond, Open: h.ports.Open, Find: h.ports.Find,
		}))
	}
	site, err := New(c)
	require.NoError(h, err)
	h.site, h.handler = site, site.Handler()
	h.Cleanup(h.ports.Close)
	h.work()
}

// work has the lanes work until the end of the test, and waits until each has its jig.
func (h *house) work() {
	h.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	var group sync.WaitGroup
	for _, lane := range h.site.Lanes {
		group.Go(func() { lane.Run(ctx) })
	}
	h.Cleanup(func() { cancel(); group.Wait() })
	for n := range h.site.Lanes {
		h.until(n+1, func(s bench.State) bool { return s.Jig.Present })
	}
	synctest.Wait()
}

// until waits until a lane, from 1, stands so.
func (h *house) until(n int, so func(bench.State) bool) bench.State {
	h.Helper()
	changes, stop := h.site.Lanes[n-1].Listen()
	defer stop()
	late := time.NewTimer(time.Hour)
	defer late.Stop()
	for {
		s := h.site.Lanes[n-1].State()
		if so(s) {
			return s
		}
		select {
		case <-changes:
		case <-late.C:
			h.Fatalf("lane %d never stood so: %s %v", n, s.Phase, s.Refusal)
		}
	}
}

// put puts another unit into the first jig, or takes its trouble away.
func (h *house) put(faults string) {
	h.Helper()
	keypad := h.product.Circuit()
	parsed, err := jigsim.ParseFaults(faults, keypad)
	require.NoError(h, err)
	require.NoError(h, h.jigs[0].Load(jigsim.Unit{Keypad: keypad, Contact: h.product.Nominal.Contact, Faults: parsed, Seed: 7}))
}

func (h *house) unit(n int) string { return h.product.Serial.Complete(n) }

// test scans a unit at the first lane and waits until it is out of hand.
func (h *house) test(serial string) bench.State {
	h.Helper()
	code, _ := h.post("operator", "/scan", "text", serial, "lane", "1")
	require.Equal(h, http.StatusOK, code)
	return h.settled(serial)
}

func (h *house) settled(serial string) bench.State {
	h.Helper()
	s := h.until(1, func(s bench.State) bool { return s.Unit.Serial == serial && !s.Phase.Busy() })
	time.Sleep(time.Millisecond) // nobody is quicker
	synctest.Wait()
	return s
}

// get asks for a page as JSON.
func (h *house) get(role, path string, into any) int {
	h.Helper()
	w := fetch(h.T, h.handler, asking{path: path, role: role, header: map[string]string{"Accept": "application/json", "Accept-Language": h.lang}})
	if into != nil && w.Code == http.StatusOK {
		require.NoError(h, json.Unmarshal(w.Body.Bytes(), into), w.Body.String())
	}
	return w.Code
}

// page asks for a page as HTML, which must be whole and say everything.
func (h *house) page(role, path string) string {
	h.Helper()
	w := fetch(h.T, h.handler, asking{path: path, role: role, header: map[string]string{"Accept-Language": h.lang}})
	require.Equal(h, http.StatusOK, w.Code, w.Body.String())
	assert.NotContains(h, w.Body.String(), "⟦", "%s: text that is not in the catalogue", path)
	return w.Body.String()
}

// post sends a form, pairs of names and values, as a script does.
func (h *house) post(role, path string, pairs ...string) (int, answer) {
	h.Helper()
	w := h.send(role, path, "application/json", pairs...)
	var a answer
	require.NoError(h, json.Unmarshal(w.Body.Bytes(), &a), "%d %s", w.Code, w.Body)
	assert.Equal(h, w.Code == http.StatusOK, a.Good, "%d %s", w.Code, w.Body)
	return w.Code, a
}

// send sends a form as a browser does, or a script.
func (h *house) send(role, path, accept string, pairs ...string) *httptest.ResponseRecorder {
	h.Helper()
	form := url.Values{"token": {formToken("token of " + role)}}
	for i := 0; i < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	return fetch(h.T, h.handler, asking{
		method: http.MethodPost, path: path, role: role, form: form, header: map[string]string{"Accept": accept, "Accept-Language": h.lang},
	})
}

// listener is a browser that holds a stream open.
type listener struct {
	*house
	lines chan string
	leave func()
}

// listen opens a stream.
func (h *house) listen(role, path string) *listener {
	h.Helper()
	ctx, cancel := context.WithCancel(h.Context())
	r := httptest.NewRequestWithContext(ctx, http.MethodGet, "http://"+ourHost+path, nil)
	r.Host = ourHost
	r.AddCookie(&http.Cookie{Name: "padjig", Value: "token of " + role})
	l, over := &listener{house: h, lines: make(chan string, 10_000)}, make(chan struct{})
	go func() {
		defer close(over)
		defer close(l.lines)
		h.handler.ServeHTTP(&wireless{header: http.Header{}, lines: l.lines}, r)
	}()
	l.leave = func() { cancel(); <-over }
	h.Cleanup(l.leave)
	return l
}

// event waits for the next event of a name, and gives its data.
func (l *listener) event(name string) (data string) {
	l.Helper()
	late := time.After(time.Hour)
	for seen := ""; ; {
		select {
		case line, open := <-l.lines:
			if !open {
				l.Fatalf("the stream ended before %q", name)
			}
			if event, is := strings.CutPrefix(line, "event: "); is {
				seen = event
			}
			if data, is := strings.CutPrefix(line, "data: "); is && seen == name {
				return data
			}
		case <-late:
			l.Fatalf("no event %q ever came", name)
		}
	}
}

// wireless is a connection as a stream needs it; what is written comes out by lines.
type wireless struct {
	header http.Header
	lines  chan<- string
}

func (w *wireless) Header() http.Header              { return w.header }
func (w *wireless) WriteHeader(int)                  {}
func (w *wireless) Flush()                           {}
func (w *wireless) SetWriteDeadline(time.Time) error { return nil }
func (w *wireless) Write(b []byte) (int, error) {
	for s := bufio.NewScanner(strings.NewReader(string(b))); s.Scan(); {
		w.lines <- s.Text()
	}
	return len(b), nil
}

func contains(text, part string) bool { return strings.Contains(text, part) }

// came opens a returns case of a unit.
func (h *house) came(serial string) returns.Case {
	h.Helper()
	c, err := h.site.Store.Returns.OpenCase(h.Context(), serial, h.product.Code,
		returns.Intake{Received: time.Now(), Complaint: "key dead", By: "Rosa"})
	require.NoError(h, err)
	return c
}

// decode reads an answer that is JSON.
func (h *house) decode(w *httptest.ResponseRecorder, into any) {
	h.Helper()
	require.NoError(h, json.Unmarshal(w.Body.Bytes(), into), w.Body.String())
}

// beside is a connection to the records file as another program would have it.
func beside(t testing.TB, store *results.Store) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite3", store.Path()+"?_busy_timeout=5000")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	return db
}
