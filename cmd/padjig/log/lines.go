package log

import (
	"bytes"
	"io"
	"sync"
	"time"
)

// How much waits for a stream that takes nothing, and how long its end is waited for.
const (
	mostWaiting = 1 << 20 // bytes
	endPatience = time.Second
)

// lines writes lines to a stream from a goroutine of its own: who logs never waits, whatever
// reads the stream. What there is no room for is dropped, and counted by the line that follows
// those which found room.
type lines struct {
	to   io.Writer
	lost func(n uint64) []byte // the line that says so
	over chan struct{}

	mu      sync.Mutex
	more    sync.Cond
	waiting bytes.Buffer
	dropped uint64
	ended   bool
}

func patient(to io.Writer, lost func(n uint64) []byte) *lines {
	l := &lines{to: to, lost: lost, over: make(chan struct{})}
	l.more.L = &l.mu
	go l.write()
	return l
}

// Write takes a line, or drops it.
func (l *lines) Write(line []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case l.ended:
	case l.waiting.Len()+len(line) > mostWaiting:
		l.dropped++
	default:
		l.waiting.Write(line)
	}
	l.more.Signal()
	return len(line), nil
}

func (l *lines) write() {
	defer close(l.over)
	for {
		l.mu.Lock()
		for l.waiting.Len() == 0 && l.dropped == 0 && !l.ended {
			l.more.Wait()
		}
		some, dropped, ended := bytes.Clone(l.waiting.Bytes()), l.dropped, l.ended
		l.waiting.Reset()
		l.dropped = 0
		l.mu.Unlock()
		if dropped > 0 {
			some = append(some, l.lost(dropped)...)
		}
		_, _ = l.to.Write(some) // whoever should read that it fails reads here
		if ended {
			return
		}
	}
}

// end takes no line any more, and waits until those that it has are written, or nobody reads.
func (l *lines) end() {
	l.mu.Lock()
	l.ended = true
	l.more.Signal()
	l.mu.Unlock()
	late := time.NewTimer(endPatience)
	defer late.Stop()
	select {
	case <-l.over:
	case <-late.C:
	}
}
