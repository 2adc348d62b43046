// Package office is what the site of a plant has beside what a station's has: the plant's
// records, which it only reads, and the page of the stations that they come from.
//
// The office is the same site as a station's without lanes. All that it tells of the line is
// asked of the plant's database; what is decided on its pages - accounts, sessions, tokens,
// proposals and releases - is kept in a file of its own, so that people sign in while the
// database is away.
package office

import (
	"context"
	"errors"
	"net/http"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results"
)

// Path is where the stations of the plant are: the first page of all.
const Path = "/"

// Plant is the database of a plant, as the pages need it.
type Plant struct {
	Records *results.Store // of all stations, for looking things up
	// Stations lists them by their names.
	Stations func(context.Context) ([]Station, error)
	// Of is the number of the station that a run of a number is of.
	Of func(run int64) int
	// Away reports whether an error says that the database does not answer.
	Away func(error) bool
	// More are further subjects of an office.
	More []page.Set
}

// Station is one that forwards its records.
type Station struct {
	Number int       `json:"number"`
	Name   string    `json:"name"`
	Since  time.Time `json:"since,omitzero"`  // it was taken in
	Newest time.Time `json:"newest,omitzero"` // its newest run was stored; zero: none yet
	Runs   int64     `json:"runs"`
}

// Patience is how long an answer of the database is waited for.
const Patience = 20 * time.Second

// quiet is how long a station may bring no run before that is worth a look: a shift.
const quiet = 8 * time.Hour

// Set is the first page.
func Set(p *Plant) page.Set {
	return page.Set{Pages: []page.Page{{Path: Path + "{$}", Name: "office", Menu: "menu.office", Who: page.Everyone, View: p.stations}}}
}

// View is the stations of the plant.
type View struct {
	Stations []Row    `json:"stations"`
	Entries  []Way    `json:"-"` // where to go from here
	Quiet    int      `json:"quiet"`
	Table    []string `json:"-"`
}

// Row is a station and how new its newest run is.
type Row struct {
	Station
	Quiet bool `json:"quiet"` // nothing came for longer than a shift
}

// Way is a page that somebody may go to, and what it is for.
type Way struct{ Path, Text, Words string }

func (p *Plant) stations(v *page.Visit) (any, error) {
	list, err := p.Stations(v.Ctx())
	if err != nil {
		return nil, err
	}
	out := View{Stations: []Row{}}
	for _, s := range list {
		row := Row{s, time.Since(s.Newest) > quiet}
		if row.Quiet {
			out.Quiet++
		}
		out.Stations = append(out.Stations, row)
	}
	return out, nil
}

// Within bounds how long a request waits for the database: one that hangs says nothing at all. For a
// station, nil, there is no such bound.
func (p *Plant) Within(r *http.Request) (*http.Request, context.CancelFunc) {
	if p == nil {
		return r, func() {}
	}
	ctx, done := context.WithTimeout(r.Context(), Patience)
	return r.WithContext(ctx), done
}

// Silent reports whether an error of a request says that the database does not answer, or not in time.
func (p *Plant) Silent(ctx context.Context, err error) bool {
	return p != nil && (errors.Is(ctx.Err(), context.DeadlineExceeded) || ctx.Err() == nil && p.Away(err))
}

// Answers gives what tells whether the database answers; nil for a station.
func (p *Plant) Answers() func(context.Context) bool {
	if p == nil {
		return nil
	}
	return func(ctx context.Context) bool {
		_, err := p.Stations(ctx)
		return err == nil
	}
}

// Named gives the name of the station that a run is of, for many runs of one page.
func (p *Plant) Named(ctx context.Context) (func(run int64) string, error) {
	if p == nil {
		return func(int64) string { return "" }, nil
	}
	list, err := p.Stations(ctx)
	names := map[int]string{}
	for _, s := range list {
		names[s.Number] = s.Name
	}
	return func(run int64) string { return names[p.Of(run)] }, err
}
