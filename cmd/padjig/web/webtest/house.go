// Package webtest is a station for the tests of its pages: lanes with simulated jigs in
// fake time, and people of every role who ask for pages.
package webtest

import (
	"bufio"
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
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
	"padjig/cmd/padjig/doctor"
	"padjig/cmd/padjig/doctor/look"
	"padjig/cmd/padjig/legible"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/diary"
	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/products"
	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/results"
	"padjig/results/fails"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Demanding has a product ask for reference units.
const Demanding = `
references:
  every: 8 h or 2 units
  within: 20 %
  good: REF-G
  bad:
    REF-B: key open at 7
`

// House is a station with lanes that work on simulated jigs, in fake time, and
// people of every role at its pages.
type House struct {
	*testing.T
	Product *product.Product
	Text    string // of its file
	Store   *results.Store
	Lanes   []*station.Lane
	Site    *web.Site
	Handler http.Handler
	Ports   simport.Ports
	Jigs    []*jigsim.Jig
	Lang    string         // of who asks
	LeaveIn bool           // whoever scans leaves the unit before in the jig
	Zone    *time.Location // of the plant; nil is UTC
	Screen  legible.Screen
	Texts   fs.FS // in further languages; see [web.Config]
	log     record
}

// At has somebody visit a station with so many lanes, whose product's file has
// more lines at its end.
func At(t *testing.T, lanes int, more string, visit func(*House)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		text, err := os.ReadFile(ProductFile(t))
		require.NoError(t, err)
		h := &House{T: t, Text: string(text) + more, Lang: "en"}
		h.Product, err = product.Parse("gcc-20.yaml", []byte(h.Text))
		require.NoError(t, err)
		h.open()
		var ids []wire.Identity
		for n := range lanes {
			id := jigsim.Defaults()
			id.Serial = fmt.Sprintf("SIM-%04d", n+1)
			ids = append(ids, id)
		}
		h.Plug(ids...)
		visit(h)
	})
}

func (h *House) open() {
	h.Helper()
	path := filepath.Join(h.TempDir(), "r.sqlite")
	require.NoError(h, os.WriteFile(path+"-ballast", nil, 0o644)) // it takes a while to set aside
	store, err := results.Open(h.Context(), path)
	require.NoError(h, err)
	h.Cleanup(func() { assert.NoError(h, store.Close()) })
	for _, role := range account.Roles {
		SignUp(h, store, role)
	}
	h.Store = store
}

// Plug makes the site anew, with a lane for each jig.
func (h *House) Plug(ids ...wire.Identity) {
	h.Helper()
	before := len(h.Lanes)
	for _, id := range ids {
		jig, err := jigsim.New(jigsim.Config{
			Identity: id, Keypad: h.Product.Circuit(), Contact: h.Product.Nominal.Contact, Wiring: h.Product.Wiring(),
			Actuators: h.Product.Pushes(), Seed: 7, Pace: true, Baud: link.DefaultBaud,
		})
		require.NoError(h, err)
		h.Jigs = append(h.Jigs, jig)
		lay := simport.Operator(func() *jigsim.Jig { return jig })
		h.Ports.Plug("sim/"+id.Serial, jig)
		h.Lanes = append(h.Lanes, station.NewLane(station.Setup{
			Store: h.Store, Product: h.Product, Jig: "sim/" + id.Serial, Twice: time.Nanosecond, Open: h.Ports.Open, Find: h.Ports.Find,
			Load: func(serial string) {
				if !h.LeaveIn {
					lay(serial)
				}
			},
			Told: diary.Of(h.log.logger(), len(h.Lanes)+1),
		}))
	}
	h.Serve()
	h.Cleanup(h.Ports.Close)
	h.work(before)
}

// Serve makes the site of the lanes there are.
func (h *House) Serve() {
	h.Helper()
	err := h.Store.Floor.SaveZone(h.Context(), cmp.Or(h.Zone, time.UTC).String())
	require.NoError(h, err)
	h.Site, err = web.New(web.Config{
		Store: h.Store, Lanes: h.Lanes, Hosts: []string{OurHost}, LockAfter: time.Hour,
		Sources: map[string]products.Source{h.Product.Code: {Path: "no/longer/there.yaml", Text: h.Text}},
		Screen:  h.Screen, Zone: h.Zone, Texts: h.Texts,
		Look: func(ctx context.Context) doctor.Facts {
			return look.At(ctx, look.Asked{Store: h.Store, Path: h.Store.Path(), Since: time.Now().Add(-time.Hour)})
		},
	})
	require.NoError(h, err)
	h.Handler = h.Site.Handler()
	site, logger := h.Handler, h.log.logger()
	h.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		site.ServeHTTP(w, r.WithContext(log.Into(r.Context(), logger)))
	})
}

// work has the lanes behind the first so many work until the end of the test, and waits
// until each has its jig.
func (h *House) work(before int) {
	h.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	var group sync.WaitGroup
	for _, lane := range h.Lanes[before:] {
		group.Go(func() { lane.Run(ctx) })
	}
	h.Cleanup(func() { cancel(); group.Wait() })
	for n := range h.Lanes {
		h.Until(n+1, func(s station.State) bool { return s.Jig.Present })
	}
	synctest.Wait()
}

// Until waits until a lane, from 1, stands so.
func (h *House) Until(n int, so func(station.State) bool) station.State {
	h.Helper()
	changes, stop := h.Lanes[n-1].Subscribe()
	defer stop()
	late := time.NewTimer(time.Hour)
	defer late.Stop()
	for {
		s := h.Lanes[n-1].State()
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

// Put puts another unit into the first jig, or takes its trouble away.
func (h *House) Put(faults string) {
	h.Helper()
	keypad := h.Product.Circuit()
	parsed, err := world.ParseFaults(faults, keypad)
	require.NoError(h, err)
	require.NoError(h, h.Jigs[0].Load(world.Unit{Keypad: keypad, Contact: h.Product.Nominal.Contact, Faults: parsed, Seed: 7}))
}

// Unit is the serial number of the nth unit.
func (h *House) Unit(n int) string { return h.Product.Serial.Complete(n) }

// Test scans a unit at the first lane and waits until it is out of hand.
func (h *House) Test(serial string) station.State {
	h.Helper()
	code, _ := h.Post("operator", "/scan", "text", serial, "lane", "1")
	require.Equal(h, http.StatusOK, code)
	return h.Settled(serial)
}

// Settled waits until a unit is out of hand.
func (h *House) Settled(serial string) station.State {
	h.Helper()
	s := h.Until(1, func(s station.State) bool { return s.Unit.Serial == serial && !s.Phase.Busy() })
	time.Sleep(time.Millisecond) // nobody is quicker
	synctest.Wait()
	return s
}

// Get asks for a page as JSON.
func (h *House) Get(role, path string, into any) int {
	h.Helper()
	w := Fetch(h.T, h.Handler, Ask{Path: path, Role: role, Header: map[string]string{"Accept": "application/json", "Accept-Language": h.Lang}})
	if into != nil && w.Code == http.StatusOK {
		require.NoError(h, json.Unmarshal(w.Body.Bytes(), into), w.Body.String())
	}
	return w.Code
}

// Page asks for a page as HTML, which must be whole and say everything.
func (h *House) Page(role, path string) string {
	h.Helper()
	w := Fetch(h.T, h.Handler, Ask{Path: path, Role: role, Header: map[string]string{"Accept-Language": h.Lang}})
	require.Equal(h, http.StatusOK, w.Code, w.Body.String())
	assert.NotContains(h, w.Body.String(), "⟦", "%s: text that is not in the catalogue", path)
	return w.Body.String()
}

// Post sends a form, pairs of names and values, as a script does.
func (h *House) Post(role, path string, pairs ...string) (int, page.Answer) {
	h.Helper()
	w := h.Send(role, path, "application/json", pairs...)
	var a page.Answer
	require.NoError(h, json.Unmarshal(w.Body.Bytes(), &a), "%d %s", w.Code, w.Body)
	assert.Equal(h, w.Code == http.StatusOK, a.Good, "%d %s", w.Code, w.Body)
	return w.Code, a
}

// Send sends a form as a browser does, or a script.
func (h *House) Send(role, path, accept string, pairs ...string) *httptest.ResponseRecorder {
	h.Helper()
	form := url.Values{"token": {door.FormToken("token of " + role)}}
	for i := 0; i < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	return Fetch(h.T, h.Handler, Ask{
		Method: http.MethodPost, Path: path, Role: role, Form: form, Header: map[string]string{"Accept": accept, "Accept-Language": h.Lang},
	})
}

// Listener is a browser that holds a stream open.
type Listener struct {
	*House
	Lines chan string
	Leave func()
}

// Listen opens a stream.
func (h *House) Listen(role, path string) *Listener {
	h.Helper()
	ctx, cancel := context.WithCancel(h.Context())
	r := httptest.NewRequestWithContext(ctx, http.MethodGet, "http://"+OurHost+path, nil)
	r.Host = OurHost
	r.AddCookie(&http.Cookie{Name: "padjig", Value: "token of " + role})
	r.Header.Set("Accept-Encoding", "gzip, deflate, br, zstd") // as browsers do, which get a stream as it is
	l, over := &Listener{House: h, Lines: make(chan string, 10_000)}, make(chan struct{})
	go func() {
		defer close(over)
		defer close(l.Lines)
		h.Handler.ServeHTTP(&wireless{header: http.Header{}, lines: l.Lines}, r)
	}()
	l.Leave = func() { cancel(); <-over }
	h.Cleanup(l.Leave)
	return l
}

// Event waits for the next event of a name, and gives its data.
func (l *Listener) Event(name string) (data string) {
	l.Helper()
	late := time.After(time.Hour)
	for seen := ""; ; {
		select {
		case line, open := <-l.Lines:
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

// Came opens a returns case of a unit, which may be measured.
func (h *House) Came(serial string) returns.Case {
	h.Helper()
	c, err := h.Store.Returns.OpenCase(h.Context(), serial, h.Product.Code,
		returns.Intake{Received: time.Now(), Complaint: "key dead", Conditions: []string{returns.NothingVisible}, By: "Rosa"})
	require.NoError(h, err)
	require.NoError(h, h.Store.Returns.SayNoPhoto(h.Context(), c, returns.NoPhoto{Reason: "the camera is broken", By: "Rosa"}))
	return c
}

// PutAway does what an operator does with units that failed: they go where fails go.
func (h *House) PutAway() {
	h.Helper()
	owed, err := h.Store.Fails.Open(h.Context(), true)
	require.NoError(h, err)
	for _, o := range owed {
		_, err := h.Store.Fails.Place(h.Context(), o.Run, fails.Place{}, "Abel")
		require.NoError(h, err)
	}
}

// Decode reads an answer that is JSON.
func (h *House) Decode(w *httptest.ResponseRecorder, into any) {
	h.Helper()
	require.NoError(h, json.Unmarshal(w.Body.Bytes(), into), w.Body.String())
}

// Says is what the first lane's page says, to an operator.
func (h *House) Says() (v lane.View) {
	h.Helper()
	require.Equal(h, http.StatusOK, h.Get("operator", "/lane/1", &v))
	h.Page("operator", "/lane/1")
	return v
}

// Stage has the first lane make a stage of a case.
func (h *House) Stage(c returns.Case, purpose sequence.Purpose) (int, page.Answer) {
	h.Helper()
	h.Lanes[0].Clear()
	code, said := h.Post("returns", "/returns/stage", "case", fmt.Sprint(c.Number), "lane", "1", "purpose", string(purpose))
	if code == http.StatusOK {
		s := h.Settled(c.Serial)
		require.Equal(h, station.Ended, s.Phase, "%v", s.Refusal)
		require.Equal(h, purpose, s.Verdict.Purpose)
	}
	return code, said
}

// Spoil changes something in the records file behind padjig's back.
func (h *House) Spoil(statements ...string) {
	h.Helper()
	db, err := sql.Open("sqlite3", h.Store.Path()+"?_busy_timeout=5000")
	require.NoError(h, err)
	db.SetMaxOpenConns(1)
	_, err = db.ExecContext(h.Context(), strings.Join(statements, ";"))
	require.NoError(h, errors.Join(err, db.Close()))
}

// Calibrated gives the first jig a history of drifting zeros and verifications.
func (h *House) Calibrated(months int) {
	h.Helper()
	at := func(v, limit float64) fixture.Resistance {
		return fixture.Resistance{Value: quantity.Ohm(v), U: quantity.Ohm(limit / 20)}
	}
	for m := range months {
		day := time.Now().AddDate(0, m-months, 25)
		zero := sequence.Calibration{
			Kind: sequence.KindZero, Jig: sequence.JigName{Serial: "SIM-0001"}, Simulated: true, Operator: "Ines", Performed: day,
			Interval: 60 * 24 * time.Hour, Good: true,
		}
		verify := zero
		verify.Kind, verify.Box, verify.BoxSerial, verify.Certificate = sequence.KindVerify, "four resistors", "RB-7", "C-2026-118"
		verify.CertificateDue = day.AddDate(1, 0, 0)
		for c := 1; c <= 10; c++ {
			ohm := 0.02*float64(c) + 0.015*float64(m)
			zero.Readings = append(zero.Readings, sequence.CalibrationReading{
				Channel: c, Reference: 500, Measured: at(ohm, 0.5), Deviation: at(ohm, 0.5), Limit: 0.5, Good: true,
			})
			certified := 450 * float64(c)
			verify.Readings = append(verify.Readings, sequence.CalibrationReading{
				Channel: c, Mate: c + 1, Resistor: "R1", Reference: 500, Certified: at(certified, 1), Measured: at(certified+0.1, 1),
				Deviation: at(0.1, 1), Limit: 1, Good: true,
			})
		}
		for _, c := range []sequence.Calibration{zero, verify} {
			_, err := h.Store.Care.SaveCalibration(h.Context(), c)
			require.NoError(h, err)
		}
	}
}
