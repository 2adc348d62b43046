package pulse

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
)

// A loop turns while it beats, and may be silent for longer while it works at something; a rest is no silence.
func TestALoopTurnsOrStandsStill(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var p Pulse
		assert.ErrorContains(t, p.Turning(), "has not begun")
		p.Beat()
		time.Sleep(BetweenTurns)
		assert.NoError(t, p.Turning())
		time.Sleep(time.Second)
		assert.EqualError(t, p.Turning(), "has stood still for 31s, at most 30s is usual")
		done := p.Work(AtUnit)
		time.Sleep(AtUnit)
		assert.NoError(t, p.Turning())
		time.Sleep(time.Second)
		assert.Error(t, p.Turning())
		p.Beat()
		time.Sleep(AtUnit)
		assert.NoError(t, p.Turning(), "a step of the work is one of the loop")
		done()
		assert.NoError(t, p.Turning())
		time.Sleep(BetweenTurns + time.Second)
		assert.Error(t, p.Turning(), "the work is over")

		ctx, cancel := context.WithCancel(t.Context())
		wake := make(chan struct{}, 1)
		over := make(chan struct{})
		rest := func(d time.Duration) { p.Rest(ctx, wake, d); over <- struct{}{} }
		go rest(0)
		time.Sleep(time.Hour)
		assert.NoError(t, p.Turning(), "it would wake")
		wake <- struct{}{}
		<-over
		began := time.Now()
		go rest(500 * time.Millisecond)
		<-over
		assert.Equal(t, 500*time.Millisecond, time.Since(began))
		go rest(0)
		cancel()
		<-over
	})
}
