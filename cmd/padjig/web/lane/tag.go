package lane

import (
	"errors"
	"time"

	"padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// tag is the tag that goes with a unit that failed: printed from the
// record, nothing written by hand.
func (p *Pages) tag(v *page.Visit) (any, error) {
	id, err := store.ParseID(v.Place("run"))
	if err != nil {
		return nil, page.NotFound(v.Say("error.run"))
	}
	run, err := p.store.Runs.Run(v.Ctx(), id)
	if errors.Is(err, store.ErrNotFound) {
		return nil, page.NotFound(v.Say("error.run"))
	}
	if err != nil {
		return nil, err
	}
	code, err := barcode(run.Serial)
	if err != nil {
		return nil, err
	}
	view := tagView{
		Serial: run.Serial, Product: run.Product, Revision: run.Revision, Run: run.ID.String(), Jig: run.Jig.Serial,
		Operator: run.Operator, Attempt: run.Attempt, At: run.Started, Simulated: run.Simulated,
		Word: v.Say("word." + string(run.Outcome)), Findings: findings(v.Words, run.Findings), Code: code,
	}
	if run.Purpose == sequence.Engineering { // whatever it found, it is no verdict on the unit
		view.Word = v.Say("word.engineering")
	}
	reason, known := v.Facts().Why(run.Run)
	view.Reason, view.Own = reason, !known
	product := p.lanes.Holding(func(p *product.Product) bool { return p.Code == run.Product && p.Hash() == run.Hash })
	if product != nil {
		pad := padOf(v.Words, product, run.Run)
		view.Pad = &pad
	}
	return view, nil
}

type tagView struct {
	Serial    string        `json:"serial"`
	Product   string        `json:"product"`
	Revision  string        `json:"revision"`
	Run       string        `json:"run"`
	Jig       string        `json:"jig"`
	Operator  string        `json:"operator"`
	Attempt   int           `json:"attempt"`
	At        time.Time     `json:"at"`
	Simulated bool          `json:"simulated"`
	Word      string        `json:"word"`
	Reason    string        `json:"reason"`
	Own       bool          `json:"-"` // reason is in the words of the record, which are English
	Findings  []findingView `json:"findings"`
	Code      codeView      `json:"-"`
	Pad       *pad.View     `json:"-"` // nil when the product is none of the station's
}
