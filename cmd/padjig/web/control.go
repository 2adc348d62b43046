package web

import (
	"sync"

	"padjig/cmd/padjig/station"
)

// control says which screen a lane listens to. Others may watch. A screen is a
// browser window; it says its own name, a random word.
type control struct {
	bell station.Bell

	mu     sync.Mutex
	holder string
	name   string         // of the person at it
	here   map[string]int // open streams, by screen
}

func newControl() *control { return &control{here: map[string]int{}} }

// arrive notes that a screen watches; leave when it no longer does.
func (c *control) arrive(screen string) (leave func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.here[screen]++
	return func() {
		c.mu.Lock()
		if c.here[screen]--; c.here[screen] == 0 {
			delete(c.here, screen)
		}
		c.mu.Unlock()
		c.bell.Ring()
	}
}

// use takes control for a screen if nobody else who is still there has it.
func (c *control) use(screen, name string) bool {
	c.mu.Lock()
	free := c.holder == "" || c.holder == screen || c.here[c.holder] == 0
	changed := free && c.holder != screen
	if free {
		c.holder, c.name = screen, name
	}
	c.mu.Unlock()
	if changed {
		c.bell.Ring()
	}
	return free
}

// take gives control to a screen, whoever had it.
func (c *control) take(screen, name string) {
	c.mu.Lock()
	c.holder, c.name = screen, name
	c.mu.Unlock()
	c.bell.Ring()
}

// elsewhere gives the name of the person at another screen that has control,
// empty when this screen may have it.
func (c *control) elsewhere(screen string) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.holder == "" || c.holder == screen || c.here[c.holder] == 0 {
		return ""
	}
	return c.name
}
