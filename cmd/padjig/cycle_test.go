package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// BenchmarkCycle measures one unit from start to verdict over a real
// pseudo-terminal paced at 115200 baud, a jig simulated in another process at
// its other end, against the floor: motion, settling and conversion by the
// jig's own clock, the bytes of the first request and the last reply, which nothing
// can overlap, and the stop behind it all. Both are of the same run; the ratio is what
// counts.
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

	var first, last int // bytes of the first request and the last reply of the unit
	var stop, state int // and of the stop behind it
	jig, err := fixture.Open(b.Context(), path, link.Options{Trace: func(e link.Event) {
		switch {
		case e.Frame.Type == wire.TypeRoutine && first == 0:
			first = len(e.Raw)
		case e.Frame.Type == wire.TypeResults:
			last = len(e.Raw)
		case e.Frame.Type == wire.TypeStop:
			stop = len(e.Raw)
		case e.Frame.Type == wire.TypeState:
			state = len(e.Raw)
		}
	}})
	require.NoError(b, err)
	defer jig.Close()
	plan, err := runner.NewPlan(p, jig.Capabilities(), sequence.Mechanical)
	require.NoError(b, err)
	var cycle, floor time.Duration
	for b.Loop() {
		require.NoError(b, jig.Ready(b.Context()))
		run, err := plan.Run(b.Context(), jig, sequence.Unit{Serial: "T-1"}, nil)
		require.NoError(b, err)
		require.Equal(b, sequence.Pass, run.Outcome, "%v", run.Findings)
		cycle += time.Duration(run.Duration)
		floor += time.Duration(first+last+stop+state)*10*time.Second/link.DefaultBaud + 2*latency
	}
	floor += jig.Busy()
	b.ReportMetric(cycle.Seconds()/float64(b.N), "s/unit")
	b.ReportMetric(floor.Seconds()/float64(b.N), "s/floor")
	b.ReportMetric(cycle.Seconds()/floor.Seconds(), "cycle/floor")
}
