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
	Records *results.Store // of all stations, for looking things up: see [results.Over]
	// Of is the number of the station that a run of a number is of.
	Of func(run int64) int
	// Away reports whether an error says that the database does not answer.
	Away func(error) bool
	// Untrusted reports whether one says that the database does not show who it is.
	Untrusted func(error) bool
	// More are further subjects of an office.
	More []page.Set
}

// Patience is how long an answer of the database is waited for.
const Patience = 20 * time.Second

// quiet is how long a station may bring no run before that is worth a look: a shift.
const quiet = 8 * time.Hour

// Set is the first page.
func Set(p *Plant) page.Set {
	return page.Set{Pages: []page.Page{{Path: Path + "{$}", Name: "office", Menu: "menu.office", Below: "/plant", Who: page.Everyone, View: p.stations}}}
}

// FloorSet is what was set down about the lines of all stations.
func FloorSet(p *Plant) page.Set {
	return page.Set{Pages: []page.Page{
		{Path: FloorPath, Name: "officelots", Menu: "menu.floor", Below: ShiftsPath, Who: page.Everyone, View: p.lots},
		{Path: ShiftsPath, Name: "officeshifts", Who: page.Deciding, View: p.shifts},
	}}
}

// View is the stations of the plant.
type View struct {
	Stations []Row `json:"stations"`
	Quiet    int   `json:"quiet"`
}

// Row is a station and how new what came of it is.
type Row struct {
	Number int       `json:"number"`
	Name   string    `json:"name"`
	Since  time.Time `json:"since,omitzero"`  // its records come here
	Heard  time.Time `json:"heard,omitzero"`  // runs of it came last; zero: none yet
	Newest time.Time `json:"newest,omitzero"` // its newest run was stored
	Quiet  bool      `json:"quiet"`           // nothing came for longer than a shift
}

func (p *Plant) stations(v *page.Visit) (any, error) {
	list, err := p.Records.Plant.Stations(v.Ctx())
	if err != nil {
		return nil, err
	}
	out := View{Stations: []Row{}}
	for _, s := range list {
		row := Row{s.Member, s.Name, s.Since, s.Heard, s.Tested, time.Since(s.Tested) > quiet}
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

// Doubted reports whether an error of a request says that what answers as the database does not show who it is.
func (p *Plant) Doubted(err error) bool { return p != nil && p.Untrusted(err) }

// Answers gives what tells whether the database answers; nil for a station.
func (p *Plant) Answers() func(context.Context) bool {
	if p == nil {
		return nil
	}
	return func(ctx context.Context) bool {
		_, err := p.Records.Plant.Names(ctx)
		return err == nil
	}
}

// Named gives the name of the station that a run is of, for many runs of one page.
func (p *Plant) Named(ctx context.Context) (func(run int64) string, error) {
	if p == nil {
		return func(int64) string { return "" }, nil
	}
	names, err := p.Records.Plant.Names(ctx)
	return func(run int64) string { return names[p.Of(run)] }, err
}
