package care_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/sequence"
)

// Runs that the self-test stopped are counted on their jig alone, and the newest says what was read.
func TestSelfTestsOfAJig(t *testing.T) {
	var entries []results.Entry
	for i := range 6 {
		at := answerstest.Begin.Add(time.Duration(i) * time.Minute)
		run := answerstest.Run(answerstest.Vents, answerstest.Serial(i), at, 50, 50, 50, 50)
		run.Jig.Serial = []string{"J-1", "J-2"}[i%2]
		if i == 2 || i == 4 {
			run = answerstest.Ended(run, sequence.Aborted)
			run.Why = sequence.Fact(sequence.JigMisreads, "J-1", "1 kohm", []string{2: "1.1 kohm", 4: "1.2 kohm"}[i], "5 kohm")
		}
		entries = append(entries, answerstest.Of(answerstest.Vents, run))
	}
	store := answerstest.Store(t, entries...)
	got, err := store.Care.SelfTests(t.Context(), "J-1", true)
	require.NoError(t, err)
	assert.Equal(t, [2]int{3, 2}, [2]int{got.Runs, got.Stopped})
	assert.Equal(t, "1.2 kohm", got.Why.Args[2])
	assert.True(t, got.Last.Equal(entries[4].Run.Started), got.Last)
	other, err := store.Care.SelfTests(t.Context(), "J-2", true)
	require.NoError(t, err)
	assert.Equal(t, [2]int{3, 0}, [2]int{other.Runs, other.Stopped})
	real, err := store.Care.SelfTests(t.Context(), "J-1", false)
	require.NoError(t, err)
	assert.Zero(t, real.Runs, "simulated runs are not those of a real jig")
}
