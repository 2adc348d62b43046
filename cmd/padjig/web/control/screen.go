package control

import (
	"sync"

	"padjig/cmd/padjig/station/watch"
)

// screens say which screen a lane listens to. Others may watch. A screen is a
// browser window; it says its own name, a random word.
type screens struct {
	notifier watch.Notifier

	mu     sync.Mutex
	holder string
	name   string         // of the person at it
	here   map[string]int // open streams, by screen
}

func newScreens() *screens { return &screens{here: map[string]int{}} }

// arrive notes that a screen watches; leave when it no longer does.
func (c *screens) arrive(screen string) (leave func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.here[screen]++
	return func() {
		c.mu.Lock()
		if c.here[screen]--; c.here[screen] == 0 {
			delete(c.here, screen)
		}
		c.mu.Unlock()
		c.notifier.Notify()
	}
}

// use takes control for a screen if nobody else who is still there has it, or by
// force whoever has it.
func (c *screens) use(screen, name string, force bool) bool {
	c.mu.Lock()
	free := force || c.holder == "" || c.holder == screen || c.here[c.holder] == 0
	changed := free && (force || c.holder != screen)
	if free {
		c.holder, c.name = screen, name
	}
	c.mu.Unlock()
	if changed {
		c.notifier.Notify()
	}
	return free
}

// elsewhere gives the name of the person at another screen that has control,
// empty when this screen may have it.
func (c *screens) elsewhere(screen string) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.holder == "" || c.holder == screen || c.here[c.holder] == 0 {
		return ""
	}
	return c.name
}
