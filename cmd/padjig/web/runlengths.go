package web

import (
	"sync"

	"padjig/results/stats"
)

// runLengths keeps what was computed: a set of rules has one run length, and
// that of a set which must be simulated takes a while.
var runLengths = lengths{known: map[string][2]stats.RunLength{}}

type lengths struct {
	mu    sync.Mutex
	known map[string][2]stats.RunLength
}

// of gives the average run lengths without a shift, and with one of one sigma.
func (l *lengths) of(rules stats.Rules) (quiet, shifted stats.RunLength) {
	l.mu.Lock()
	defer l.mu.Unlock()
	both, ok := l.known[rules.String()]
	if !ok {
		both = [2]stats.RunLength{rules.RunLength(0), rules.RunLength(1)}
		l.known[rules.String()] = both
	}
	return both[0], both[1]
}
