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
		require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
		assert.Equal(s, sequence.Pass, st.Verdict.Outcome)
		runs := s.runs(s.unit(1))
		require.Len(s, runs, 1)
		assert.Equal(s, runs[0].ID, st.Verdict.ID)
		assert.Equal(s, "Abel", runs[0].Operator)
		assert.Equal(s, "SIM-0001", runs[0].Jig.Serial)
		assert.Equal(s, 1, st.Tally.First)
		assert.Positive(s, s.moves())
		assert.WithinDuration(s, time.Now(), st.Changed, time.Minute)
	})
}
