package station

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/wire"
	"padjig/sequence"
)

// A lane holds the self-test before each unit against those of its jig's units before and of its
// last verification. Another jig, or the lane begun anew, is held against no unit before.
func TestALaneRemembersItsJig(t *testing.T) {
	at(t, "", func(s *stand) {
		s.setup.Load = nil
		s.start()
		doubtful := func(n int, code sequence.Code) {
			s.Helper()
			st := s.test(s.unit(n))
			if assert.Equal(s, Ended, st.Phase, "%v", st.Refusal) {
				assert.Equal(s, sequence.Aborted, st.Verdict.Outcome)
				assert.Equal(s, code, st.Verdict.Why.Code, st.Verdict.Reason)
				assert.Empty(s, st.Verdict.Findings)
			}
		}
		s.put("")
		s.tests(s.unit(1))
		s.put("references drift 500 ppm")
		doubtful(2, sequence.DriftedSession)
		s.put("")
		s.tests(s.unit(2))
		s.replace(func(id *wire.Identity) { id.Serial = "SIM-0002" }) // another jig with other checks
		s.put("references drift 500 ppm")
		s.end()
		s.start()
		s.put("references drift 500 ppm")
		s.tests(s.unit(3))
		self, err := s.store.Care.SelfTests(s.Context(), "SIM-0001", true)
		assert.NoError(s, err)
		assert.Equal(s, [2]int{3, 1}, [2]int{self.Runs, self.Stopped})
		assert.Equal(s, sequence.DriftedSession, self.Why.Code)
	})
}

// A verification of before the records kept self-tests says nothing, a newer one does, whoever
// tests on the jig and since when.
func TestAVerificationIsWhatAJigIsHeldAgainst(t *testing.T) {
	at(t, "", func(s *stand) {
		s.calibrated(time.Now().Add(-day), true)
		s.put("references drift 500 ppm")
		j, _ := s.job(s.unit(1))
		assert.Equal(s, sequence.Pass, s.done(j).Outcome, "nothing is known of that verification")

		s.put("")
		jig, err := s.ports.Open(s.Context(), firstPort, linkOptions)
		require.NoError(s, err)
		checking := sequence.CheckItself(jig.Capabilities(), fixture.Stage{}, 128)
		var self sequence.SelfTest
		require.NoError(s, jig.Perform(s.Context(), []*fixture.Routine{checking.Routine}, func(_ int, d fixture.Done) error {
			_, self = checking.Read(d)
			return nil
		}))
		require.NoError(s, jig.Close())
		last, err := s.store.Care.LastGood(s.Context(), "SIM-0001", sequence.KindVerify, true)
		require.NoError(s, err)
		newer := last.Calibration
		newer.SelfTest = &self
		_, err = s.store.Care.SaveCalibration(s.Context(), newer)
		require.NoError(s, err)
		kept, err := s.store.Care.Verified(s.Context(), "SIM-0001", true)
		require.NoError(s, err)
		assert.Equal(s, self.Checks, kept.Checks, "to the last digit")

		j, _ = s.job(s.unit(2))
		assert.Equal(s, sequence.Pass, s.done(j).Outcome)
		s.put("references drift 500 ppm")
		j, _ = s.job(s.unit(3))
		assert.Equal(s, sequence.DriftedVerified, s.done(j).Why.Code)
		wrong, err := s.store.Check(s.Context())
		require.NoError(s, err)
		assert.Empty(s, wrong)
	})
}
