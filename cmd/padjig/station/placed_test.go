package station

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/wire"
	"padjig/results/fails"
	"padjig/results/runs/runstest"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// fails has a unit fail on the lane's jig, and puts a good one in then.
func (s *stand) fails(serial string) State {
	s.Helper()
	s.put("key 7 open")
	st := s.test(serial)
	require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
	require.Equal(s, sequence.Fail, st.Verdict.Outcome)
	s.put("")
	return st
}

// owe are the units that the lane shows as not placed.
func (s *stand) owe() (serials []string) {
	for _, o := range s.lane.State().Owed {
		serials = append(serials, o.Serial)
	}
	return serials
}

// After a fail the next unit is refused before anything moves, until the failed one
// lies where it goes; then the lane is ready by itself.
func TestTheNextUnitWaitsForTheFailedOne(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		st := s.fails(s.unit(1))
		require.Len(s, st.Owed, 1, "as the verdict comes up")
		for range 2 {
			r := s.refused(s.unit(2), FailNotPlaced, func() { s.scan(s.unit(2)) })
			assert.Contains(s, r.Error(), s.unit(1))
			assert.Equal(s, s.unit(1), r.Args[0])
		}
		s.place(s.unit(1))
		assert.Equal(s, Ready, s.lane.State().Phase)
		assert.Empty(s, s.owe())
		s.tests(s.unit(2))
	})
}

// The verdict itself makes way too, and what another program places is seen soon.
func TestPlacedByAnotherProgram(t *testing.T) {
	at(t, "", func(s *stand) {
		s.setup.LockAfter = time.Hour
		s.start()
		st := s.fails(s.unit(1))
		other := s.records(s.store.Path()) // a terminal beside the page
		_, err := other.Fails.Place(s.Context(), st.Verdict.ID, fails.Place{}, "Ines")
		require.NoError(s, err)
		s.until("is ready", func(st State) bool { return st.Phase == Ready && len(st.Owed) == 0 })
		s.tests(s.unit(2))
	})
}

// The unit itself may come again while it has attempts; when it passes then, nothing
// is owed, when it fails again its newest tag is.
func TestTheSameUnitComesAgain(t *testing.T) {
	at(t, "", func(s *stand) {
		s.product = parsed(t, swap(gcc(t), "attempts: 2", "attempts: 3"))
		s.setup.Product = s.product
		s.start()
		first := s.fails(s.unit(1)).Verdict.ID
		second := s.fails(s.unit(1)).Verdict.ID
		require.Len(s, s.lane.State().Owed, 1)
		assert.Equal(s, second, s.lane.State().Owed[0].Run)
		_, err := s.store.Fails.Place(s.Context(), first, fails.Place{}, "Abel")
		require.ErrorContains(s, err, string(fails.TagOlder))
		s.refused(s.unit(2), FailNotPlaced, func() { s.scan(s.unit(2)) })
		s.tests(s.unit(1))
		assert.Empty(s, s.owe())
		s.tests(s.unit(2))
	})
}

// Neither a restart, nor a clock that was set back, nor another lane on the jig gets
// round it; another jig goes on.
func TestOwedAcrossARestart(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.fails(s.unit(1))
		s.end()
		s.spoil("DROP TRIGGER run_start_no_update", "UPDATE run_start SET started_us = started_us + 86400000000")
		s.start()
		assert.Equal(s, []string{s.unit(1)}, s.owe(), "at once")
		s.refused(s.unit(2), FailNotPlaced, func() { s.scan(s.unit(2)) })
		s.replace(func(id *wire.Identity) { id.Serial = "SIM-0002" })
		s.end()
		s.start()
		s.tests(s.unit(2))
		open, err := s.store.Fails.Open(s.Context(), true)
		require.NoError(s, err)
		require.Len(s, open, 1)
		assert.Equal(s, s.unit(1), open[0].Serial, "it is on the list all the same")
	})
}

// fails1 has a unit fail without a lane, as at the terminal.
func (s *stand) fails1(serial string) Done {
	s.Helper()
	s.put("key 7 open")
	j, _ := s.job(serial)
	done := s.done(j)
	require.Equal(s, sequence.Fail, done.Outcome)
	s.put("")
	return done
}

// The terminal keeps to it as well. What was placed of a simulated unit lets no real
// one go.
func TestOwedSimulatedAndRealApart(t *testing.T) {
	at(t, "", func(s *stand) {
		s.pretend(true)
		s.calibrated(time.Now(), true)
		real := s.fails1(s.unit(1))
		require.False(s, real.Simulated)
		s.pretend(false)
		other, _ := s.job(s.unit(2))
		s.done(other)
		simulated := s.fails1(s.unit(1))
		require.True(s, simulated.Simulated)
		_, err := s.store.Fails.Place(s.Context(), simulated.ID, fails.Place{}, "Abel")
		require.NoError(s, err)
		s.pretend(true)
		next, _ := s.job(s.unit(3))
		r := s.turnedAway(next, FailNotPlaced)
		assert.Contains(s, wording.Words{}.Try(r.Remedy), "padjig unit place --operator NAME --store FILE")
		_, err = s.store.Fails.Place(s.Context(), real.ID, fails.Place{}, "Abel")
		require.NoError(s, err)
		s.done(next)
	})
}

// What is no production neither owes nor waits: reference units, stages of a case and
// readings of a study. What waits for the lid is asked once more.
func TestWhatOwesNothing(t *testing.T) {
	at(t, "references: {good: REF-G, every: 8 h}\n", func(s *stand) {
		s.start()
		s.put("key 7 open")
		st := s.test("REF-G")
		require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
		assert.Empty(s, s.owe())
		s.put("")
		s.tests("REF-G")
		s.fails(s.unit(1))
		s.tests("REF-G")
		s.end()
		study, _ := s.job(s.unit(2))
		study.Study = true
		s.done(study)
		s.start()
		c := s.came(s.unit(3))
		s.lane.Scan(Scan{Serial: s.unit(3), Operator: "Rosa", Return: &Return{Case: c, Purpose: sequence.FirstPress}})
		st = s.settled(s.unit(3))
		require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
		s.refused(s.unit(4), FailNotPlaced, func() { s.scan(s.unit(4)) })
		s.refused(s.unit(4), FailNotPlaced, func() { s.lane.Scan(Scan{Serial: s.unit(4), Operator: "Quinn", Overridden: true}) })
	})
	at(t, "fails: none\n", func(s *stand) {
		s.start()
		s.fails(s.unit(1))
		assert.Empty(s, s.owe())
		s.tests(s.unit(2))
	})
}

// Stopped when something has been found: no way round either.
func TestStoppedAfterAFindingIsOwed(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.put("key 1 open")
		s.scan(s.unit(1))
		s.until("has found something", func(st State) bool {
			return len(st.Keys) > 0 && st.Keys[0].Verdict == sequence.KeyFail && st.Done > 2
		})
		s.lane.Stop()
		st := s.settled(s.unit(1))
		require.Equal(s, Ended, st.Phase)
		require.Equal(s, sequence.Aborted, st.Verdict.Outcome)
		require.NotEmpty(s, st.Verdict.Findings)
		s.put("")
		s.refused(s.unit(2), FailNotPlaced, func() { s.scan(s.unit(2)) })
		s.place(s.unit(1))
		s.tests(s.unit(2))
	})
}

// fails2 has a fail of a unit in the records, as from another program with a jig that
// says that it is this one.
func (s *stand) fails2(serial string) string {
	s.Helper()
	run := runstest.Failed(serial)
	run.Jig.Serial, run.Simulated = s.lane.State().Jig.Serial, true
	_, err := s.store.Runs.Save(s.Context(), runstest.Climate(), run)
	require.NoError(s, err)
	return serial
}

// A fail that another program makes on the jig while the lid is open is seen too.
func TestOwedIsAskedOnceMoreAtTheClaim(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		s.put("jig opens interlock")
		s.scan(s.unit(2))
		s.until("waits for the lid", func(st State) bool { return st.Phase == Lid })
		failed := s.fails2(s.unit(1))
		before := s.moves()
		s.put("")
		s.press()
		st := s.settled(s.unit(2))
		require.Equal(s, Refused, st.Phase)
		assert.Equal(s, FailNotPlaced, st.Refusal.Code)
		assert.Equal(s, failed, st.Refusal.Args[0])
		assert.Equal(s, before, s.moves(), "nothing has moved")
	})
}
