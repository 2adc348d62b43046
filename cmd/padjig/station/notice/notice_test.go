package notice

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/fixture/link"
)

// Everybody who listens hears that something changed, once for many changes, and
// who does not listen holds nobody up.
func TestNotifier(t *testing.T) {
	var b Notifier
	b.Notify() // to nobody
	first, stop := b.Subscribe()
	second, _ := b.Subscribe()
	for range 3 {
		b.Notify()
	}
	assert.Len(t, first, 1)
	assert.Len(t, second, 1)
	<-first
	stop()
	b.Notify()
	assert.Empty(t, first)
	assert.True(t, b.Heard())
}

// Frames are kept while somebody looks, the last ones of them, each given once.
func TestTraffic(t *testing.T) {
	var l Traffic
	l.Add(link.Event{})
	frames, last := l.Since(0)
	assert.Empty(t, frames, "nobody looked")
	assert.Zero(t, last)
	news, stop := l.Subscribe()
	for range trafficKept + 10 {
		l.Add(link.Event{})
	}
	assert.Len(t, news, 1)
	frames, last = l.Since(0)
	assert.Len(t, frames, trafficKept)
	assert.Equal(t, uint64(trafficKept+10), last)
	frames, _ = l.Since(last - 3)
	assert.Len(t, frames, 3)
	frames, _ = l.Since(last + 5) // of a station that was started anew
	assert.Empty(t, frames)
	stop()
	l.Add(link.Event{})
	_, again := l.Since(last)
	assert.Equal(t, last, again)
}
