// Package products is what the station tests: the product files, the mistakes in
// them, and the releases that make one hold.
package products

import (
	"slices"
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
	store   *results.Store
	lanes   *control.Lanes
	sources map[string]Source // the station was started with, by code
}

// Set is what there is to see and to do.
func Set(store *results.Store, lanes *control.Lanes, sources map[string]Source) page.Set {
	p := &pages{store, lanes, sources}
	return page.Set{
		Pages: []page.Page{
			{Path: "/products", Name: "products", Menu: "menu.products", Who: page.Deciding, View: p.list},
			{Path: "/products/{code}", Name: productPage, Who: page.Deciding, View: p.product},
		},
		Actions: []page.Action{
			{Path: "/products/{code}/check", Who: page.Engineers, Do: p.check},
			{Path: "/products/{code}/release", Who: page.Engineers, Do: p.release},
			{Path: "/products/{code}/back", Who: page.Engineers, Do: p.back},
			{Path: "/products/{code}/approve", Who: page.Deciding, Do: p.approve},
		},
	}
}

// list shows what the station tests.
func (p *pages) list(v *page.Visit) (any, error) {
	out := List{Products: []Row{}}
	for i, lane := range p.lanes.All() {
		tested := lane.State().Product
		at := slices.IndexFunc(out.Products, func(r Row) bool { return r.Code == tested.Code })
		if at < 0 {
			row, err := p.row(v, tested)
			if err != nil {
				return nil, err
			}
			out.Products, at = append(out.Products, row), len(out.Products)
		}
		out.Products[at].Lanes = append(out.Products[at].Lanes, i+1)
	}
	return out, nil
}

// List is all products.
type List struct {
	Products []Row `json:"products"`
}

// Row is a product in one line.
type Row struct {
	Code     string    `json:"code"`
	Title    string    `json:"title"`
	Revision string    `json:"revision"`
	Hash     string    `json:"hash"`
	Keys     int       `json:"keys"`
	Lanes    []int     `json:"lanes"`
	Released time.Time `json:"released"` // zero: no release, the file holds
	By       string    `json:"by"`
}

func (p *pages) row(v *page.Visit, of *product.Product) (Row, error) {
	row := Row{Code: of.Code, Title: of.Title, Revision: of.Revision, Hash: of.Hash(), Keys: len(of.Keys)}
	releases, err := p.store.Runs.Releases(v.Ctx(), of.Code)
	if len(releases) > 0 {
		row.Released, row.By = releases[0].At, releases[0].By
	}
	return row, err
}

// file reads a product's file anew: somebody may have worked on it since.
func (p *pages) file(code string) Source {
	source := p.sources[code]
	if text, err := product.ReadFile(source.Path); err == nil {
		source.Text = string(text)
	}
	return source
}

// hold has the lanes test by a release that is in force now.
func (p *pages) hold(code string, of *product.Product) {
	for _, lane := range p.lanes.All() {
		if lane.State().Product.Code == code {
			lane.Release(of)
		}
	}
}
