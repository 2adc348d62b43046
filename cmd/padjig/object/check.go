package object

import (
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

// Checked is product files with every mistake in them.
type Checked struct {
	Good  bool          `json:"good"` // all of them
	Files []CheckedFile `json:"files"`
}

type CheckedFile struct {
	File     string           `json:"file"`
	Good     bool             `json:"good"`
	Product  string           `json:"product"` // of a good one, else ""
	Revision string           `json:"revision"`
	Hash     string           `json:"revision_hash"`
	Keys     int              `json:"keys"`
	Lines    int              `json:"lines"`
	Unread   string           `json:"unread"` // why it could not be read, "" where it could
	Mistakes []CheckedMistake `json:"mistakes"`
}

type CheckedMistake struct {
	Line   int    `json:"line"`
	Column int    `json:"column"` // of characters, from 1
	Code   string `json:"code"`
	Says   string `json:"says"`
}

// GoodFile is a file without a mistake.
func GoodFile(file string, p *product.Product) CheckedFile {
	return CheckedFile{
		File: file, Good: true, Product: p.Code, Revision: p.Revision, Hash: p.Hash(), Keys: len(p.Keys), Lines: len(p.Lines),
		Mistakes: []CheckedMistake{},
	}
}

// BadFile is a file with mistakes.
func BadFile(file string, mistakes product.Mistakes) CheckedFile {
	return CheckedFile{File: file, Mistakes: each(mistakes, func(m product.Mistake) CheckedMistake {
		return CheckedMistake{m.Line, m.Column, string(m.Code), m.Message}
	})}
}

// UnreadFile is a file that could not be read.
func UnreadFile(file, why string) CheckedFile {
	return CheckedFile{File: file, Unread: why, Mistakes: []CheckedMistake{}}
}

// Difference is what one revision of a product changes against another.
type Difference struct {
	Product  string   `json:"product"`
	Revision string   `json:"revision"`
	Against  string   `json:"against"` // product and revision, "" where there is nothing to compare it with
	Changes  []Change `json:"changes"`
}

type Change struct {
	Class string   `json:"class"` // looser, risk, tighter or neutral
	What  string   `json:"what"`
	Keys  []string `json:"keys"` // labels; none where it is not about keys
	From  string   `json:"from"` // "" where there was none
	To    string   `json:"to"`   // "" where there is none any more
	Says  string   `json:"says"`
}

// DifferenceOf is the difference of a product from the one before, nil where there is none.
func DifferenceOf(of, before *product.Product, say func(revise.Change) string) Difference {
	d := Difference{Product: of.Code, Revision: of.Revision, Changes: []Change{}}
	if before != nil {
		d.Against = before.Code + " " + before.Revision
		for _, g := range revise.Grouped(revise.Between(before, of)) {
			for _, c := range g.Changes {
				d.Changes = append(d.Changes, Change{string(g.Class), string(c.Code), each(c.Keys, func(k string) string { return k }), c.From, c.To, say(c)})
			}
		}
	}
	return d
}
