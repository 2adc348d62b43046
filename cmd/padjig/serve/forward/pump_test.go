package forward_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/serve/forward"
	plant "padjig/results/plant/forward"
)

// answering is a plant that answers as it is told.
type answering struct {
	answer func(ctx context.Context, size int) (plant.Brought, error)
	at     []time.Time
	sizes  []int
	closed bool
}

func (b *answering) Batch(ctx context.Context, size int) (plant.Brought, error) {
	b.at, b.sizes = append(b.at, time.Now()), append(b.sizes, size)
	return b.answer(ctx, size)
}

func (b *answering) Close() { b.closed = true }

// pumped lets a pump run for a while, and gives how it stands then and what was logged.
func pumped(t *testing.T, b *answering, d time.Duration) (state forward.State, said string) {
	t.Helper()
	var out bytes.Buffer
	ctx := log.Into(t.Context(), slog.New(slog.NewTextHandler(&out, nil)))
	p := &forward.Pump{Bring: b}
	end := p.Start(ctx)
	time.Sleep(d) // fake time
	synctest.Wait()
	state = p.State()
	end()
	assert.True(t, b.closed)
	return state, out.String()
}

// While there is more, it rests as long as it worked; then it looks once a second.
func TestHalfOfTheTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		left := 5
		b := &answering{answer: func(context.Context, int) (plant.Brought, error) {
			left = max(left-1, 0)
			time.Sleep(3 * time.Second)
			return plant.Brought{Runs: 1, Rows: 10, LeftRuns: int64(left), More: left > 0}, nil
		}}
		state, said := pumped(t, b, 50*time.Second)
		for i := range 4 {
			assert.Equal(t, 6*time.Second, b.at[i+1].Sub(b.at[i]))
		}
		assert.Equal(t, 4*time.Second, b.at[5].Sub(b.at[4]))
		assert.True(t, state.Known)
		assert.Zero(t, state.Behind)
		assert.Empty(t, said)
	})
}

// A plant that is away is tried ever less often, and is taken up again by itself.
func TestPlantThatIsAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		away := time.Now().Add(2 * time.Hour)
		b := &answering{answer: func(context.Context, int) (plant.Brought, error) {
			if time.Now().Before(away) {
				return plant.Brought{}, errors.New("connection refused")
			}
			return plant.Brought{}, nil
		}}
		state, said := pumped(t, b, 2*time.Hour+6*time.Minute)
		assert.NoError(t, state.Trouble)
		assert.False(t, state.Last.Before(away))
		assert.Less(t, strings.Count(said, log.ForwardingFailed), 70, "the longer it is away the less is said")
		assert.Contains(t, said, log.ForwardingGoesOn)
		for i := range b.at[1:] {
			assert.LessOrEqual(t, b.at[i+1].Sub(b.at[i]), 5*time.Minute)
		}
	})
}

// A plant that takes longer than a batch may is given ever smaller ones, until one goes through.
func TestPlantThatIsTooSlow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &answering{}
		b.answer = func(ctx context.Context, size int) (plant.Brought, error) {
			if size > 1000 {
				<-ctx.Done()
				return plant.Brought{}, ctx.Err()
			}
			return plant.Brought{Runs: 1, Rows: 30, LeftRuns: 1, More: true}, nil
		}
		state, _ := pumped(t, b, time.Hour)
		assert.Positive(t, state.Rows)
		assert.Contains(t, b.sizes, 625)
	})
}

// What a person has to mend is said at once and then once an hour, and found mended within a minute.
func TestStopped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mended := time.Now().Add(150 * time.Minute)
		b := &answering{answer: func(context.Context, int) (plant.Brought, error) {
			if time.Now().Before(mended) {
				return plant.Brought{}, &plant.StoppedError{Code: plant.OtherPast, What: "another", Remedy: "look"}
			}
			return plant.Brought{}, nil
		}}
		state, said := pumped(t, b, 140*time.Minute)
		require.NotNil(t, state.Stopped)
		assert.Equal(t, 3, strings.Count(said, log.ForwardingStopped))
		b.closed = false
		state, _ = pumped(t, b, 11*time.Minute)
		assert.Nil(t, state.Stopped)
	})
}

// A station that ends does not wait for the plant.
func TestEndsAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &answering{answer: func(ctx context.Context, _ int) (plant.Brought, error) {
			<-ctx.Done()
			return plant.Brought{}, ctx.Err()
		}}
		began := time.Now()
		_, said := pumped(t, b, time.Second)
		assert.Equal(t, time.Second, time.Since(began))
		assert.Empty(t, said)
	})
}

func TestFigures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &answering{answer: func(context.Context, int) (plant.Brought, error) {
			return plant.Brought{Runs: 2, LeftRuns: 7, Offset: 1500 * time.Millisecond}, nil
		}}
		p := &forward.Pump{Bring: b}
		families, err := forward.Figures(p)(t.Context())
		require.NoError(t, err)
		assert.Len(t, families, 1, "nothing is known yet")
		end := p.Start(t.Context())
		synctest.Wait()
		families, err = forward.Figures(p)(t.Context())
		end()
		require.NoError(t, err)
		got := map[string]float64{}
		for _, f := range families {
			got[f.Name] = f.Points[0].Value
		}
		assert.Equal(t, map[string]float64{"padjig_plant_stopped": 0, "padjig_plant_behind_runs": 7, "padjig_plant_clock_ahead_seconds": 1.5,
			"padjig_plant_reached_timestamp_seconds": float64(time.Now().Unix())}, got)
	})
}
