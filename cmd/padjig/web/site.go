package web

import (
	"fmt"
	"net/http"
	"sync"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/results"
)

// Config is what the pages are about.
type Config struct {
	Store *results.Store
	Lanes []*station.Lane
	// Hosts are the names and addresses the station may be called by, each with
	// its port as browsers send it.
	Hosts []string
	// Secure is set when the pages come over TLS.
	Secure bool
	// LockAfter is how long a session may be left alone.
	LockAfter time.Duration
	// Sources are the product files the station was started with, by code.
	Sources map[string]Source
}

// Source is a product file as it was read.
type Source struct{ Path, Text string }

// Site serves the pages.
type Site struct {
	Config
	mux      *http.ServeMux
	text     catalogue
	looks    looks
	statics  statics
	sessions sessions
	controls []*control // of each lane
	limiter  limiter
	clock    func() time.Time // of the limiter
	permits  permits
	photos   sync.Mutex    // one is in memory at a time
	over     chan struct{} // closed when the station ends
	ending   sync.Once
}

// New makes the site. An error is a mistake in the program itself: a template
// or a text that cannot be read.
func New(c Config) (*Site, error) {
	text, err := loadCatalogue()
	if err != nil {
		return nil, err
	}
	files, err := loadStatics()
	if err != nil {
		return nil, err
	}
	s := &Site{Config: c, mux: http.NewServeMux(), text: text, statics: files, over: make(chan struct{}), clock: time.Now}
	if s.looks, err = loadLooks(text, files, allPages()); err != nil {
		return nil, err
	}
	for range c.Lanes {
		s.controls = append(s.controls, newControl())
	}
	s.route()
	return s, nil
}

// End lets every open stream end, so that the server can be shut down.
func (s *Site) End() { s.ending.Do(func() { close(s.over) }) }

// Handler is the whole site with its guards.
func (s *Site) Handler() http.Handler {
	return patiently(s.headed(s.hosted(s.sameOrigin(s.mux))))
}

func (s *Site) route() {
	s.handle("GET /static/", noBody, s.statics.ServeHTTP)
	for _, p := range allPages() {
		s.handle("GET "+p.path, noBody, s.page(p))
	}
	for _, a := range allActions() {
		s.handle("POST "+a.path, a.bound(), s.action(a))
	}
	for _, t := range allStreams() {
		s.handle("GET "+t.path, noBody, s.stream(t))
	}
	s.handle("/", noBody, s.nowhere)
}

func (s *Site) nowhere(w http.ResponseWriter, r *http.Request) {
	v := s.visit(w, r)
	v.fail(http.StatusNotFound, v.say("error.nowhere"))
}

// may says who may see a page or do a thing; nil is anybody, also without a
// session. An engineer may see whatever others may.
type may []account.Role

var (
	everyone = may(account.Roles)
	fixtures = may{account.Engineer}
	deciding = may{account.Quality, account.Engineer} // what padjig would not do
)

func (s *Site) lane(v *visit) (int, *station.Lane, error) {
	var n int
	if _, err := fmt.Sscan(v.r.PathValue("lane"), &n); err != nil || n < 1 || n > len(s.Lanes) {
		return 0, nil, notFound(v.say("error.lane"))
	}
	return n, s.Lanes[n-1], nil
}
