package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/wire"
	"padjig/results/answers/ratio"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// BenchmarkCycle measures one unit from start to verdict over a real
// pseudo-terminal paced at 115200 baud, a jig simulated in another process at
// its other end, against the floor: motion, settling and conversion by the
// jig's own clock, the bytes of the first request and the last reply, which nothing
// can overlap, and the stop behind it all. A unit is tested by the plan that this jig
// gets and, in turn, one key after another: "cycle/floor" is what padjig adds to what the jig
// has to do, "cycle/single-floor" what the plan takes of what single presses would have had to.
func BenchmarkCycle(b *testing.B) {
	for _, name := range []string{"gcc-20", "gcc-20 at two currents", "console-104", "console-104 at two currents"} {
		for _, latency := range []time.Duration{time.Millisecond, 16 * time.Millisecond} {
			b.Run(fmt.Sprintf("%s/latency=%v", name, latency), func(b *testing.B) { benchmarkCycle(b, name, latency) })
		}
	}
}

func benchmarkCycle(b *testing.B, name string, latency time.Duration) {
	name, two := strings.CutSuffix(name, " at two currents")
	file := "../../testdata/products/" + name + ".yaml"
	p, err := product.Load(file)
	require.NoError(b, err)
	p.Test.Contact.Scanner = two
	path := filepath.Join(b.TempDir(), "jig")
	startSimulation(b, "--product", file, "--link", path, "--latency", latency.String())

	line := &bytesOnTheLine{}
	jig, err := fixture.Open(b.Context(), path, link.Options{Trace: line.count})
	require.NoError(b, err)
	defer jig.Close()
	caps := jig.Capabilities()
	alone := caps
	alone.Together = 1
	plan, err := runner.NewPlan(p, caps, sequence.Mechanical)
	require.NoError(b, err)
	single, err := runner.NewPlan(p, alone, sequence.Mechanical)
	require.NoError(b, err)
	unit := func(plan *runner.Plan) (cycle, floor time.Duration) {
		line.begin()
		busy := jig.Busy()
		require.NoError(b, jig.Ready(b.Context()))
		run, err := plan.Run(b.Context(), jig, sequence.Unit{Serial: "T-1"}, nil)
		require.NoError(b, err)
		require.Equal(b, sequence.Pass, run.Outcome, "%v", run.Findings)
		return time.Duration(run.Duration), line.floor(latency) + jig.Busy() - busy
	}
	var own, ofSingle, singly ratio.Pairs
	for b.Loop() {
		cycle, floor := unit(plan)
		singleCycle, singleFloor := unit(single)
		own.Add(cycle, floor)
		ofSingle.Add(cycle, singleFloor)
		singly.Add(singleCycle, singleFloor)
	}
	own.Report(b, "cycle", "floor")
	ofSingle.Report(b, "cycle", "single-floor")
	singly.Report(b, "single-cycle", "single-floor")
}

// bytesOnTheLine are those of one unit that nothing can overlap.
type bytesOnTheLine struct {
	mu          sync.Mutex
	first, last int // of the first request and the last reply
	stop, state int // of the stop behind it
}

func (l *bytesOnTheLine) begin() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.first, l.last = 0, 0
}

func (l *bytesOnTheLine) count(e link.Event) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case e.Frame.Type == wire.TypeRoutine && l.first == 0:
		l.first = len(e.Raw)
	case e.Frame.Type == wire.TypeResults:
		l.last = len(e.Raw)
	case e.Frame.Type == wire.TypeStop:
		l.stop = len(e.Raw)
	case e.Frame.Type == wire.TypeState:
		l.state = len(e.Raw)
	}
}

// floor is how long the line needs for them.
func (l *bytesOnTheLine) floor(latency time.Duration) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	return time.Duration(l.first+l.last+l.stop+l.state)*10*time.Second/link.DefaultBaud + 2*latency
}
