package runner_test

import (
	"context"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/sequence"
)

// burning is a jig on which a thread of silver burns away before a call of
// Perform, counted from when it begins to be looked for.
type burning struct {
	*fixture.Jig
	burn    func()
	before  int // 0: when it begins to be looked for
	looking bool
	count   int
}

func (b *burning) Inert(ctx context.Context) error {
	b.looking = true
	return b.Jig.Inert(ctx)
}

func (b *burning) Perform(ctx context.Context, routines []*fixture.Routine, each func(int, fixture.Done) error) error {
	if b.looking {
		if b.count == b.before {
			b.burn()
		}
		b.count++
	}
	return b.Jig.Perform(ctx, routines, each)
}

// burnt is a run over a unit whose thread of silver burns away while it is looked for.
func burnt(t *testing.T, before int, words sequence.Sentences) sequence.Run {
	t.Helper()
	b := bench{product: load(t, "gcc-20"), faults: "lines R3 R4 shorted 200 ohm", seed: 8, words: words}
	sim := b.simulate(t)
	jig, disconnect := simport.Connect(t, sim, link.Options{})
	defer disconnect()
	fragile := &burning{Jig: jig, before: before, burn: func() {
		assert.NoError(t, sim.Load(world.Unit{Keypad: b.product.Circuit(), Contact: b.product.Nominal.Contact, Seed: 8}))
	}}
	run, err := b.plan(t, jig).Run(context.Background(), fragile, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
	require.NoError(t, err)
	return run
}

// Whenever a thread burns away after it has been seen, the unit fails.
func TestThreadThatBurnsIsNotForgotten(t *testing.T) {
	for before, want := range []string{
		0: "leak: between lines, at rest; gone when looked for",
		1: "leak: between lines, at rest; gone when looked for", // while it is read patiently
		2: "leak: between lines, at rest; gone when looked for", // the same, for the second time
		3: "leak: between lines, at rest; gone when looked for", // while lines are read one by one
		4: "leak: between lines, at rest; gone when looked for", // while pairs are read
		5: "leak: between lines, at rest; gone when looked for", // while others are guarded
		6: "lines shorted: between R3 (pin 3) and R4 (pin 4); gone when read again",
	} {
		synctest.Test(t, func(t *testing.T) {
			run := burnt(t, before, nil)
			require.Equal(t, sequence.Fail, run.Outcome)
			require.Len(t, run.Findings, 1, "%v", run.Findings)
			assert.Contains(t, run.Findings[0].String(), want, "burnt before %d", before)
		})
	}
}

// Leaks that are good each by itself, and together too much for a group, pass.
func TestLeaksThatAddUpPass(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), seed: 8,
			faults: "lines R1 SH leak 25 Mohm; lines R2 SH leak 25 Mohm; lines R4 SH leak 25 Mohm"}
		run, _, err := b.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Pass, run.Outcome, "%v", run.Findings)
		assert.Empty(t, run.Pairs)
	})
}

// A leak is recorded in both polarities, with its trend.
func TestLeakIsRecordedBothWays(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		run, _, err := bench{product: load(t, "gcc-20"), seed: 8, faults: "lines R3 SH leak 5 Mohm"}.run(t)
		require.NoError(t, err)
		require.Len(t, run.Pairs, 1)
		pair := run.Pairs[0]
		assert.Equal(t, sequence.Steady, pair.Trend)
		for _, reading := range []*fixture.Resistance{pair.Forward, pair.Backward} {
			assert.InDelta(t, 5e6, float64(reading.Value), 3*float64(reading.U))
		}
	})
}

// What a diode lets through in reverse is recorded; a sound one is beyond a megohm.
func TestReverseOfDiodesIsRecorded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		run, _, err := bench{product: load(t, "bay-16"), seed: 8, faults: "key 6 diode reversed"}.run(t)
		require.NoError(t, err)
		for _, key := range run.Keys {
			require.NotNil(t, key.Reverse, key.Key)
			if key.Key == "6" {
				assert.False(t, key.Reverse.AtLeast)
				assert.Less(t, float64(key.Reverse.Value), 10e3, "it conducts this way")
				continue
			}
			assert.Greater(t, float64(key.Reverse.Value), 1e6, key.Key)
		}
	})
}
