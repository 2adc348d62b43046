package runner_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// bench is a product on a simulated jig, reached through the real protocol
// over an in-memory stream in fake time.
type bench struct {
	product *product.Product
	id      wire.Identity
	faults  string
	seed    uint64
	how     sequence.Actuation // the jig's own if empty
	latency time.Duration
	attempt int                // 1 if 0
	unpaced bool               // operations take no time
	words   sequence.Sentences // of the record; its own if nil
}

func load(t testing.TB, name string) *product.Product {
	t.Helper()
	p, err := product.Load("../../testdata/products/" + name + ".yaml")
	require.NoError(t, err)
	return p
}

// simulate puts the unit into a simulated jig. The line has the speed of a
// usual port; latency is zero unless the caller sets it.
func (b bench) simulate(t testing.TB) *jigsim.Jig {
	t.Helper()
	keypad := b.product.Circuit()
	faults, err := world.ParseFaults(b.faults, keypad)
	require.NoError(t, err)
	sim, err := jigsim.New(jigsim.Config{
		Identity: b.id, Keypad: keypad, Contact: b.product.Nominal.Contact,
		Wiring: b.product.Wiring(), Actuators: b.product.Pushes(), Faults: faults, Seed: b.seed,
		Pace: !b.unpaced, Baud: link.DefaultBaud, Latency: b.latency, KeepTags: true,
	})
	require.NoError(t, err)
	return sim
}

// run tests one unit in a bubble and returns the record, the jig as it was left,
// and what stopped the run.
func (b bench) run(t testing.TB) (sequence.Run, *jigsim.Jig, error) {
	t.Helper()
	sim := b.simulate(t)
	jig, disconnect := simport.Connect(t, sim, link.Options{})
	defer disconnect()
	run, err := b.plan(t, jig).Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: max(1, b.attempt), Started: time.Now()}, nil)
	return run, sim, err
}

func (b bench) plan(t testing.TB, jig *fixture.Jig) *runner.Plan {
	t.Helper()
	how := b.how
	if how == "" {
		how = runner.DefaultActuation(b.product, jig.Capabilities())
	}
	plan, err := runner.NewPlan(b.product, jig.Capabilities(), how)
	require.NoError(t, err)
	return b.spoken(plan)
}

func (b bench) spoken(plan *runner.Plan) *runner.Plan {
	if b.words != nil {
		plan.Speaks(b.words)
	}
	return plan
}

func TestGoodUnitsPass(t *testing.T) {
	for _, name := range []string{"gcc-20", "vent-6", "bay-16", "console-104"} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				run, _, err := bench{product: load(t, name), seed: 7}.run(t)
				require.NoError(t, err)
				assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
				assert.True(t, run.Simulated)
				t.Log(name, time.Duration(run.Duration), run.Keys[0].Closed, run.Keys[0].Forward, run.Keys[0].Make, run.Keys[0].Break)
			})
		})
	}
}

// A jig with a single probe a line cannot tell a dirty probe from an open line:
// it asks for a second seating before it blames the unit.
func TestOneProbeALineAsksForASecondSeating(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		id := jigsim.Defaults()
		id.Features &^= wire.FeatureLoop
		b := bench{product: load(t, "gcc-20"), id: id, faults: "line R3 open"}
		run, _, err := b.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Reseat, run.Outcome)
		assert.Contains(t, run.Reason, "reseat the unit once")
		b.attempt = 2
		run, _, err = b.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Fail, run.Outcome)
		b.attempt, b.faults = 1, "line R3 open; key 1 open"
		run, _, err = b.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Fail, run.Outcome, "an open key is not the seating's")
	})
}
