package bench

import (
	"context"
	"errors"

	"padjig/results"
	"padjig/results/runs"
	"padjig/sequence/product"
)

// Released gives the revision of a product that is in force by its newest
// release, nil for a product that was never released. A release that is not what
// was released is refused: nobody knows then what holds.
func Released(ctx context.Context, store *results.Store, code, at string) (*product.Product, error) {
	list, err := store.Runs.Releases(ctx, code)
	if err != nil {
		return nil, refuse(NotRecorded, err, try("check records", at), NoRecords)
	}
	if len(list) == 0 {
		return nil, nil
	}
	p, err := list[0].Product()
	if err != nil {
		return nil, refuse(NotRecorded, err, try("last backup"),
			ReleaseAltered, code, list[0].Label)
	}
	return p, nil
}

// CheckLabel refuses a definition whose revision label the records know with another one.
func CheckLabel(ctx context.Context, store *results.Store, p *product.Product, at string) error {
	return labelRefusal(store.Runs.CheckLabel(ctx, RevisionOf(p)), at)
}

func labelRefusal(err error, at string) error {
	if taken, is := errors.AsType[*runs.LabelTaken](err); is {
		return refuse(Wrong, err,
			try("own label"),
			LabelTaken, taken.Code, taken.Known, product.SayDifferences(taken.Differences))
	}
	if err != nil {
		return refuse(NotRecorded, err, try("check records", at), NoRecords)
	}
	return nil
}

// revision refuses a definition that must not be tested by: one whose label is
// another's, and for production, once there are releases, all but the one in force.
func (j *Job) revision(ctx context.Context) error {
	holds, err := Released(ctx, j.Store, j.Product.Code, j.At)
	if err != nil {
		return err
	}
	if err := CheckLabel(ctx, j.Store, j.Product, j.At); err != nil {
		return err
	}
	if holds == nil || j.Study || isRevision(j.Product, holds.Revision, holds.Hash()) {
		return nil // a gauge study judges the jig, also by limits that are not released yet
	}
	if j.Return != nil {
		if allowed, err := j.ofThatUnit(ctx); err != nil || allowed {
			return err
		}
	}
	return refuse(Wrong, nil, try("what is released", j.Product.Code, j.At),
		NotReleased, j.Product.Code, j.Product.Revision, holds.Revision, holds.Hash()[:12])
}

func isRevision(p *product.Product, label, hash string) bool {
	return p.Revision == label && p.Hash() == hash
}

// ofThatUnit reports whether a unit that came back may be judged by the product:
// by a revision that was in force at some time, or that the unit was made by.
func (j *Job) ofThatUnit(ctx context.Context) (bool, error) {
	list, err := j.Store.Runs.Releases(ctx, j.Product.Code)
	for _, r := range list {
		if isRevision(j.Product, r.Label, r.Hash) {
			return true, nil
		}
	}
	tested := false
	if err == nil {
		tested, err = j.Store.Runs.Tested(ctx, j.Serial, j.Product.Hash())
	}
	if err != nil {
		return false, j.noRecords(err)
	}
	return tested, nil
}

// introduce makes the revision known before anything moves.
func (j *Job) introduce(ctx context.Context) error {
	return labelRefusal(j.Store.Runs.Introduce(ctx, RevisionOf(j.Product)), j.At)
}
