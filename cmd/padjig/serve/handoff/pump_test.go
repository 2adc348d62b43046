package handoff

import (
	"context"
	"errors"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/handoff"
	"padjig/results/runs/runstest"
)

// receiver is one of whom a test decides what becomes of each message.
type receiver struct {
	taken
	answer func(m Message) error // nil: it takes it
	tries  []time.Time
	hangs  chan struct{} // until it is closed, if there is one
}

// says sets what it answers from now on.
func (r *receiver) says(answer func(Message) error) {
	r.Lock()
	defer r.Unlock()
	r.answer = answer
}

// tried is when it was sent something.
func (r *receiver) tried() []time.Time {
	r.Lock()
	defer r.Unlock()
	return slices.Clone(r.tries)
}

func (r *receiver) Send(ctx context.Context, m Message) error {
	r.Lock()
	r.tries = append(r.tries, time.Now())
	answer := r.answer
	r.Unlock()
	if r.hangs != nil {
		select {
		case <-r.hangs:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	if answer != nil {
		if err := answer(m); err != nil {
			return err
		}
	}
	r.take(m.Body)
	return nil
}

func (*receiver) Close() {}

// What is stored before, while and after a receiver is there gets to it, each once where
// nothing goes wrong.
func TestHandsOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{}
		h.save(1, 2, 3)
		end := h.hand(r)
		time.Sleep(2 * look)
		h.save(4)
		time.Sleep(2 * look)
		end()
		h.save(5)
		end = h.hand(r)
		time.Sleep(2 * look)
		end()
		r.sound(h)
		assert.Len(t, r.all(), 5)
		has, behind, _ := h.progress()
		assert.EqualValues(t, 5, has)
		assert.Zero(t, behind)
	})
}

// A receiver that hangs does not slow the storing of a run, and nothing is read ahead of what
// it has taken.
func TestHangingReceiverHoldsUpNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{hangs: make(chan struct{})}
		end := h.hand(r)
		began := time.Now()
		for i := range 200 {
			h.save(i)
		}
		assert.Zero(t, time.Since(began), "no run waited for it")
		time.Sleep(sendFor + time.Minute)
		assert.NotEmpty(t, r.tried())
		_, behind, why := h.progress()
		assert.EqualValues(t, 200, behind)
		assert.Contains(t, why, "deadline exceeded")
		close(r.hangs)
		time.Sleep(lastTry)
		end()
		r.sound(h)
	})
}

// The longer a receiver is away, the less often it is tried, never at the same distance for
// all, and never less often than it is said; it is told how it stands.
func TestTriesLessOften(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{answer: func(Message) error { return errors.New("connection refused") }}
		h.save(1)
		end := h.hand(r)
		time.Sleep(2 * time.Hour)
		n := len(r.tried())
		assert.Greater(t, n, int(2*time.Hour/lastTry))
		assert.Less(t, n, 2*int(2*time.Hour/lastTry)+20)
		var waits []time.Duration
		for i := range n - 1 {
			waits = append(waits, r.tried()[i+1].Sub(r.tried()[i]))
			assert.LessOrEqual(t, waits[i], lastTry+look)
		}
		assert.Less(t, waits[0], 2*firstTry)
		assert.NotEqual(t, waits[n-2], waits[n-3], "jitter")
		st, err := h.HandOff.Receiver(t.Context(), "mes")
		require.NoError(t, err)
		assert.Equal(t, "connection refused", st.Trouble.Why)
		assert.False(t, st.Trouble.Refused)
		assert.WithinRange(t, st.Trouble.Next, time.Now(), time.Now().Add(lastTry))
		r.says(nil)
		time.Sleep(lastTry)
		end()
		r.sound(h)
		_, _, why := h.progress()
		assert.Empty(t, why)
	})
}

// A receiver that says how long it wants to be left alone is, but not for ever.
func TestLeavesAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{}
		asks := func(d time.Duration) func(Message) error {
			return func(Message) error { return &LaterError{d, "HTTP 503"} }
		}
		r.says(asks(90 * time.Second))
		h.save(1)
		end := h.hand(r)
		time.Sleep(time.Second)
		r.says(asks(1000 * time.Hour))
		time.Sleep(2 * time.Minute)
		require.Len(t, r.tried(), 2)
		assert.GreaterOrEqual(t, r.tried()[1].Sub(r.tried()[0]), 90*time.Second)
		r.says(nil)
		time.Sleep(longest + look)
		end()
		r.sound(h)
	})
}

// What is refused for good stops the receiver: nothing is left out before a person decides,
// and what is decided stands in the records.
func TestRefusedStops(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{}
		h.save(1, 2, 3)
		ids := h.stored()
		r.answer = func(m Message) error {
			if m.ID == ids[1] {
				return &RefusedError{"HTTP 422: no such unit"}
			}
			return nil
		}
		end := h.hand(r)
		time.Sleep(24 * time.Hour)
		assert.Equal(t, ids[:1], r.once())
		assert.Len(t, r.tried(), 2, "it is not tried again")
		has, behind, why := h.progress()
		assert.EqualValues(t, 1, has)
		assert.EqualValues(t, 2, behind)
		assert.Equal(t, "HTTP 422: no such unit", why)
		end()
		end = h.hand(r) // a station that starts anew tries once
		time.Sleep(time.Hour)
		assert.Len(t, r.tried(), 3)

		require.NoError(t, h.HandOff.LeaveOut(t.Context(), "mes", 2, "Ines", "told by hand"))
		time.Sleep(2 * look)
		end()
		assert.Equal(t, []string{ids[0], ids[2]}, r.once())
		h.save(4)
		end = h.hand(r)
		time.Sleep(2 * look)
		end()
		assert.Equal(t, []string{ids[0], ids[2], h.stored()[3]}, r.once())
	})
}

// A person has all sent again from an event on, also while the pump waits for a receiver.
func TestSentAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{}
		h.save(1, 2, 3)
		end := h.hand(r)
		defer func() { end() }()
		time.Sleep(2 * look)
		require.Len(t, r.all(), 3)
		require.NoError(t, h.HandOff.Again(t.Context(), "mes", 2, "Ines", "their disk was lost"))
		time.Sleep(2 * look)
		ids := h.stored()
		assert.Equal(t, []string{ids[0], ids[1], ids[2], ids[1], ids[2]}, r.all())
		r.sound(h)

		r.says(func(Message) error { return &RefusedError{"HTTP 401"} })
		h.save(4)
		time.Sleep(time.Minute)
		r.says(nil)
		require.NoError(t, h.HandOff.Again(t.Context(), "mes", 4, "Ines", "they know our key now"))
		time.Sleep(2 * look)
		r.sound(h)
	})
}

// What says nothing of a real unit for production is left out, unless it was asked for.
func TestPracticeIsLeftOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{}
		h.save(1)
		simulated := runstest.Passed(unit(2))
		simulated.Simulated = true
		_, err := h.Runs.Save(t.Context(), runstest.Climate(), simulated)
		require.NoError(t, err)
		h.save(3)
		end := h.hand(r)
		time.Sleep(2 * look)
		end()
		ids := h.stored()
		assert.Equal(t, []string{ids[0], ids[2]}, r.all())
		require.NoError(t, h.HandOff.Again(t.Context(), "mes", 1, "Ines", "all of it"))
		end = Start(t.Context(), h.HandOff, []Receiver{{"mes", r}}, true)
		time.Sleep(2 * look)
		end()
		assert.Equal(t, ids, r.all()[2:])
		assert.Contains(t, r.bodies[ids[1]], `"simulated":true,"timestamp"`)
	})
}

// Of two stations on one store one sends; when it ends the other goes on.
func TestTwoStations(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, first, second := newHouse(t), &receiver{}, &receiver{}
		endFirst := h.hand(first)
		time.Sleep(look)
		endSecond := (&house{t, open(t, h.Path())}).hand(second)
		h.save(1, 2)
		time.Sleep(5 * look)
		assert.Len(t, first.all(), 2)
		assert.Empty(t, second.all())
		endFirst()
		h.save(3)
		time.Sleep(5 * look)
		endSecond()
		assert.Equal(t, h.stored(), append(first.all(), second.all()...))
	})
}

// counted counts what is written down while a pump catches up.
type counted struct {
	Records
	reads, most, kept int
}

func (c *counted) Next(ctx context.Context, after int64, n int) ([]handoff.Event, error) {
	list, err := c.Records.Next(ctx, after, n)
	c.reads++
	c.most = max(c.most, len(list))
	return list, err
}

func (c *counted) Delivered(ctx context.Context, st *handoff.Progress, upTo int64) error {
	c.kept++
	return c.Records.Delivered(ctx, st, upTo)
}

// However far behind: a few events are in memory at a time, and the store's one writer is
// asked once a second, not once an event.
func TestCatchesUpInPieces(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{answer: func(Message) error { time.Sleep(10 * time.Millisecond); return nil }}
		for i := range 500 {
			h.save(i)
		}
		c := &counted{Records: h.HandOff}
		end := Start(t.Context(), c, []Receiver{{"mes", r}}, false)
		time.Sleep(10 * time.Second)
		end()
		r.sound(h)
		assert.Equal(t, ahead, c.most)
		assert.LessOrEqual(t, c.kept, 7, "500 events of 10 ms")
	})
}

// Records that cannot be read or written end nothing: they are asked again, and no event is
// lost or counted as delivered.
func TestRecordsThatFail(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, r := newHouse(t), &receiver{}
		h.save(1, 2)
		f := &faulty{Records: h.HandOff, left: 3}
		end := Start(t.Context(), f, []Receiver{{"mes", r}}, false)
		time.Sleep(time.Minute)
		end()
		r.sound(h)
		assert.Zero(t, f.left)
		has, _, _ := h.progress()
		assert.EqualValues(t, 2, has)
	})
}

// faulty cannot be written to for a while.
type faulty struct {
	Records
	left int
}

func (f *faulty) Delivered(ctx context.Context, st *handoff.Progress, upTo int64) error {
	if f.left > 0 {
		f.left--
		return errors.New("disk I/O error")
	}
	return f.Records.Delivered(ctx, st, upTo)
}
