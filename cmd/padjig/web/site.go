package web

import (
	"cmp"
	"context"
	"io/fs"
	"net/http"
	"sync"
	"time"

	"padjig/cmd/padjig/doctor"
	"padjig/cmd/padjig/legible"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/checkup"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/floor"
	"padjig/cmd/padjig/web/jigs"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/metrics"
	"padjig/cmd/padjig/web/office"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/people"
	"padjig/cmd/padjig/web/products"
	"padjig/cmd/padjig/web/quality"
	"padjig/results"
	"padjig/results/backup"
	"padjig/sequence"
	"padjig/sequence/refbox"
)

// Config is what the pages are about.
type Config struct {
	Store *results.Store
	Lanes []*station.Lane
	// Plant makes the site the office of a plant, which has no lanes: everything about the line is
	// asked of it, and Store keeps what is decided on the pages. Nil for a station.
	Plant *office.Plant
	// Hosts are the names and addresses the station may be called by, each with
	// its port as browsers send it.
	Hosts []string
	// Secure is set when the pages come over TLS.
	Secure bool
	// LockAfter is how long a session may be left alone.
	LockAfter time.Duration
	// Sources are the product files the station was started with, by code.
	Sources map[string]products.Source
	// Zone is where the plant is: its clock is the one of all pages. nil is UTC.
	Zone *time.Location
	// Screen is what the lanes are looked at on, the usual one where nothing is said.
	Screen legible.Screen
	// Texts are files of text besides those built in, in text/ as those are: one named after
	// another language adds that. Nil for none.
	Texts fs.FS
	// Metrics give further families for /metrics.
	Metrics []metrics.Source
	// MetricsOpen lets anybody read the metrics, without a token.
	MetricsOpen bool
	// Boxes are the reference boxes at hand.
	Boxes []*refbox.Box
	// LoadStandard is told of each calibration on a lane, from 0, before it is taken: see
	// calibration.NewKeeper. Nil for nobody.
	LoadStandard func(lane int, kind sequence.CalibrationKind)
	// Look gathers how the station stands, for its page; nil: nothing is looked at.
	Look func(context.Context) doctor.Facts
}

// Texts is all that pages say, in every language: what is built in, and what other files bring.
func Texts(others fs.FS) (page.Catalogue, error) {
	if others == nil {
		return page.LoadCatalogue(assets)
	}
	return page.LoadCatalogue(assets, others)
}

// Site serves the pages.
type Site struct {
	*making
	hosts   []string
	secure  bool
	mux     *http.ServeMux
	all     page.Set
	door    *door.Door
	machine machine
	over    chan struct{} // closed when the station ends
	ending  sync.Once
	backups *backup.Records
	plant   *office.Plant // nil for a station
}

// New makes the site. An error is a mistake in the program itself: a template
// or a text that cannot be read.
func New(c Config) (*Site, error) {
	if c.Screen.Distance == 0 {
		var err error
		if c.Screen, err = legible.Of("", ""); err != nil {
			return nil, err
		}
	}
	made, err := makingFor(c.Texts, c.Screen, cmp.Or(c.Zone, time.UTC), c.Plant != nil)
	if err != nil {
		return nil, err
	}
	s := &Site{
		making: made, hosts: c.Hosts, secure: c.Secure, mux: http.NewServeMux(), over: make(chan struct{}),
		door: door.New(c.Store, c.Secure, c.LockAfter), backups: c.Store.Backups, plant: c.Plant,
	}
	s.machine = machineOf(c)
	s.all = s.subjects(c)
	if err := s.templates.hold(s.all.Pages); err != nil {
		return nil, err
	}
	s.route()
	return s, nil
}

// asked are the records that questions about the line go to.
func (c Config) asked() *results.Store {
	if c.Plant != nil {
		return c.Plant.Records
	}
	return c.Store
}

// subjects gathers what there is to see and to do; their order is that of the menu.
func (s *Site) subjects(c Config) page.Set {
	lanes, asked := control.New(c.Lanes), c.asked()
	lane := lane.New(asked, lanes, c.Screen)
	everywhere := page.Set{
		Pages: []page.Page{
			{Path: findPath, Name: "find", Who: page.Everyone, View: s.find(asked.Units)}, {Path: "/help", Name: "help", Who: page.Everyone, View: s.help},
		},
		Actions: []page.Action{{Path: "/look", Do: s.look}, {Path: "/met", Who: page.Everyone, Do: s.meet}},
	}
	// At an office the records are only read: what would write to them is done at a station.
	line := []page.Set{lane.Set(), quality.Set(asked, lanes), jigs.Set(asked, lanes, c.Boxes, c.LoadStandard), desk.Set(asked, lanes, c.Plant.Named)}
	people, products := people.Set(c.Store), products.Set(c.Store, asked, lanes, c.Sources)
	if c.Plant == nil {
		return page.Join(everywhere, s.door.Set(), line[0], scans{s.door, lane}.set(), line[1], line[2], products, line[3],
			floor.Set(c.Store, lanes), people, checkup.Set(c.Look, nil))
	}
	for i := range line {
		line[i] = line[i].Read()
	}
	return page.Join(everywhere, s.door.Set(), office.Set(c.Plant), page.Join(c.Plant.More...), line[0], lookUps{s.door}.set(), line[1], line[2],
		products, line[3], office.FloorSet(c.Plant), people, checkup.Set(c.Look, officeChecks))
}

// officeChecks are those of the doctor that concern a computer without jigs.
var officeChecks = []doctor.Check{doctor.RecordsCheck, doctor.DiskCheck, doctor.Sync, doctor.Integrity, doctor.Clock, doctor.Zone, doctor.Backups,
	doctor.Accounts, doctor.Certificates, doctor.Address, doctor.Running}

// End lets every open stream end, so that the server can be shut down.
func (s *Site) End() { s.ending.Do(func() { close(s.over) }) }

// Handler is the whole site with its guards.
func (s *Site) Handler() http.Handler {
	return patiently(s.caught(s.counting(s.headed(s.hosted(s.sameOrigin(s.mux))))))
}

func (s *Site) route() {
	s.handle("GET /static/", noBody, s.assets.ServeHTTP)
	for _, p := range s.all.Pages {
		s.handle("GET "+p.Path, noBody, s.page(p))
	}
	for _, a := range s.all.Actions {
		s.handle("POST "+a.Path, boundOf(a), s.action(a))
	}
	for _, t := range s.all.Streams {
		s.handle("GET "+t.Path, noBody, s.stream(t))
	}
	s.routeMachine()
	s.handle("/", noBody, func(w http.ResponseWriter, r *http.Request) { s.visit(w, r).nowhere() })
}
