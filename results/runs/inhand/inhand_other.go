//go:build !linux && !windows

package inhand

import (
	"fmt"
	"sync"
)

// Lock keeps a start in the hands of this process. Other processes do not see
// it on this system and take the start for one whose holder is gone: let one
// process at a time test with a store.
type Lock struct{ of key }

type key struct {
	path   string
	number int64
}

var locks sync.Map

func Take(path string, number int64) (Lock, error) {
	of := key{path, number}
	if _, taken := locks.LoadOrStore(of, true); taken {
		return Lock{}, fmt.Errorf("take start %d: %w", number, ErrTaken)
	}
	return Lock{of}, nil
}

func (g Lock) Release() { locks.Delete(g.of) }

func Held(path string, number int64) (bool, error) {
	_, taken := locks.Load(key{path, number})
	return taken, nil
}
