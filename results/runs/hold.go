package runs

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"

	"padjig/results/runs/inhand"
	"padjig/results/store"
)

// unitsFrom is where the bytes of units begin in the lock file, far behind those of starts.
const unitsFrom = 1 << 40

// takeUnit takes a unit into this process's hands, as a test does or whoever looks at it
// without one. Two serial numbers share a byte once in 2^40.
func takeUnit(path, serial string) (inhand.Lock, error) {
	h := fnv.New64a()
	_, _ = h.Write([]byte(serial)) // never fails
	return inhand.Take(path, unitsFrom+int64(h.Sum64()>>24))
}

// Hold takes a unit for what is no run and leaves nothing in the records, as a check on the
// jig, until it is released: nobody else tests it or looks at it meanwhile. One that
// somebody has in hand is refused with an [InHandError].
func (s *Records) Hold(ctx context.Context, serial string) (release func(), err error) {
	lock, err := takeUnit(s.db.LockPath(), serial)
	taken := errors.Is(err, inhand.ErrTaken)
	if err == nil || taken {
		err = beingTested(ctx, s, serial) // by a program of before, too, which takes no units
	}
	switch {
	case err != nil:
		lock.Release()
		return nil, fmt.Errorf("take unit %q in hand: %w", serial, err)
	case taken: // and no test of it is in the records: of whoever looks at it no more is known
		return nil, looked(serial)
	}
	return lock.Release, nil
}

// beingTested refuses a unit that is being tested.
func beingTested(ctx context.Context, s *Records, serial string) error {
	list, err := s.Starts(ctx, serial)
	for _, start := range list {
		if start.InHand {
			return &InHandError{start}
		}
	}
	return err
}

func looked(serial string) error {
	return &InHandError{Start{Serial: serial, Host: store.ThisStation().Host}}
}
