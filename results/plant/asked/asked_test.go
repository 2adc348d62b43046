package asked_test

import (
	"context"
	"errors"
	"io"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/asked"
	"padjig/results/runs/elsewhere"
)

const bound = 300 * time.Millisecond

// slow is a plant that answers after some time, as long as it is asked.
type slow struct {
	takes  atomic.Int64 // ns
	asked  atomic.Int64
	failed error
}

func (s *slow) look(ctx context.Context, serial string) (*elsewhere.Unit, error) {
	s.asked.Add(1)
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-time.After(time.Duration(s.takes.Load())):
		return &elsewhere.Unit{Serial: serial}, s.failed
	}
}

// settled is how long it was waited, and for what.
func settled(t *testing.T, q *asked.Question) (elsewhere.Answer, time.Duration) {
	t.Helper()
	began := time.Now()
	a := q.Settle(t.Context())
	return a, time.Since(began)
}

func inFakeTime(t *testing.T, wait time.Duration, do func(*testing.T, *slow, *asked.Plant)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		s := &slow{}
		p := asked.New(s.look, wait)
		t.Cleanup(p.Close)
		do(t, s, p)
	})
}

// An answer within the bound is gone by, and whoever settles waits for no longer than it takes. What was done since the scan counts.
func TestAnswerInTime(t *testing.T) {
	inFakeTime(t, bound, func(t *testing.T, s *slow, p *asked.Plant) {
		s.takes.Store(int64(200 * time.Millisecond))
		q := p.Ask("GCC-1")
		time.Sleep(150 * time.Millisecond)
		assert.Nil(t, q.Known())
		a, waited := settled(t, q)
		assert.Equal(t, elsewhere.Given, a.Word)
		assert.Equal(t, "GCC-1", a.Unit.Serial)
		assert.Equal(t, 50*time.Millisecond, waited)
		assert.False(t, a.Word.Alone())
	})
}

// A late answer is not waited for beyond the bound, and changes nothing when it comes.
func TestLateAnswerChangesNothing(t *testing.T) {
	inFakeTime(t, bound, func(t *testing.T, s *slow, p *asked.Plant) {
		s.takes.Store(int64(time.Second))
		q := p.Ask("GCC-1")
		a, waited := settled(t, q)
		assert.Equal(t, elsewhere.Late, a.Word)
		assert.Equal(t, bound, waited)
		time.Sleep(2 * time.Second)
		assert.Nil(t, q.Known(), "it has come, and is not gone by")
		again, waited := settled(t, q)
		assert.Equal(t, a, again)
		assert.Zero(t, waited)
	})
}

// Where somebody took longer than the bound to close the lid nothing is waited for, and an answer that came meanwhile is taken.
func TestNothingIsWaitedForBehindTheBound(t *testing.T) {
	inFakeTime(t, bound, func(t *testing.T, s *slow, p *asked.Plant) {
		s.takes.Store(int64(time.Second))
		late, in := p.Ask("GCC-1"), p.Ask("GCC-2")
		time.Sleep(500 * time.Millisecond)
		_, waited := settled(t, late)
		assert.Zero(t, waited)
		time.Sleep(time.Second)
		a, waited := settled(t, in)
		assert.Zero(t, waited)
		assert.Equal(t, elsewhere.Given, a.Word)
	})
}

// A dead plant costs three units the bound, and the next hundred nothing; it is asked one question at a time meanwhile. When it
// answers it is waited for again.
func TestDeadPlant(t *testing.T) {
	inFakeTime(t, bound, func(t *testing.T, s *slow, p *asked.Plant) {
		s.takes.Store(int64(time.Hour))
		var cost time.Duration
		for range 103 {
			a, waited := settled(t, p.Ask("GCC-1"))
			assert.True(t, a.Word.Alone())
			cost += waited
			time.Sleep(20 * time.Second)
		}
		assert.Equal(t, 3*bound, cost)
		assert.True(t, p.Silent())

		s.asked.Store(0)
		for range 50 {
			p.Ask("GCC-1")
		}
		synctest.Wait()
		assert.EqualValues(t, 1, s.asked.Load(), "one at a time")
		time.Sleep(20 * time.Second)

		s.takes.Store(int64(10 * time.Millisecond))
		q := p.Ask("GCC-2")
		a, waited := settled(t, q)
		assert.Zero(t, waited)
		assert.True(t, a.Word.Alone())
		time.Sleep(time.Second)
		assert.False(t, p.Silent())
		a, waited = settled(t, p.Ask("GCC-3"))
		assert.Equal(t, elsewhere.Given, a.Word)
		assert.Equal(t, 10*time.Millisecond, waited)
	})
}

// What the plant says instead of an answer ends the waiting at once.
func TestWhyThereIsNoAnswer(t *testing.T) {
	for word, err := range map[elsewhere.Word]error{elsewhere.Away: io.ErrUnexpectedEOF, elsewhere.Refused: errors.New("no table unit")} {
		inFakeTime(t, bound, func(t *testing.T, s *slow, p *asked.Plant) {
			s.failed = err
			a, waited := settled(t, p.Ask("GCC-1"))
			assert.Equal(t, word, a.Word)
			assert.Nil(t, a.Unit)
			assert.Zero(t, waited)
		})
	}
	inFakeTime(t, 0, func(t *testing.T, s *slow, p *asked.Plant) {
		a, _ := settled(t, p.Ask("GCC-1"))
		assert.Equal(t, elsewhere.NotAsked, a.Word)
		assert.Zero(t, s.asked.Load())
	})
	var none *asked.Plant
	a, _ := settled(t, none.Ask("GCC-1"))
	assert.Zero(t, a)
	assert.Nil(t, none.Ask("GCC-1").Known())
	assert.False(t, none.Silent())
}

// A panic in asking is an answer that was not given, and the next question is asked.
func TestPanicInAsking(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := asked.New(func(context.Context, string) (*elsewhere.Unit, error) { panic("nonsense") }, bound)
		defer p.Close()
		a, _ := settled(t, p.Ask("GCC-1"))
		assert.Equal(t, elsewhere.Refused, a.Word)
	})
}

// A unit that lay in an open jig for minutes is asked about once more; where the plant is gone by then, what it said before is kept.
func TestOldAnswer(t *testing.T) {
	inFakeTime(t, bound, func(t *testing.T, s *slow, p *asked.Plant) {
		q, other := p.Ask("GCC-1"), p.Ask("GCC-2")
		time.Sleep(time.Minute)
		require.NotNil(t, q.Known())
		a, _ := settled(t, q)
		assert.Equal(t, elsewhere.Given, a.Word)
		assert.EqualValues(t, 3, s.asked.Load())
		s.takes.Store(int64(time.Hour))
		a, waited := settled(t, other)
		assert.Equal(t, elsewhere.Late, a.Word)
		assert.Equal(t, bound, waited)
		assert.Equal(t, "GCC-2", a.Unit.Serial)
	})
}
