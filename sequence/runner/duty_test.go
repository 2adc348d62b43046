package runner_test

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/sequence"
	"padjig/sequence/runner"
)

// An exercise has an actuator rest as the jig wants it, and is not stopped for it.
func TestExerciseLetsActuatorsRest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		id := jigsim.Defaults()
		id.HoldMs, id.DutyPermille, id.DutyMs = 3_000, 200, 15_000
		b := bench{product: load(t, "gcc-20"), id: id, seed: 11}
		began := time.Now()
		run, sim, _ := b.returned(t, exercise(sequence.Exercising{Keys: []int{2}, Presses: 200, Hold: 2 * time.Second}))
		assert.NotEqual(t, sequence.Aborted, run.Outcome, "%s %v", run.Reason, run.Findings)
		require.Len(t, run.Exercised, 1)
		assert.Equal(t, 200, run.Exercised[0].Presses)
		t.Logf("%v for %v presses", time.Since(began), sim.Counts().Presses)
	})
}

func TestAnExerciseHoldsNoLongerThanTheJig(t *testing.T) {
	caps := fixture.CapabilitiesOf(jigsim.Defaults())
	for _, e := range []sequence.Exercising{{Hold: 10 * time.Second}, {Flex: time.Minute}} {
		_, err := runner.NewExercise(load(t, "gcc-20"), caps, e)
		assert.EqualError(t, err, "jig SIM-0001 holds an actuator for 10s at the most: ask for 9.5s or less")
	}
	_, err := runner.NewExercise(load(t, "gcc-20"), caps, sequence.Exercising{Hold: 9500 * time.Millisecond})
	assert.NoError(t, err)
}
