package runner_test

import (
	"context"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/sequence"
	"padjig/sequence/runner"
)

// session is one jig, kept open, with what its lane remembers.
type session struct {
	*testing.T
	bench  bench
	sim    *jigsim.Jig
	jig    *fixture.Jig
	memory *runner.Memory
}

func inSession(t *testing.T, name string, seed uint64, do func(*session)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		s := &session{T: t, bench: bench{product: load(t, name), seed: seed, unpaced: true}, memory: new(runner.Memory)}
		s.sim = s.bench.simulate(t)
		var disconnect func()
		s.jig, disconnect = simport.Connect(t, s.sim, link.Options{})
		defer disconnect()
		do(s)
	})
}

// unit tests a unit with its faults, and what surrounds it.
func (s *session) unit(faults string) sequence.Run {
	s.Helper()
	s.lay(faults)
	plan := s.bench.plan(s, s.jig)
	plan.Memory = s.memory
	run, _ := plan.Run(context.Background(), s.jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
	return run
}

// lay puts a unit in.
func (s *session) lay(faults string) {
	s.Helper()
	keypad := s.bench.product.Circuit()
	all, err := world.ParseFaults(faults, keypad)
	require.NoError(s, err)
	require.NoError(s, s.sim.Load(world.Unit{Keypad: keypad, Contact: s.bench.product.Nominal.Contact, Faults: all, Seed: s.bench.seed}))
}

// check is what the jig reads of itself now.
func (s *session) check() *sequence.SelfTest {
	s.Helper()
	var self sequence.SelfTest
	checking := sequence.CheckItself(s.jig.Capabilities(), fixture.Stage{}, 128)
	require.NoError(s, s.jig.Perform(context.Background(), []*fixture.Routine{checking.Routine}, func(_ int, d fixture.Done) error {
		_, self = checking.Read(d)
		return nil
	}))
	return &self
}

// References that drift together by five times what the jig states are noticed: since the
// verification, since the unit before, and in the middle of a unit, whose verdict rests on
// them. They never blame a unit, and what they hide is no pass.
func TestDriftOfReferencesIsNoticed(t *testing.T) {
	const drift = "references drift 500 ppm"
	for _, name := range []string{"gcc-20", "bay-16"} {
		for seed := range uint64(3) {
			inSession(t, name, seed, func(s *session) {
				s.memory.Verified(s.check())
				run := s.unit(drift)
				assert.Equal(s, sequence.Aborted, run.Outcome)
				assert.Equal(s, sequence.DriftedVerified, run.Why.Code, run.Reason)
				assert.Contains(s, run.Reason, "zero and verify")
				assert.Empty(s, run.Findings)
				assert.Equal(s, sequence.DriftedVerified, s.unit(drift+"; key 1 open").Why.Code, "nor is a faulty one judged")
				assert.Equal(s, sequence.Pass, s.unit("").Outcome, "it is as it was")
				s.memory.Verified(s.check())
				assert.Equal(s, sequence.Pass, s.unit("references drift 60 ppm").Outcome, "within what it states")
			})
			inSession(t, name, seed, func(s *session) {
				assert.Equal(s, sequence.Pass, s.unit(drift).Outcome, "nothing to hold it against")
				run := s.unit("")
				assert.Equal(s, sequence.DriftedSession, run.Why.Code, run.Reason)
				assert.True(s, run.Why.Doubtful())
			})
			inSession(t, name, seed, func(s *session) {
				s.bench.unpaced = false
				run := s.unit("references drift 500 ppm within 1 s")
				assert.Equal(s, sequence.DriftedMeanwhile, run.Why.Code, run.Reason)
				run = s.unit("references drift -500 ppm within 1 s; key 1 open; key 2 high 640 ohm")
				assert.True(s, run.Why.Doubtful(), run.Reason)
				assert.Equal(s, sequence.Aborted, run.Outcome)
			})
		}
	}
}
