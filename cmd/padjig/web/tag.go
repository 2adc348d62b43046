package web

import (
	"errors"
	"time"

	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// tagPage is the tag that goes with a unit that failed: printed from the
// record, nothing written by hand.
var tagPage = page{path: "/tag/{run}", name: "tag", who: everyone, bare: true, view: func(v *visit) (any, error) {
	id, err := store.ParseID(v.r.PathValue("run"))
	if err != nil {
		return nil, notFound(v.say("error.run"))
	}
	run, err := v.site.Store.Runs.Run(v.r.Context(), id)
	if errors.Is(err, store.ErrNotFound) {
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
	reason, known := wording.Lang(v.Lang).Why(run.Run)
	view.Reason, view.Own = reason, !known
	if p := v.site.productOf(run.Run); p != nil {
		pad := v.padOf(p, run.Run)
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

// padOf draws the pad with what a stored run found.
func (v *visit) padOf(p *product.Product, run sequence.Run) padView {
	good, bad := 0, 0
	pad := drawPad(p, func(k int) (string, string) {
		if k >= len(run.Keys) {
			return "wait", ""
		}
		class, mark := v.keyMark(run.Keys[k], run.Findings)
		switch class {
		case "good":
			good++
		case "bad":
			bad++
		}
		return class, mark
	})
	pad.Say, pad.Simulated = v.say("pad.say", p.Code, good, bad, len(p.Keys)), run.Simulated
	return pad
}
