package station

import (
	"context"
	"errors"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/tally"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// Nothing is shown of a unit before its run is committed: while the records are
// held by somebody else the lane says that it stores, and no more.
func TestNothingIsShownBeforeTheCommit(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		goOn := s.storing(s.unit(1))
		st := s.lane.State()
		assert.Nil(s, st.Verdict)
		assert.Zero(s, st.Tally.Units)
		assert.Empty(s, s.store1(s.unit(1)))
		goOn()
		st = s.settled(s.unit(1))
		require.NotNil(s, st.Verdict)
		assert.Equal(s, s.store1(s.unit(1))[0].ID, st.Verdict.ID)
		assert.Equal(s, 1, st.Tally.Units)
	})
}

// A run that cannot be stored has no verdict: the unit is refused, with what is
// to be done, and counts nowhere. When the records are in order again it is tested anew.
func TestARunThatCannotBeStored(t *testing.T) {
	spoil := func(table string) func(*stand) {
		return func(s *stand) {
			s.spoil(`CREATE TRIGGER spoilt BEFORE INSERT ON ` + table + ` BEGIN SELECT RAISE(ABORT, 'the disk is read-only'); END`)
		}
	}
	for name, c := range map[string]struct {
		spoil func(*stand)
		code  Code
		mend  func(*stand)
	}{
		"the run is not taken":   {spoil("run"), NoRecords, func(s *stand) { s.spoil(`DROP TRIGGER spoilt`) }},
		"its last part is not":   {spoil("step"), NoRecords, func(s *stand) { s.spoil(`DROP TRIGGER spoilt`) }},
		"the records were moved": {func(s *stand) { require.NoError(s, os.Rename(s.store.Path(), s.store.Path()+".away")) }, RecordsMoved, nil},
		"they were moved and are back": {func(s *stand) {
			require.NoError(s, os.Rename(s.store.Path(), s.store.Path()+".away"))
			require.ErrorIs(s, s.store.Room(s.Context()), store.ErrMoved)
			require.NoError(s, os.Rename(s.store.Path()+".away", s.store.Path()))
		}, RecordsMoved, nil},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				s.start()
				s.scan(s.unit(1))
				s.until("tests", func(st State) bool { return st.Phase == Running && st.Done > 0 })
				c.spoil(s)
				st := s.settled(s.unit(1))
				require.Equal(s, Refused, st.Phase)
				assert.Equal(s, c.code, st.Refusal.Code, st.Refusal.Error())
				assert.Equal(s, NotRecorded, st.Refusal.Kind)
				assert.NotEmpty(s, st.Refusal.Remedy)
				assert.Nil(s, st.Verdict)
				assert.Zero(s, st.Tally.Units)
				assert.Empty(s, s.store1(s.unit(1)))
				if c.mend == nil {
					s.refused(s.unit(2), c.code, func() { s.scan(s.unit(2)) })
					return
				}
				c.mend(s)
				s.tests(s.unit(2))
			})
		})
	}
}

// A unit whose run could not be stored is in nobody's hand: it is known to be unfinished.
func TestAnUnstoredUnitIsUnfinished(t *testing.T) {
	at(t, "", func(s *stand) {
		s.spoil(`CREATE TRIGGER spoilt BEFORE INSERT ON run BEGIN SELECT RAISE(ABORT, 'the disk is read-only'); END`)
		j, d := s.job(s.unit(1))
		_, err := j.TestOn(s.Context(), s.opener)
		r := RefusalOf(err)
		assert.Equal(s, NotRecorded, r.Kind)
		assert.Contains(s, wording.Words{}.Try(r.Remedy), "treat the unit as untested")
		assert.Contains(s, wording.Words{}.Try(r.Remedy), "--store FILE")
		assert.Len(s, d.ended, 1)
		s.spoil(`DROP TRIGGER spoilt`)
		h, err := s.store.Runs.History(s.Context(), s.unit(1))
		require.NoError(s, err)
		assert.Nil(s, h.InHand)
		assert.Equal(s, 1, h.Of(s.product.Code, true).Unfinished)
		again, _ := s.job(s.unit(1))
		assert.Equal(s, 2, s.done(again).Attempt)
	})
}

// What a reference unit showed is judged and kept also when somebody says stop
// while its run is being stored: it has been tested.
func TestAReferenceUnitThatWasStoredIsJudged(t *testing.T) {
	at(t, demanding, func(s *stand) {
		s.start()
		goOn := s.storing("REF-G")
		s.lane.Stop()
		goOn()
		st := s.settled("REF-G")
		require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
		require.NotNil(s, st.Verdict.Reference)
		assert.True(s, st.Verdict.Reference.Good())
		state, err := s.store.Care.Reference(s.Context(), "SIM-0001", "REF-G", true)
		require.NoError(s, err)
		assert.NotNil(s, state.Last)
	})
}

// A check of a reference unit that cannot be kept is no check: the unit has no
// verdict, and stays due.
func TestAReferenceCheckThatCannotBeKept(t *testing.T) {
	for name, spoil := range map[string]string{
		"not taken": `CREATE TRIGGER spoilt BEFORE INSERT ON reference_check BEGIN SELECT RAISE(ABORT, 'the disk is read-only'); END`,
		"not read":  `ALTER TABLE reference_check RENAME TO gone`,
	} {
		t.Run(name, func(t *testing.T) {
			at(t, demanding, func(s *stand) {
				s.spoil(spoil)
				j, _ := s.job("REF-G")
				_, err := j.TestOn(s.Context(), s.opener)
				assert.Equal(s, NoRecords, RefusalOf(err).Code)
				assert.NotEmpty(s, RefusalOf(err).Remedy)
				assert.Len(s, s.store1("REF-G"), 1, "the run itself is stored")
			})
		})
	}
}

// What is kept beside a stage is kept before it shows, whatever has been stopped
// meanwhile; where it cannot be, that shows in place of the stage.
func TestStagedBeforeItShows(t *testing.T) {
	for name, c := range map[string]struct {
		stop bool
		fail error
	}{"kept": {}, "stopped while it is stored": {stop: true}, "not kept": {fail: errors.New("no causes")}} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				back := s.came(s.unit(1))
				var staged []runs.Stored
				s.setup.Staged = func(ctx context.Context, _ *product.Product, of returns.Case, run runs.Stored) error {
					assert.Equal(s, Storing, s.lane.State().Phase)
					assert.NoError(s, ctx.Err(), "a stop does not keep it from being kept")
					assert.Equal(s, back.Number, of.Number)
					assert.NotEmpty(s, s.store1(run.Serial), "stored before")
					staged = append(staged, run)
					return c.fail
				}
				s.start()
				goOn := s.staging(back, sequence.FirstPress)
				if c.stop {
					s.lane.Stop()
				}
				goOn()
				st := s.settled(s.unit(1))
				assert.Len(s, staged, 1)
				if c.fail != nil {
					assert.Equal(s, Refused, st.Phase)
					assert.ErrorIs(s, st.Refusal, c.fail)
					return
				}
				require.Equal(s, Ended, st.Phase, "%v", st.Refusal)
				assert.Equal(s, sequence.FirstPress, st.Verdict.Purpose)
				assert.Equal(s, staged[0].ID, st.Verdict.ID)
			})
		})
	}
}

// What a jig did in this shift before the station was started is counted, each
// unit once, and what is not of it is not.
func TestTheTallyIsTheSameAfterARestart(t *testing.T) {
	at(t, "", func(s *stand) {
		s.setup.Shifts = []time.Duration{6 * time.Hour, 14 * time.Hour}
		time.Sleep(13*time.Hour + 50*time.Minute)
		s.start()
		s.tests(s.unit(1))
		s.put("key 7 open")
		s.test(s.unit(2))
		s.put("")
		s.tests(s.unit(2)) // retest
		s.put("tail reversed")
		s.test(s.unit(3))
		s.put("")
		before := s.lane.State().Tally
		assert.Equal(s, []int{3, 1, 1, 0, 1}, []int{before.Units, before.First, before.Retest, before.Failed, before.Open})
		s.end()
		s.start()
		assert.Equal(s, before, s.lane.State().Tally)
		time.Sleep(10 * time.Minute) // another shift
		s.lane.Refresh()
		s.until("counts anew", func(st State) bool { return st.Tally.Units == 0 })
		s.tests(s.unit(4))
		assert.Equal(s, 1, s.lane.State().Tally.First)
		s.end()
		s.spoil(`ALTER TABLE run RENAME TO gone`)
		s.begin() // the first unit will say so
		s.until("has its jig", func(st State) bool { return st.Jig.Present })
		assert.Zero(s, s.lane.State().Tally.Units)
		st := s.test(s.unit(5))
		assert.Equal(s, NoRecords, st.Refusal.Code)
	})
}

// Shifts begin when they begin, across midnight too.
func TestShiftStart(t *testing.T) {
	at := func(d, h int) time.Time { return time.Date(2026, 11, d, h, 0, 0, 0, time.Local) }
	three := []time.Duration{6 * time.Hour, 14 * time.Hour, 22 * time.Hour}
	for _, c := range []struct {
		now    time.Time
		starts []time.Duration
		wants  time.Time
	}{
		{at(29, 6), three, at(29, 6)},
		{at(29, 13), three, at(29, 6)},
		{at(29, 23), three, at(29, 22)},
		{at(29, 3), three, at(28, 22)},
		{at(29, 3), []time.Duration{6 * time.Hour}, at(28, 6)},
		{at(29, 3), nil, at(29, 0)},
	} {
		assert.Equal(t, c.wants, tally.ShiftStart(c.now, c.starts), c.now)
	}
}
