package web

import (
	"errors"
	"net/http"
	"time"

	"padjig/cmd/padjig/web/api"
	"padjig/cmd/padjig/web/page"
)

// What the guards promise, for tests to hold them to.
const (
	Policy        = policy
	FormPatience  = 15 * time.Second
	WritePatience = writePatience
)

var Assets = assets

// All is what the subjects of a site bring.
func (s *Site) All() page.Set { return s.all }

// Add registers one more action.
func (s *Site) Add(a page.Action) { s.handle("POST "+a.Path, boundOf(a), s.action(a)) }

// Handled reports by which pattern a request is answered.
func (s *Site) Handled(r *http.Request) string {
	_, pattern := s.mux.Handler(r)
	return pattern
}

// MostOf is how much an action takes of a body.
func MostOf(a page.Action) int64 { return boundOf(a).most }

// StaticAddress is where a file of static/ is served.
func (s *Site) StaticAddress(name string) string { return s.assets.address(name) }

// Read registers one more route for programs.
func (s *Site) Read(r api.Route) { s.handle("GET "+r.Path, noBody, s.read(r)) }

// Parse parses the templates of all pages in all languages.
func (s *Site) Parse() (n int, err error) {
	for _, pages := range s.templates {
		for _, own := range pages {
			_, failed := own()
			n, err = n+1, errors.Join(err, failed)
		}
	}
	return n, err
}
