package station

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/jigsim/world"
	"padjig/sequence"
)

// lay puts the pad of a number into the jig: each has contacts of its own, and the same
// ones when it comes again.
func (s *stand) lay(pad uint64, faults string) {
	s.Helper()
	keypad := s.product.Circuit()
	parsed, err := world.ParseFaults(faults, keypad)
	require.NoError(s, err)
	require.NoError(s, s.jig.Load(world.Unit{Keypad: keypad, Contact: s.product.Nominal.Contact, Faults: parsed, Seed: pad}))
}

// lot has units tested, each with a pad of its own, which is that of its number.
func (s *stand) lot(n int) {
	s.Helper()
	for i := range n {
		s.lay(uint64(i+1), "")
		s.tests(s.unit(i + 1))
	}
}

func TestAPadUnderAnotherNumberIsNoPass(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.lot(8)
		c, err := s.store.Pads.Before(s.Context(), s.runs(s.unit(8))[0])
		require.NoError(s, err)
		t.Logf("%+v %+v", c, c.Nearest)
		s.lay(8, "") // taken out and put in again
		st := s.test(s.unit(9))
		c, err = s.store.Pads.Before(s.Context(), s.runs(s.unit(9))[0])
		require.NoError(s, err)
		t.Logf("%+v %+v", c, c.Nearest)
		require.Equal(s, Ended, st.Phase)
		assert.Equal(s, sequence.Incomplete, st.Verdict.Outcome)
	})
}
