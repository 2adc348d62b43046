package web

import (
	"slices"
	"time"

	"padjig/results/runs"
	"padjig/sequence/product"
)

// productsPage lists what the station tests.
var productsPage = page{path: "/products", name: "products", menu: "menu.products", who: fixtures, view: func(v *visit) (any, error) {
	out := productsView{Products: []productRow{}}
	for i, lane := range v.site.Lanes {
		p := lane.State().Product
		at := slices.IndexFunc(out.Products, func(r productRow) bool { return r.Code == p.Code })
		if at < 0 {
			row, err := v.productRow(p)
			if err != nil {
				return nil, err
			}
			out.Products, at = append(out.Products, row), len(out.Products)
		}
		out.Products[at].Lanes = append(out.Products[at].Lanes, i+1)
	}
	return out, nil
}}

type productsView struct {
	Products []productRow `json:"products"`
}

type productRow struct {
	Code     string    `json:"code"`
	Title    string    `json:"title"`
	Revision string    `json:"revision"`
	Hash     string    `json:"hash"`
	Keys     int       `json:"keys"`
	Lanes    []int     `json:"lanes"`
	Released time.Time `json:"released"` // zero: no release, the file holds
	By       string    `json:"by"`
}

func (v *visit) productRow(p *product.Product) (productRow, error) {
	row := productRow{Code: p.Code, Title: p.Title, Revision: p.Revision, Hash: p.Hash(), Keys: len(p.Keys)}
	releases, err := v.site.Store.Runs.Releases(v.r.Context(), p.Code)
	if len(releases) > 0 {
		row.Released, row.By = releases[0].At, releases[0].By
	}
	return row, err
}

// holding gives the product of a code that the lanes test now, nil for none.
func (s *Site) holding(code string) *product.Product {
	for _, lane := range s.Lanes {
		if p := lane.State().Product; p.Code == code {
			return p
		}
	}
	return nil
}

// file reads a product's file anew: somebody may have worked on it since.
func (s *Site) file(code string) Source {
	source := s.Sources[code]
	if text, err := product.ReadFile(source.Path); err == nil {
		source.Text = string(text)
	}
	return source
}

// release makes a revision hold: in the records first, then on the lanes.
func (v *visit) release(r runs.Release, p *product.Product) error {
	if err := v.site.Store.Runs.SaveRelease(v.r.Context(), r); err != nil {
		return err
	}
	for _, lane := range v.site.Lanes {
		if lane.State().Product.Code == p.Code {
			lane.Release(p)
		}
	}
	return nil
}
