package runner_test

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
)

// Each check that a jig can do, on the unit that it was proposed for: what comes out, and
// what it makes of the diagnosis.
func TestChecksOnTheJig(t *testing.T) {
	for _, c := range []struct {
		product, fault string
		action         diagnose.Action
		says           string
		kind           diagnose.Kind // likeliest afterwards
	}{
		{"gcc-20", "key 7 open", diagnose.PressAgain, "did not close in 10 presses", diagnose.ContactMissing},
		{"gcc-20", "key 7 stuck 60 ohm", diagnose.PressJoined, "pressed or not", diagnose.KeyStuck},
		{"gcc-20", "lines R3 C1 shorted 40 ohm", diagnose.PressJoined, "with the key held", diagnose.CrossingShorted},
		{"gcc-20", "lines R3 C1 leak 800 kohm", diagnose.WatchPair, "and stay", diagnose.HumidityFilm},
		{"gcc-20", "key 7 drops out 700 us every 3 ms", diagnose.HoldKey, "opened", diagnose.ContactUnsteady},
		{"gcc-20", "tail shifted 1", diagnose.ReadLoops, "channel 11, beyond the tail, is touched", diagnose.TailShifted},
		{"gcc-20", "channel 1 dirty open", diagnose.ReadLoops, "1 pin without sure contact", diagnose.ProbeDirty},
		{"bay-16", "key 6 diode missing", diagnose.PressAgain, "did not close", diagnose.ContactMissing},
		{"bay-16", "key 6 high 90 ohm", diagnose.PressAgain, "each time", diagnose.ContactDirty},
	} {
		t.Run(strings.ReplaceAll(c.product+" "+c.fault, "/", "_"), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := bench{product: load(t, c.product), faults: c.fault, seed: 4}
				sim := b.simulate(t)
				jig, disconnect := simport.Connect(t, sim, link.Options{})
				defer disconnect()
				plan := b.plan(t, jig)
				run, err := plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
				require.NoError(t, err)
				e, err := evidence.Of(run, b.product)
				require.NoError(t, err)
				d := diagnose.Diagnose(e)
				require.NotNil(t, d.Check)
				require.Equal(t, c.action, d.Check.Action, "%v", d.Groups)
				looked, err := plan.Look(context.Background(), jig, *d.Check)
				require.NoError(t, err)
				assert.Contains(t, inWords.Of(looked.Says), c.says)
				first, _ := diagnose.Diagnose(e, looked).First()
				assert.Equal(t, c.kind, first.Kind, "%s: %v", looked.Says, diagnose.Diagnose(e, looked).Groups)
			})
		})
	}
}

// What a jig cannot do is left to a person, and a check about another product refused.
func TestChecksNotForTheJig(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20")}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		plan := b.plan(t, jig)
		for _, c := range []struct {
			check diagnose.Check
			says  string
		}{
			{diagnose.Check{Action: diagnose.Reseat}, "reseat: a person has to do this check"},
			{diagnose.Check{Action: diagnose.PressAgain, Key: "77"}, `GCC-20 has no key "77"`},
			{diagnose.Check{Action: diagnose.WatchPair, Lines: []string{"R1"}}, "it takes two"},
			{diagnose.Check{Action: diagnose.WatchPair, Lines: []string{"R1", "Z9"}}, "no lines R1 and Z9"},
		} {
			_, err := plan.Look(context.Background(), jig, c.check)
			assert.ErrorContains(t, err, c.says)
		}
	})
}
