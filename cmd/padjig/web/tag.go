package web

import (
	"errors"
	"time"

	"padjig/results"
	"padjig/sequence"
	"padjig/sequence/product"
)

// tagPage is the tag that goes with a unit that failed: printed from the
// record, nothing written by hand.
var tagPage = page{path: "/tag/{run}", name: "tag", who: everyone, bare: true, view: func(v *visit) (any, error) {
	id, err := results.ParseID(v.r.PathValue("run"))
	if err != nil {
		return nil, notFound(v.say("error.run"))
	}
	run, err := v.site.Store.Run(v.r.Context(), id)
	if errors.Is(err, results.ErrNotFound) {
		return nil, notFound(v.say("error.run"))
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
		Word: v.say("word." + string(run.Outcome)), Findings: v.findings(run.Findings), Code: code,
	}
	reason, known := v.site.text.facts(v.Lang).Why(run.Run)
	view.Reason, view.Own = reason, !known
	if p := v.site.productOf(run.Run); p != nil {
		drawn := v.padOf(p, run.Keys, run.Findings)
		pad := showPad(drawn, v.sayPad(p, drawn))
		pad.Simulated = run.Simulated
		view.Pad = &pad
	}
	return view, nil
}}

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
	Pad       *padView      `json:"-"` // nil when the product is none of the station's
}

// productOf gives the product a run was made with, if the station has it.
func (s *Site) productOf(run sequence.Run) *product.Product {
	for _, lane := range s.Lanes {
		if p := lane.State().Product; p.Code == run.Product && p.Hash() == run.Hash {
			return p
		}
	}
	return nil
}
