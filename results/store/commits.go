package store

import (
	"sync"
	"time"
)

// CommitBounds are the upper bounds of the classes in which commits are counted by how long they took.
var CommitBounds = []time.Duration{
	time.Millisecond, 2500 * time.Microsecond, 5 * time.Millisecond, 10 * time.Millisecond, 25 * time.Millisecond, 50 * time.Millisecond,
	100 * time.Millisecond, 250 * time.Millisecond, 500 * time.Millisecond, time.Second, 5 * time.Second,
}

// Commits are how long commits took, durable on the disk, since the store was opened.
type Commits struct {
	Counts []int64 // by CommitBounds, one more for those above all
	Took   time.Duration
}

// commits counts them.
type commits struct {
	mu sync.Mutex
	Commits
}

func (c *commits) note(took time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.Counts == nil {
		c.Counts = make([]int64, len(CommitBounds)+1)
	}
	at := 0
	for at < len(CommitBounds) && took > CommitBounds[at] {
		at++
	}
	c.Counts[at]++
	c.Took += took
}

// CommitsOf gives those of a store as they are now.
func CommitsOf(s *DB) Commits {
	s.committed.mu.Lock()
	defer s.committed.mu.Unlock()
	counts := make([]int64, len(CommitBounds)+1)
	copy(counts, s.committed.Counts)
	return Commits{counts, s.committed.Took}
}
