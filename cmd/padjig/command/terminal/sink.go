package terminal

import (
	"io"
	"os"
	"sync"
)

// Sink is a standard output that remembers that it did not take everything: most of what is
// printed goes out a line at a time, and a disk that is full says so to nobody.
type Sink struct {
	io.Writer

	mu     sync.Mutex
	failed error
}

func (s *Sink) Write(b []byte) (int, error) {
	n, err := s.Writer.Write(b)
	if err != nil {
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.failed == nil {
			s.failed = err
		}
	}
	return n, err
}

// Failed is what kept the first text from going out, nil where all went.
func (s *Sink) Failed() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.failed
}

// fileOf is the file behind a writer, nil where it is none.
func fileOf(w io.Writer) *os.File {
	if s, is := w.(*Sink); is {
		w = s.Writer
	}
	f, _ := w.(*os.File)
	return f
}
