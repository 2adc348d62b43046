package station

import (
	"context"
	"errors"

	"padjig/results"
	"padjig/results/plant/asked"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Records are where runs are stored and what is known of units and jigs is looked up.
type Records struct {
	Store *results.Store
	// At is what the remedies for the terminal need to reach the same records, such as " --store FILE".
	At string
	// Plant is asked what other stations know of a unit; nil: there is none.
	Plant *asked.Plant
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
	if err != nil || len(list) == 0 {
		return nil, r.unreadOr(err)
	}
	return r.sound(ctx, list[0])
}

// ReleasedFor gives the release that a unit is tested by, and its product: the newest one,
// but before the serial number from which that lets more through the one before it.
func (r Records) ReleasedFor(ctx context.Context, code, serial string) (*runs.Release, *product.Product, error) {
	list, err := r.Store.Runs.Releases(ctx, code)
	if err != nil || len(list) == 0 {
		return nil, nil, r.unreadOr(err)
	}
	newest, err := r.sound(ctx, list[0])
	if err != nil {
		return nil, nil, err
	}
	_, reference := newest.Reference(serial)
	holds := runs.Holding(list, newest, serial)
	switch {
	case reference:
		holds = &list[0] // they are of no order
	case holds == nil:
		return nil, nil, refuse(Wrong, nil, try("revision before"), NotFromSerial, serial, list[0].Label, list[0].FromSerial)
	case holds.Seq == list[0].Seq:
		return holds, newest, nil
	}
	p, err := r.sound(ctx, *holds)
	return holds, p, err
}

// sound reads the product of a release, and refuses one that is not what was released, or
// that lets more through than two people agreed to.
func (r Records) sound(ctx context.Context, release runs.Release) (*product.Product, error) {
	p, err := release.Product()
	if err == nil {
		err = r.Store.Releases.Sound(ctx, release)
	}
	if errors.Is(err, runs.ErrReleaseAltered) {
		return nil, refuse(NotRecorded, err, try("last backup"), ReleaseAltered, release.Code, release.Label)
	}
	return p, r.unreadOr(err)
}

// unreadOr is unread for an error, nil for none.
func (r Records) unreadOr(err error) error {
	if err == nil {
		return nil
	}
	return r.unread(err)
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
	return r.unreadOr(err)
}

// RevisionOf is a product as the records keep it.
func RevisionOf(p *product.Product) runs.Revision {
	return runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}
}
