package results

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/care"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

func TestReferenceChecksOfAJig(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	state, err := s.Care.Reference(ctx, "J-1", "REF-1", false)
	require.NoError(t, err)
	assert.Equal(t, care.ReferenceState{Unit: "REF-1"}, state, "nothing yet")
	keys, err := s.Care.Baseline(ctx, "J-1", "REF-1", false)
	require.NoError(t, err)
	assert.Nil(t, keys)

	save := func(run sequence.Run, why ...sequence.Said) store.ID {
		id, err := s.Runs.Save(ctx, runstest.Climate(), run)
		require.NoError(t, err)
		if run.Serial == "REF-1" {
			require.NoError(t, s.Care.SaveReferenceCheck(ctx, care.ReferenceCheck{Run: id, Unit: "REF-1", Why: why}))
		}
		return id
	}
	on := func(jig string, run sequence.Run) sequence.Run {
		run.Jig.Serial = jig
		return run
	}
	first := save(on("J-1", runstest.Passed("REF-1")))
	save(on("J-2", runstest.Passed("REF-1")), sequence.Fact("key 2 reads too much"))
	save(on("J-1", runstest.Passed("24-000001")))
	save(on("J-1", runstest.Passed("24-000002")))

	state, err = s.Care.Reference(ctx, "J-1", "REF-1", runstest.Passed("").Simulated)
	require.NoError(t, err)
	assert.Equal(t, 2, state.Since, "two runs on this jig since")
	assert.Equal(t, 2, state.Runs, "pressed through twice, on two jigs")
	assert.True(t, state.Last.Good)
	other, err := s.Care.Reference(ctx, "J-2", "REF-1", runstest.Passed("").Simulated)
	require.NoError(t, err)
	assert.False(t, other.Last.Good)
	assert.Equal(t, "key 2 reads too much", other.Last.Why)

	keys, err = s.Care.Baseline(ctx, "J-1", "REF-1", runstest.Passed("").Simulated)
	require.NoError(t, err)
	stored, err := s.Runs.Run(ctx, first)
	require.NoError(t, err)
	assert.Equal(t, stored.Keys, keys)
	keys, err = s.Care.Baseline(ctx, "J-2", "REF-1", runstest.Passed("").Simulated)
	require.NoError(t, err)
	assert.Nil(t, keys, "a check that was not good is no baseline")

	err = s.Care.SaveReferenceCheck(ctx, care.ReferenceCheck{Run: first, Unit: "REF-1"})
	require.ErrorContains(t, err, "append-only", "a run is judged once")
}

func TestWearIsCountedFromRuns(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	rev := runstest.Defined(`{"keys":[{"label":"1","actuator":0},{"label":"2","actuator":4}]}`)
	run := func() {
		r := runstest.Passed("24-" + time.Now().Format("150405.000000000"))
		r.Jig.Serial, r.Actuation = "J-1", sequence.Mechanical
		_, err := s.Runs.Save(ctx, rev, runstest.Of(rev, r))
		require.NoError(t, err)
	}
	for range 3 {
		run()
	}
	uses := func() map[string]int {
		parts, err := s.Care.Wear(ctx, "J-1", false)
		require.NoError(t, err)
		out := map[string]int{}
		for _, p := range parts {
			out[p.Part] = p.Uses
		}
		return out
	}
	assert.Equal(t, map[string]int{"nest": 3, "actuator 1": 3, "actuator 5": 3}, uses())

	worn, err := s.Care.WornParts(ctx, "J-1", false)
	require.NoError(t, err)
	assert.Empty(t, worn, "no limits, nothing worn")
	require.NoError(t, s.Care.SaveWear(ctx, care.WearEvent{Jig: "J-1", Part: "actuator 5", Warn: 2, Block: 4, By: "Ann"}))
	worn, err = s.Care.WornParts(ctx, "J-1", false)
	require.NoError(t, err)
	require.Len(t, worn, 1)
	assert.True(t, worn[0].Wearing())
	assert.False(t, worn[0].Worn())
	run()
	worn, err = s.Care.WornParts(ctx, "J-1", false)
	require.NoError(t, err)
	assert.True(t, worn[0].Worn())

	require.NoError(t, s.Care.SaveWear(ctx, care.WearEvent{Jig: "J-1", Part: "actuator 5", By: "Ann", Lot: "T-3", Note: "new tip"}))
	worn, err = s.Care.WornParts(ctx, "J-1", false)
	require.NoError(t, err)
	assert.Empty(t, worn, "replaced")
	assert.Equal(t, map[string]int{"nest": 4, "actuator 1": 4, "actuator 5": 0}, uses())
}

func TestParsePart(t *testing.T) {
	for text, want := range map[string]string{"nest": "nest", "actuator 7": "actuator 7", "actuator 07": "actuator 7",
		"probe set": "probe set", "probe set 2": "probe set 2", "cable": "cable", "cable 3": "cable 3", "adapter": "adapter"} {
		got, err := care.ParsePart(text)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for _, text := range []string{"", "actuator", "actuator 0", "actuator x", "lid", "adapter 2", "probe set 0", "cable x", "nest 1"} {
		_, err := care.ParsePart(text)
		assert.Error(t, err, text)
	}
}
