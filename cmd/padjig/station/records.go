package station

import (
	"context"
	"errors"

	"padjig/results"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Records are where runs are stored and what is known of units and jigs is
// looked up.
type Records struct {
	Store *results.Store
	// At is what the remedies for the terminal need to reach the same records,
	// such as " --store FILE".
	At string
}

// unread refuses for records that cannot be read.
func (r Records) unread(err error) error { return r.refused(err, try("check records", r.At)) }

func (r Records) refused(err error, remedy sequence.Said) error {
	if errors.Is(err, store.ErrMoved) {
		return refuse(NotRecorded, err, try("put records back", r.At), RecordsMoved)
	}
	return refuse(NotRecorded, err, remedy, NoRecords)
}

// Record stores the run that was begun and gives back what is stored: what is shown is that.
func (r Records) Record(ctx context.Context, begun *runs.Begun, run sequence.Run) (stored runs.Stored, err error) {
	id, err := begun.Save(ctx, run)
	if err == nil {
		stored, err = r.Store.Runs.Run(context.WithoutCancel(ctx), id)
	}
	if err != nil {
		return runs.Stored{}, r.refused(err, try("check records, untested", r.At))
	}
	return stored, nil
}

// Released gives the revision of a product that is in force by its newest
// release, nil for a product that was never released. A release that is not what
// was released is refused: nobody knows then what holds.
func (r Records) Released(ctx context.Context, code string) (*product.Product, error) {
	list, err := r.Store.Runs.Releases(ctx, code)
	if err != nil {
		return nil, r.unread(err)
	}
	if len(list) == 0 {
		return nil, nil
	}
	p, err := list[0].Product()
	if err != nil {
		return nil, refuse(NotRecorded, err, try("last backup"), ReleaseAltered, code, list[0].Label)
	}
	return p, nil
}

// CheckLabel refuses a definition whose revision label the records know with another one.
func (r Records) CheckLabel(ctx context.Context, p *product.Product) error {
	return r.labelRefusal(r.Store.Runs.CheckLabel(ctx, RevisionOf(p)))
}

// introduce makes a revision known, by the same rule.
func (r Records) introduce(ctx context.Context, p *product.Product) error {
	return r.labelRefusal(r.Store.Runs.Introduce(ctx, RevisionOf(p)))
}

func (r Records) labelRefusal(err error) error {
	if taken, is := errors.AsType[*runs.LabelTaken](err); is {
		return refuse(Wrong, err, try("own label"),
			LabelTaken, taken.Code, taken.Known, product.SayDifferences(taken.Differences))
	}
	if err != nil {
		return r.unread(err)
	}
	return nil
}

// RevisionOf is a product as the records keep it.
func RevisionOf(p *product.Product) runs.Revision {
	return runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}
}
