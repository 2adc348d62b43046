package sequence_test

import (
	"context"
	"net"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/product"
)

// floor is what a cycle cannot be shorter than: the time the jig itself spent
// on motion, settling and conversion, by its own clock, and the bytes of the
// first request and the last reply, which nothing can overlap.
type floor struct {
	*fixture.Jig
	busy time.Duration
}

func (f *floor) Perform(ctx context.Context, routines []*fixture.Routine, each func(int, fixture.Done) error) error {
	return f.Jig.Perform(ctx, routines, func(i int, d fixture.Done) error {
		f.busy += d.Took()
		return each(i, d)
	})
}

// TestCycleStaysNearTheFloor holds the ratio of cycle to floor in fake time,
// where the simulated jig's motion, the baud rate and the line's latency are
// exact and the machine's speed does not enter. The benchmark of the same name
// in cmd/padjig measures it over a real pseudo-terminal.
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
	const baud = 115200
	sim, err := jigsim.New(jigsim.Config{
		Keypad: p.Circuit(), Contact: p.Nominal.Contact, Wiring: p.Wiring(), Actuators: p.Pushes(),
		Seed: 3, Pace: true, Baud: baud, Latency: latency,
	})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	host, jigEnd := net.Pipe()
	served := make(chan error, 1)
	go func() { served <- sim.Serve(ctx, jigEnd) }()
	var first, last int // bytes of the first request and of the last reply
	jig, err := fixture.Connect(ctx, host, link.Options{Baud: baud, Trace: func(e link.Event) {
		switch {
		case e.Frame.Type == wire.TypeRoutine && first == 0:
			first = len(e.Raw)
		case e.Frame.Type == wire.TypeResults:
			last = len(e.Raw)
		}
	}})
	require.NoError(t, err)
	plan, err := sequence.NewPlan(p, jig.Capabilities(), sequence.Mechanical)
	require.NoError(t, err)
	f := &floor{Jig: jig}
	began := time.Now()
	run, err := plan.Run(ctx, f, sequence.Unit{Serial: "T-1"}, nil)
	cycle = time.Since(began)
	require.NoError(t, err)
	require.Equal(t, sequence.Pass, run.Outcome)
	jig.Close()
	cancel()
	<-served
	return cycle, f.busy + time.Duration(first+last)*10*time.Second/baud
}
