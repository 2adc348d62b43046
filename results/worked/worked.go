// Package worked keeps what took long to work out, so that it is worked out once: for results that depend on nothing but what
// they are named by. What depends on records is not for it.
package worked

import "sync"

// most is how many results are kept: a page is looked at with a few choices, over and over.
const most = 1000

// Memory keeps results by their names. It is forgotten with its owner, and safe to be asked from anywhere.
type Memory struct {
	mu   sync.Mutex
	kept map[string]func() any
}

// Out gives the result of a name, made when it is asked for first; whoever asks meanwhile waits for it. The name says everything that
// the result depends on, and its kind.
func Out[T any](m *Memory, name string, work func() T) T {
	return m.of(name, func() any { return work() })().(T)
}

func (m *Memory) of(name string, work func() any) func() any {
	m.mu.Lock()
	defer m.mu.Unlock()
	known := m.kept[name]
	if known == nil {
		if m.kept == nil || len(m.kept) >= most {
			m.kept = map[string]func() any{} // simpler than to know which are old, and no slower a page than at the start
		}
		known = sync.OnceValue(work)
		m.kept[name] = known
	}
	return known
}
