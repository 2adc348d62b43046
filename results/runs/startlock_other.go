//go:build !linux

package runs

import (
	"fmt"
	"sync"
)

// startLock keeps a start in the hands of this process. Other processes do not see
// it on this system and take the start for one whose holder is gone: let one
// process at a time test with a store.
type startLock struct{ of startKey }

type startKey struct {
	path   string
	number int64
}

var startLocks sync.Map

func take(path string, number int64) (startLock, error) {
	of := startKey{path, number}
	if _, taken := startLocks.LoadOrStore(of, true); taken {
		return startLock{}, fmt.Errorf("take start %d: %w", number, errTaken)
	}
	return startLock{of}, nil
}

func (g startLock) release() { startLocks.Delete(g.of) }

func held(path string, number int64) (bool, error) {
	_, taken := startLocks.Load(startKey{path, number})
	return taken, nil
}
