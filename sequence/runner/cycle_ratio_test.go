package runner_test

import (
	"context"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence"
)

// TestWhatCertaintyCosts sets a cycle beside the same one as it would be if the jig read
// nothing of itself but each check resistor once, and were patient with nothing: what it
// costs to be sure of the jig in a world that nobody stated. In fake time all is exact.
func TestWhatCertaintyCosts(t *testing.T) {
	t.Logf("%-12s %-28s %12s %12s %7s", "product", "world", "with", "without", "ratio")
	worlds := []struct {
		around    string
		disturbed bool
	}{
		{"", false}, {"references drift 20 ppm; inputs take 0.2 nA; humidity 60 %", false},
		{"mains 50 Hz couples 5 nA", true}, {"lines hold 900 pF", true},
	}
	for _, c := range []struct {
		product          string
		quiet, disturbed float64 // most of the ratio
	}{{"gcc-20", 1.05, 4}, {"console-104", 1.02, 4}} {
		var without time.Duration
		for _, w := range worlds {
			synctest.Test(t, func(t *testing.T) {
				cycle, extra := ofItself(t, bench{product: load(t, c.product), seed: 3, faults: w.around})
				if w.around == "" {
					without = cycle - extra
				}
				ratio, most := cycle.Seconds()/without.Seconds(), c.quiet
				if w.disturbed {
					most = c.disturbed
				}
				t.Logf("%-12s %-28.28s %12v %12v %7.3f", c.product, w.around, cycle.Round(10*time.Microsecond), without.Round(10*time.Microsecond), ratio)
				assert.LessOrEqual(t, ratio, most, "%s in %q", c.product, w.around)
				assert.Greater(t, ratio, 1.0, "it costs nothing: is it done?")
			})
		}
	}
}

// ofItself gives a cycle, and what of it the jig takes for reading itself beyond its check
// resistors once: its own time, and that of the bytes which nothing overlaps. It is 0 for a
// cycle that had to turn to something else.
func ofItself(t *testing.T, b bench) (cycle, extra time.Duration) {
	type exchange struct {
		ops            []wire.Op
		request, reply time.Duration // on the line
		took           time.Duration
	}
	onLine := func(raw []byte) time.Duration { return time.Duration(len(raw)) * 10 * time.Second / link.DefaultBaud }
	var all []exchange
	replied, stopped := 0, false
	jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{Trace: func(e link.Event) {
		switch e.Frame.Type {
		case wire.TypeRoutine:
			ops, err := wire.ParseRoutine(e.Frame.Payload)
			require.NoError(t, err)
			all = append(all, exchange{ops: ops, request: onLine(e.Raw)})
		case wire.TypeResults:
			if stopped {
				return // what was dropped by then is no longer told apart
			}
			done, err := wire.ParseResults(e.Frame.Payload, all[replied].ops)
			require.NoError(t, err)
			all[replied].reply, all[replied].took = onLine(e.Raw), time.Duration(done.Micros)*time.Microsecond
			replied++
		case wire.TypeStop:
			stopped = stopped || replied < len(all)
		}
	}})
	defer disconnect()
	run, err := b.plan(t, jig).Run(context.Background(), jig, sequence.Unit{Serial: "T-1"}, nil)
	require.NoError(t, err)
	require.Equal(t, sequence.Pass, run.Outcome)
	if stopped {
		return time.Duration(run.Duration), 0
	}
	ran := slices.Clone(all)
	once := fixture.NewRoutine(jig.Capabilities())
	for i := range jig.Capabilities().Checks {
		once.Check(i, 32)
	}
	require.NoError(t, jig.Perform(context.Background(), []*fixture.Routine{once}, func(int, fixture.Done) error { return nil }))
	first, before := ran[0], all[len(ran)]
	extra = first.took + first.request - before.took - before.request
	for i, e := range ran[1:] {
		switch shadow := ran[i].reply; { // of the reply before, on the line while the jig goes on
		case !readsItself(e.ops):
		case i == len(ran)-2:
			extra += max(e.took-shadow, 0) + e.reply
		default:
			extra += e.took
		}
	}
	return time.Duration(run.Duration), extra
}

func readsItself(ops []wire.Op) bool {
	return slices.ContainsFunc(ops, func(op wire.Op) bool {
		read, reads := op.(wire.Read)
		_, checks := op.(wire.Check)
		return checks || reads && read.A == wire.OwnGround
	})
}
