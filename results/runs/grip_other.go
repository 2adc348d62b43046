//go:build !linux

package runs

import (
	"fmt"
	"sync"
)

// grip keeps a start in the hands of this process. Other processes do not see
// it on this system and take the start for one whose holder is gone: let one
// process at a time test with a store.
type grip struct{ of gripKey }

type gripKey struct {
	path   string
	number int64
}

var grips sync.Map

func take(path string, number int64) (grip, error) {
	of := gripKey{path, number}
	if _, taken := grips.LoadOrStore(of, true); taken {
		return grip{}, fmt.Errorf("take start %d: it is taken", number)
	}
	return grip{of}, nil
}

func (g grip) release() { grips.Delete(g.of) }

func held(path string, number int64) (bool, error) {
	_, taken := grips.Load(gripKey{path, number})
	return taken, nil
}
