package station

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/fixture/link"
)

// Everybody at once: scans, stops, clears, exclusive tasks and somebody who lets go of
// the jig and takes it back. What is taken on is shown before anything of it is
// done, whoever looks after each ring has seen the last of it, and nothing is
// left in hand that nobody does.
func TestACrowdAtOneLane(t *testing.T) {
	for seed := range uint64(6) {
		at(t, "", func(s *stand) {
			tested := 0
			s.setup.around = func(name string, do func() error) error {
				if name == "preflight" {
					tested++
					st := s.lane.State()
					assert.Equal(s, Running, st.Phase, "shown before it is done")
					assert.Nil(s, st.Verdict)
				}
				return do()
			}
			s.start()
			changes, stop := s.lane.Subscribe()
			over, seen := make(chan struct{}), uint64(0)
			go func() {
				for {
					select {
					case <-changes:
					case <-over:
						return
					}
					now := s.lane.State().Version
					assert.GreaterOrEqual(s, now, seen)
					seen = now
				}
			}()
			s.crowd(rand.New(rand.NewPCG(seed, 0)))
			s.until("is at rest", func(st State) bool { return !st.Phase.Busy() && st.Jig.Present })
			time.Sleep(time.Second)
			synctest.Wait()
			assert.Equal(s, s.lane.State().Version, seen, "a ring was lost")
			assert.Nil(s, s.lane.queue.Take())
			assert.Positive(s, tested)
			s.tests(s.unit(1000))
			stop()
			close(over)
		})
	}
}

func (s *stand) crowd(rnd *rand.Rand) {
	var all sync.WaitGroup
	for n := range 60 {
		all.Go(func() { s.oneOf(n%6, s.unit(n+1)) })
		time.Sleep(time.Duration(rnd.IntN(200)) * time.Millisecond * time.Duration(rnd.IntN(2)))
	}
	all.Wait()
	if st := s.lane.State(); !st.LetGo.IsZero() {
		assert.NoError(s, s.lane.TakeBack(st.LetGo))
	}
}

func (s *stand) oneOf(what int, serial string) {
	ctx, cancel := context.WithTimeout(s.Context(), time.Second)
	defer cancel()
	switch what {
	case 0, 1:
		s.scan(serial)
	case 2:
		s.lane.Stop()
	case 3:
		_ = s.lane.RunExclusive(ctx, s.exclusive(serial, func(context.Context) error { return errors.New("done") }))
	case 4:
		s.lane.LetGo(ctx)
		_ = s.lane.TakeBack(s.lane.State().LetGo)
	case 5:
		s.lane.Clear()
		s.lane.Refresh()
	}
}

// A stop reaches the unit that is in hand when it is said, and no later one.
func TestAStopIsForTheUnitInHand(t *testing.T) {
	l, _ := laneOf(t)
	l.shown.change(func(s *State) { s.Jig.Present = true })
	first, second := l.State().Product.Serial.Complete(1), l.State().Product.Serial.Complete(2)
	l.Scan(Scan{Serial: first})
	one := l.queue.Take()
	l.loop().refuse(noJig(link.ErrLost, "J-0042")) // it is over
	l.Stop()
	l.Scan(Scan{Serial: second})
	two := l.queue.Take()
	assert.NoError(t, one.ctx.Err(), "nothing was in hand")
	assert.NoError(t, two.ctx.Err(), "the stop came before it")
	l.Stop()
	assert.NoError(t, one.ctx.Err())
	assert.Error(t, two.ctx.Err())
}
