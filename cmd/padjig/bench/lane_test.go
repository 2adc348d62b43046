package bench

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
)

// A unit goes through: its verdict is what is stored, and it is stored by whom
// and where.
func TestAGoodUnitPasses(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		st := s.test(s.unit(1))
		require.Equal(t, Ended, st.Phase, "%v", st.Refusal)
		assert.Equal(t, sequence.Pass, st.Verdict.Outcome)
		runs := s.runs(s.unit(1))
		require.Len(t, runs, 1)
		assert.Equal(t, runs[0].ID, st.Verdict.ID)
		assert.Equal(t, "Abel", runs[0].Operator)
		assert.Equal(t, "SIM-0001", runs[0].Jig.Serial)
		assert.Equal(t, 1, st.Tally.First)
		assert.Positive(t, s.moves())
		assert.WithinDuration(t, time.Now(), st.Changed, time.Minute)
	})
}
