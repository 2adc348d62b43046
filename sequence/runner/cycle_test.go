package runner_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/product"
)

// TestCycleStaysNearTheFloor holds the ratio of cycle to floor in fake time,
// where the simulated jig's motion, the baud rate and the line's latency are
// exact and the machine's speed does not enter. The floor is what a cycle cannot
// be shorter than: the time the jig itself spent on motion, settling and
// conversion, the bytes of the first request and the last reply, which nothing can
// overlap, and the stop behind it all with its way there and back, before which no
// reply is known to be the only one. BenchmarkCycle in cmd/padjig measures the same over a
// real pseudo-terminal.
func TestCycleStaysNearTheFloor(t *testing.T) {
	for _, c := range []struct {
		product string
		latency time.Duration
		most    float64
	}{
		{"gcc-20", time.Millisecond, 1.03}, {"gcc-20", 16 * time.Millisecond, 1.05},
		{"console-104", time.Millisecond, 1.03}, {"console-104", 16 * time.Millisecond, 1.05},
	} {
		synctest.Test(t, func(t *testing.T) {
			cycle, least := paced(t, load(t, c.product), c.latency)
			ratio := cycle.Seconds() / least.Seconds()
			t.Logf("%s, %v each way: cycle %v, floor %v, ratio %.4f", c.product, c.latency, cycle, least, ratio)
			assert.LessOrEqual(t, ratio, c.most)
			assert.GreaterOrEqual(t, ratio, 1.0, "a floor above the cycle is no floor")
		})
	}
}

func paced(t *testing.T, p *product.Product, latency time.Duration) (cycle, least time.Duration) {
	b := bench{product: p, seed: 3, latency: latency}
	var first, last, stop int // bytes of the first request, of the last reply, of the stop and its reply
	closed := false
	jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{Trace: func(e link.Event) {
		switch {
		case e.Frame.Type == wire.TypeRoutine && first == 0:
			first = len(e.Raw)
		case e.Frame.Type == wire.TypeResults:
			last = len(e.Raw)
		case last == 0:
		case e.Frame.Type == wire.TypeStop:
			stop = len(e.Raw)
		case e.Frame.Type == wire.TypeState && stop > 0 && !closed:
			stop, closed = stop+len(e.Raw), true
		}
	}})
	run, err := b.plan(t, jig).Run(context.Background(), jig, sequence.Unit{Serial: "T-1"}, nil)
	require.NoError(t, err)
	require.Equal(t, sequence.Pass, run.Outcome)
	disconnect()
	require.True(t, closed)
	return time.Duration(run.Duration), jig.Busy() + time.Duration(first+last+stop)*10*time.Second/link.DefaultBaud + 2*latency
}
