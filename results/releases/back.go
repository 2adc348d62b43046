package releases

import (
	"context"
	"errors"

	"padjig/results/runs"
)

// Errors of going back.
var (
	ErrNoneBefore = errors.New("no other revision was in force before")
	// ErrOtherBefore is of a revision that is not the one before any more: somebody released one meanwhile.
	ErrOtherBefore = errors.New("another revision was in force before")
)

// Before is the release of the revision that was in force before the one that is, nil for none; list is the newest first,
// as [runs.Records.Releases] gives it.
func Before(list []runs.Release) *runs.Release {
	for i := range list {
		if list[i].Hash != list[0].Hash {
			return &list[i]
		}
	}
	return nil
}

// Return proposes the revision of a product that was in force before the one that is: in force at once where it lets no more
// through. hash is that of the revision meant by whoever looked at it, so that done twice it does not go back to
// where it came from; "" is whichever it is.
func (s *Records) Return(ctx context.Context, code, hash, by, reason string) (Proposal, error) {
	list, err := s.runs.Releases(ctx, code)
	if err != nil {
		return Proposal{}, err
	}
	before := Before(list)
	switch {
	case before == nil:
		return Proposal{}, ErrNoneBefore
	case hash != "" && hash != before.Hash:
		return Proposal{}, ErrOtherBefore
	}
	from := ""
	if of, err := before.Product(); err == nil {
		from = of.Serial.Complete(0)
	}
	return s.Propose(ctx, Proposal{Code: code, Label: before.Label, Hash: before.Hash, Back: true, Source: before.Source, By: by, Reason: reason, FromSerial: from})
}
