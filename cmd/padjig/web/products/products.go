// Package products is what the station tests: product files and the mistakes in them, what
// a changed one would have done, and the releases that put one in force.
package products

import (
	"slices"
	"sync"
	"time"

	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/sequence/product"
)

// Source is a product file as it was read.
type Source struct{ Path, Text string }

// pages are those of the products.
type pages struct {
	store   *results.Store // keeps what is decided
	line    *results.Store // has the runs; at a station the same
	lanes   *control.Lanes
	sources files // the station was started with, by code
	looks   looks
	tried   seen
}

// The pages by the names of their templates.
const (
	productPage = "product"
	editPage    = "edit"
	newPage     = "newproduct"
)

// Set is what there is to see and to do: store keeps drafts, proposals and releases, line has the runs
// that they are tried on.
func Set(store, line *results.Store, lanes *control.Lanes, sources map[string]Source) page.Set {
	p := &pages{store: store, line: line, lanes: lanes, sources: sources, looks: newLooks(), tried: seen{when: map[string]time.Time{}}}
	return page.Set{
		Pages: []page.Page{
			{Path: "/products", Name: "products", Menu: "menu.products", Below: "/new-product", Who: page.Deciding, View: p.list},
			{Path: "/products/{code}", Name: productPage, Who: page.Deciding, View: p.product},
			{Path: "/products/{code}/edit", Name: editPage, Who: page.Engineers, View: p.edit},
			{Path: "/products/{code}/try", Name: "try", Who: page.Engineers, View: p.tryPage},
			{Path: "/new-product", Name: newPage, Who: page.Engineers, View: p.newProduct},
		},
		Actions: []page.Action{
			{Path: "/new-product", Who: page.Engineers, Files: true, Do: p.begin},
			{Path: "/products/{code}/again", Who: page.Engineers, Do: p.again},
			{Path: "/products/{code}/check", Who: page.Engineers, Do: p.check},
			{Path: "/products/{code}/release", Who: page.Engineers, Do: p.release},
			{Path: "/products/{code}/approve", Who: page.Deciding, Do: p.approve},
			{Path: "/products/{code}/withdraw", Who: page.Engineers, Do: withdrawing(store)},
		},
	}
}

// looks bounds how much checking and trying goes on: one at a time beside the lanes, and of
// one person no more than they can type.
type looks struct {
	one chan struct{}

	mu    sync.Mutex
	times map[string][]time.Time // of the newest looks, by person
}

// A person may have so many texts looked at in so long.
const (
	mostLooks = 30
	looksTime = 10 * time.Second
)

func newLooks() looks { return looks{one: make(chan struct{}, 1), times: map[string][]time.Time{}} }

// begin waits for its turn, until whoever asked is gone.
func (l *looks) begin(v *page.Visit) (done func(), err error) {
	if !l.allowed(v.Person.Name, time.Now()) {
		return nil, page.Fail(429, v.Say("editor.slowly"))
	}
	select {
	case l.one <- struct{}{}:
		return func() { <-l.one }, nil
	case <-v.Ctx().Done():
		return nil, v.Ctx().Err()
	}
}

func (l *looks) allowed(name string, now time.Time) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	recent := slices.DeleteFunc(l.times[name], func(at time.Time) bool { return now.Sub(at) >= looksTime })
	if len(recent) >= mostLooks {
		l.times[name] = recent
		return false
	}
	l.times[name] = append(recent, now)
	return true
}

// seen remembers which trials were shown to whom: nobody releases what they have not seen
// tried. After a restart they look again.
type seen struct {
	mu   sync.Mutex
	when map[string]time.Time
}

// mostSeen are remembered.
const mostSeen = 1000

func (s *seen) note(key string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.when) >= mostSeen {
		clear(s.when)
	}
	s.when[key] = time.Now()
}

func (s *seen) has(key string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	_, is := s.when[key]
	return is
}

// List is all products.
type List struct {
	Products []Row `json:"products"`
	Engineer bool  `json:"-"`
}

// Row is a product in one line.
type Row struct {
	Code     string    `json:"code"`
	Title    string    `json:"title"`
	Revision string    `json:"revision"`
	Hash     string    `json:"hash"` // empty: there are only drafts
	Keys     int       `json:"keys"`
	Lanes    []int     `json:"lanes"`
	Released time.Time `json:"released,omitzero"` // zero: no release, the file holds
	By       string    `json:"by"`
	Waits    string    `json:"waits,omitempty"` // label of what waits for a second person
	Turn     bool      `json:"turn"`            // of who looks: they may approve it
	Drafts   []string  `json:"drafts"`          // who works on it
}

// Path is the page of the product.
func (r Row) Path() string { return address(r.Code) }

// list shows what the station tests, and what is in the records or on its way there.
func (p *pages) list(v *page.Visit) (any, error) {
	out := List{Products: []Row{}, Engineer: v.Person.HasRole(page.Engineers)}
	for i, lane := range p.lanes.All() {
		tested := lane.State().Product
		at := slices.IndexFunc(out.Products, func(r Row) bool { return r.Code == tested.Code })
		if at < 0 {
			row, err := p.row(v, tested.Code, tested)
			if err != nil {
				return nil, err
			}
			out.Products, at = append(out.Products, row), len(out.Products)
		}
		out.Products[at].Lanes = append(out.Products[at].Lanes, i+1)
	}
	others, err := p.codes(v)
	for _, code := range others {
		if slices.ContainsFunc(out.Products, func(r Row) bool { return r.Code == code }) {
			continue
		}
		now, err := p.against(v, code)
		if err != nil {
			return nil, err
		}
		row, err := p.row(v, code, now)
		if err != nil {
			return nil, err
		}
		out.Products = append(out.Products, row)
	}
	return out, err
}

// row tells a product in a line; of may be nil where there are only drafts.
func (p *pages) row(v *page.Visit, code string, of *product.Product) (Row, error) {
	row := Row{Code: code, Drafts: []string{}}
	if of != nil {
		row.Title, row.Revision, row.Hash, row.Keys = of.Title, of.Revision, of.Hash(), len(of.Keys)
	}
	releases, err := p.store.Runs.Releases(v.Ctx(), code)
	if err != nil {
		return row, err
	}
	if len(releases) > 0 {
		row.Released, row.By = releases[0].At, releases[0].By
	}
	open, err := p.open(v, code)
	if err != nil {
		return row, err
	}
	if open != nil {
		row.Waits, row.Turn = open.Label, open.Turn
	}
	drafts, err := p.store.Releases.Drafts(v.Ctx(), code)
	for _, d := range drafts {
		row.Drafts = append(row.Drafts, d.By)
	}
	return row, err
}

// now is the product of a code as it is tested, or as the records have it; nil where there
// is none but in drafts.
func (p *pages) now(v *page.Visit, code string) (*product.Product, error) {
	if on := p.lanes.Holding(func(p *product.Product) bool { return p.Code == code }); on != nil {
		return on, nil
	}
	return p.against(v, code)
}

// against is what a proposal of a product is held against: what is in force here, or else what the stations
// of a plant have in force or tested last. Nil for nothing.
func (p *pages) against(v *page.Visit, code string) (*product.Product, error) {
	before, err := p.store.Releases.Against(v.Ctx(), code)
	if err == nil && before == nil && p.line != p.store {
		before, err = p.line.Releases.Against(v.Ctx(), code)
	}
	return before, err
}

// codes are those of all products there are.
func (p *pages) codes(v *page.Visit) ([]string, error) {
	all, err := p.store.Releases.Products(v.Ctx())
	if err != nil || p.line == p.store {
		return all, err
	}
	released, err := p.line.Releases.Codes(v.Ctx())
	if err != nil {
		return nil, err
	}
	all = append(all, released...)
	for _, simulated := range []bool{false, true} {
		there, err := p.line.Lines.Facets(v.Ctx(), "", simulated)
		if err != nil {
			return nil, err
		}
		all = append(all, there.Products...)
	}
	slices.Sort(all)
	return slices.Compact(all), nil
}

// files are those that the station was started with, by code.
type files map[string]Source

// read reads a product's file anew: somebody may have worked on it since.
func (f files) read(code string) Source {
	source := f[code]
	if text, err := product.ReadFile(source.Path); err == nil {
		source.Text = string(text)
	}
	return source
}

// hold has the lanes test by a release that is in force now.
func hold(lanes *control.Lanes, code string, of *product.Product) {
	for _, lane := range lanes.All() {
		if lane.State().Product.Code == code {
			lane.Release(of)
		}
	}
}
