package calibrate_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

func load(t testing.TB, name string) *product.Product {
	t.Helper()
	p, err := product.Load("../../testdata/products/" + name + ".yaml")
	require.NoError(t, err)
	return p
}

// tested is a run over a unit with faults, on a simulated jig with these zeros.
func tested(t testing.TB, p *product.Product, faults string, zeros []fixture.Resistance) sequence.Run {
	t.Helper()
	keypad := p.Circuit()
	planted, err := world.ParseFaults(faults, keypad)
	require.NoError(t, err)
	sim, err := jigsim.New(jigsim.Config{
		Keypad: keypad, Contact: p.Nominal.Contact, Wiring: p.Wiring(), Actuators: p.Pushes(), Faults: planted, Seed: 4, KeepTags: true,
	})
	require.NoError(t, err)
	jig, disconnect := simport.Connect(t, sim, link.Options{})
	defer disconnect()
	jig = jig.Zeroed(zeros)
	plan, err := runner.NewPlan(p, jig.Capabilities(), runner.DefaultActuation(p, jig.Capabilities()))
	require.NoError(t, err)
	run, err := plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
	require.NoError(t, err)
	return run
}
