package runner_test

import (
	"context"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/sequence"
)

// letGo counts how often a jig is made inert.
type letGo struct {
	*fixture.Jig
	times int
}

func (l *letGo) Inert(ctx context.Context) error {
	l.times++
	return l.Jig.Inert(ctx)
}

// A key that is watched reads the same all the while, as often as was asked,
// and the jig is inert however it ends.
func TestFollowAKey(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20")}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		plan, watched := b.plan(t, jig), &letGo{Jig: jig}
		var seen []sequence.Live
		err := plan.Follow(t.Context(), watched, 6, 250*time.Millisecond, 5*time.Second, func(r sequence.Live) { seen = append(seen, r) })
		assert.NoError(t, err)
		assert.Len(t, seen, 20)
		for _, r := range seen {
			assert.True(t, r.Closed)
			assert.InDelta(t, float64(seen[0].Ohm.Value), float64(r.Ohm.Value), 4*float64(r.Ohm.U), "two readings differ by less than both expanded uncertainties")
		}
		assert.Equal(t, 1, watched.times)

		ctx, cancel := context.WithCancel(t.Context())
		err = plan.Follow(ctx, watched, 6, 250*time.Millisecond, time.Minute, func(r sequence.Live) {
			if r.At > time.Second {
				cancel()
			}
		})
		assert.ErrorIs(t, err, context.Canceled)
		assert.Equal(t, 2, watched.times)

		b.how = sequence.Electrical // as on a jig without actuators: a person presses, here nobody
		plan = b.plan(t, jig)
		seen = nil
		assert.NoError(t, plan.Follow(t.Context(), watched, 6, 250*time.Millisecond, time.Second, func(r sequence.Live) { seen = append(seen, r) }))
		for _, r := range seen {
			assert.False(t, r.Closed, "let go after the watch before, and not pressed by this one")
		}
		assert.Len(t, seen, 4)
	})
}

// A key is followed twenty times a second over a line of 115200 baud, also where the adapter holds bytes back
// for 16 ms each way; such a line carries 22, one that holds nothing back 78. In fake time: the jig's and the line's own.
func TestFollowTwentyTimesASecond(t *testing.T) {
	const long = 5 * time.Second // an actuator stands 10
	for _, c := range []struct {
		latency, every time.Duration
		least, most    int
	}{
		{0, 50 * time.Millisecond, 100, 100}, {16 * time.Millisecond, 50 * time.Millisecond, 100, 100},
		{0, time.Millisecond, 380, 400}, {16 * time.Millisecond, time.Millisecond, 107, 115},
	} {
		synctest.Test(t, func(t *testing.T) {
			b := bench{product: load(t, "gcc-20"), latency: c.latency}
			jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
			defer disconnect()
			seen := 0
			assert.NoError(t, b.plan(t, jig).Follow(t.Context(), jig, 6, c.every, long, func(sequence.Live) { seen++ }))
			assert.GreaterOrEqual(t, seen, c.least, "%+v", c)
			assert.LessOrEqual(t, seen, c.most, "%+v", c)
		})
	}
}

// A key that is watched for longer than its actuator stands is let go of in time, rests, and is pressed again.
func TestFollowLetsTheActuatorRest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20")}
		sim := b.simulate(t)
		jig, disconnect := simport.Connect(t, sim, link.Options{})
		defer disconnect()
		duty := jig.Capabilities().Duty
		var last, longest, read time.Duration
		rests := 0
		assert.NoError(t, b.plan(t, jig).Follow(t.Context(), jig, 6, 100*time.Millisecond, 2*time.Minute, func(r sequence.Live) {
			if r.Rests {
				rests++
				return
			}
			assert.True(t, r.Closed)
			longest, last = max(longest, r.At-last), r.At
			if longest < time.Second {
				read = r.At
			}
		}))
		assert.InDelta(t, duty.Hold.Seconds(), read.Seconds(), 1, "held for as long as it may be")
		assert.InDelta(t, duty.Hold.Seconds(), longest.Seconds(), 1, "half of the time it rests")
		assert.Equal(t, 6, rests)
		assert.EqualValues(t, 7, slices.Max(sim.Counts().Presses), "two minutes of ten seconds down and ten up")
	})
}
