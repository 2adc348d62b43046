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

// bench is a product on a simulated jig, reached through the real protocol
// over an in-memory stream in fake time.
type bench struct {
	product *product.Product
	id      wire.Identity
	faults  string
	seed    uint64
	how     sequence.Actuation
}

func load(t testing.TB, name string) *product.Product {
	t.Helper()
	p, err := product.Load("../testdata/products/" + name + ".yaml")
	require.NoError(t, err)
	return p
}

// run tests one unit and returns the record, the error and the jig.
func (b bench) run(t testing.TB) (sequence.Run, error, *jigsim.Jig) {
	t.Helper()
	keypad := b.product.Circuit()
	faults, err := jigsim.ParseFaults(b.faults, keypad)
	require.NoError(t, err)
	sim, err := jigsim.New(jigsim.Config{
		Identity: b.id, Keypad: keypad, Contact: b.product.Nominal.Contact,
		Wiring: b.product.Wiring(), Actuators: b.product.Pushes(), Faults: faults, Seed: b.seed, Pace: true, Baud: 115200,
	})
	require.NoError(t, err)
	run, err := perform(t, sim, b.product, b.how)
	return run, err, sim
}

func perform(t testing.TB, sim *jigsim.Jig, p *product.Product, how sequence.Actuation) (sequence.Run, error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	host, jigEnd := net.Pipe()
	served := make(chan error, 1)
	go func() { served <- sim.Serve(ctx, jigEnd) }()
	jig, err := fixture.Connect(ctx, host, link.Options{Baud: 115200})
	require.NoError(t, err)
	if how == "" {
		how = sequence.DefaultActuation(p, jig.Capabilities())
	}
	plan, err := sequence.NewPlan(p, jig.Capabilities(), how)
	require.NoError(t, err)
	run, err := plan.Run(ctx, jig, sequence.Unit{Serial: "T-1", Attempt: 1, Started: time.Now()}, nil)
	jig.Close()
	cancel()
	<-served
	return run, err
}

func TestGoodUnitsPass(t *testing.T) {
	for _, name := range []string{"gcc-20", "vent-6", "bay-16", "console-104"} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				run, err, _ := bench{product: load(t, name), seed: 7}.run(t)
				require.NoError(t, err)
				assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
				assert.True(t, run.Simulated)
				t.Log(name, run.Duration, run.Keys[0].Closed, run.Keys[0].Forward, run.Keys[0].Make, run.Keys[0].Break)
			})
		})
	}
}
