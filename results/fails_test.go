package results

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/fails"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// floorOf keeps runs of one line.
type floorOf struct {
	*testing.T
	*Store
	rev runs.Revision
}

func (f floorOf) run(run sequence.Run, change ...func(*sequence.Run)) store.ID {
	f.Helper()
	for _, c := range change {
		c(&run)
	}
	id, err := f.Runs.Save(f.Context(), f.rev, runstest.Of(f.rev, run))
	require.NoError(f, err)
	return id
}

func onJig(jig string) func(*sequence.Run) { return func(r *sequence.Run) { r.Jig.Serial = jig } }

func simulatedRun(r *sequence.Run) { r.Simulated = true }

// owed are the units that owe on a jig.
func (f floorOf) owed(jig string, simulated bool) []string {
	f.Helper()
	list, err := f.Fails.On(f.Context(), jig, simulated)
	require.NoError(f, err)
	return store.Each(list, func(o fails.Owed) string { return o.Serial })
}

// trouble is what keeps a tag from being placed.
func (f floorOf) trouble(run store.ID) *fails.TagError {
	f.Helper()
	_, err := f.Fails.Place(f.Context(), run, fails.Place{}, "Ines")
	var told *fails.TagError
	require.ErrorAs(f, err, &told)
	_, err = f.Fails.Tag(f.Context(), run)
	require.ErrorAs(f, err, &told, "it is said before it is tried")
	return told
}

// Who owes follows from the runs: the newest run of each unit that says how it stands.
func TestWhoOwesFollowsFromTheRuns(t *testing.T) {
	f := floorOf{t, openTemp(t), runstest.Climate()}
	f.run(runstest.Passed("24-000001"))
	assert.Empty(t, f.owed("J-0007", false))

	first := f.run(runstest.Failed("24-000002"))
	assert.Equal(t, []string{"24-000002"}, f.owed("J-0007", false))
	assert.Empty(t, f.owed("J-0008", false), "another jig goes on")
	assert.Empty(t, f.owed("J-0007", true), "simulated and real are apart")
	f.run(runstest.Failed("24-000002"), simulatedRun)
	assert.Equal(t, []string{"24-000002"}, f.owed("J-0007", true))
	assert.Equal(t, []string{"24-000002"}, f.owed("J-0007", false))

	// What says nothing of the unit settles nothing; the next fail is what is owed then.
	f.run(runstest.Passed("24-000002"), func(r *sequence.Run) {
		r.Outcome, r.Reason = sequence.Reseat, "turned round"
	})
	f.run(runstest.Electrical(runstest.Passed("24-000002")))
	assert.Equal(t, []string{"24-000002"}, f.owed("J-0007", false))
	second := f.run(runstest.Failed("24-000002"), onJig("J-0008"))
	assert.Empty(t, f.owed("J-0007", false), "it lies at the other jig now")
	assert.Equal(t, []string{"24-000002"}, f.owed("J-0008", false))
	older := f.trouble(first)
	assert.Equal(t, fails.TagOlder, older.Why)
	assert.Equal(t, second, older.Newer.Run)
	f.run(runstest.Passed("24-000002"), onJig("J-0008"))
	assert.Empty(t, f.owed("J-0008", false), "it passed when it was tested again")
	assert.Equal(t, fails.TagPassed, f.trouble(second).Why)

	// Stopped after a finding: nothing found may vanish by a button.
	stopped := f.run(runstest.Failed("24-000003"), func(r *sequence.Run) {
		r.Outcome, r.Reason = sequence.Aborted, "stopped"
	})
	assert.Equal(t, []string{"24-000003"}, f.owed("J-0007", false))
	_, err := f.Fails.Place(t.Context(), stopped, fails.Place{}, "Ines")
	require.NoError(t, err)
	assert.Empty(t, f.owed("J-0007", false))

	// Neither stages of a case nor readings of a study owe.
	for _, purpose := range []sequence.Purpose{sequence.Production, sequence.GaugeStudy} {
		if purpose == sequence.GaugeStudy {
			returned(t, f.Store)
			studyKept(t, f.Store)
		}
		list, err := f.Fails.Open(t.Context(), false)
		require.NoError(t, err)
		assert.Empty(t, list)
	}
}

// What the definition says by which a unit was tested: a product that asks for nothing,
// and its reference units, owe nothing.
func TestWhatTheProductSaysOfFails(t *testing.T) {
	s := openTemp(t)
	free := floorOf{t, s, runstest.Defined(`{"code":"GH-20","keys":20,"fails":"none"}`)}
	free.rev.Label = "D"
	free.run(runstest.Failed("24-000001"), func(r *sequence.Run) { r.Revision = "D" })
	refs := floorOf{t, s, runstest.Defined(`{"code":"GH-20","keys":20,"references":{"good":["REF-G"],"bad":[{"Serial":"REF-B","What":"key open"}]}}`)}
	refs.rev.Label = "E"
	for _, serial := range []string{"REF-G", "REF-B", "24-000002"} {
		refs.run(runstest.Failed(serial), func(r *sequence.Run) { r.Revision = "E" })
	}
	assert.Equal(t, []string{"24-000002"}, refs.owed("J-0007", false))
}

// A tag places what it is the tag of, once.
func TestPlacing(t *testing.T) {
	f := floorOf{t, openTemp(t), runstest.Climate()}
	run := f.run(runstest.Failed("24-000001"))
	shelf, err := f.Fails.AddPlace(t.Context(), " Shelf 2 ", "Ines")
	require.NoError(t, err)
	assert.Equal(t, fails.Place{Number: 1, Name: "Shelf 2"}, shelf)
	for name, say := range map[string]string{"shelf 2": "there already", "": "no name", strings.Repeat("x", 41): "longer"} {
		_, err := f.Fails.AddPlace(t.Context(), name, "Ines")
		require.ErrorContains(t, err, say)
	}
	places, err := f.Fails.Places(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []fails.Place{{Number: 0, Name: "fail place"}, shelf}, places)

	unknown := f.trouble(store.NextID(time.Now(), run))
	assert.Equal(t, fails.TagUnknown, unknown.Why)
	assert.Equal(t, fails.TagNoFail, f.trouble(f.run(runstest.Passed("24-000002"))).Why)
	_, err = f.Fails.Place(t.Context(), run, shelf, "")
	require.ErrorContains(t, err, "not named")
	placed, err := f.Fails.Place(t.Context(), run, shelf, "Abel")
	require.NoError(t, err)
	assert.Equal(t, "24-000001", placed.Serial)
	twice := f.trouble(run)
	assert.Equal(t, fails.TagTwice, twice.Why)
	assert.Equal(t, "Shelf 2", twice.Before.Place)
	assert.Equal(t, "Abel", twice.Before.By)
	list, err := f.Fails.Of(t.Context(), "24-000001")
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, fails.Placed, list[0].How)
	_, err = raw(f.Store).Exec(`INSERT INTO placement SELECT 2, seq, 'placed', NULL, 'Abel', '', 2, 0, zeroblob(32) FROM run WHERE outcome = 'pass'`)
	require.ErrorContains(t, err, "only a run that found something")
}

// What a person decides to let go is among the overrides, with its reason.
func TestLifting(t *testing.T) {
	f := floorOf{t, openTemp(t), runstest.Climate()}
	run := f.run(runstest.Failed("24-000001"))
	_, err := f.Fails.Lift(t.Context(), run, "Quinn", "  ")
	require.ErrorContains(t, err, "no reason")
	assert.Len(t, f.owed("J-0007", false), 1)
	_, err = f.Fails.Lift(t.Context(), run, "Quinn", "unit fell into the press")
	require.NoError(t, err)
	assert.Empty(t, f.owed("J-0007", false))
	over, err := f.Accounts.Overrides(t.Context(), 9)
	require.NoError(t, err)
	require.Len(t, over, 1)
	assert.Equal(t, "fail not placed", over[0].What)
	assert.Equal(t, "24-000001", over[0].Serial)
	assert.Equal(t, "J-0007", over[0].Jig)
	list, err := f.Fails.Of(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Equal(t, "unit fell into the press", list[0].Reason)
	assert.Empty(t, list[0].Place)
	assert.Equal(t, fails.TagTwice, f.trouble(run).Why)
}

// The order is that of the runs: a clock that is set back settles nothing, and what
// another program places counts at once.
func TestOwedWhateverTheClockSays(t *testing.T) {
	f := floorOf{t, openTemp(t), runstest.Climate()}
	first := f.run(runstest.Failed("24-000001"))
	second := f.run(runstest.Failed("24-000001"), func(r *sequence.Run) { r.Started = r.Started.AddDate(-1, 0, 0) })
	assert.Equal(t, fails.TagOlder, f.trouble(first).Why)
	assert.Len(t, f.owed("J-0007", false), 1)
	other, err := Open(t.Context(), f.Path())
	require.NoError(t, err)
	_, err = other.Fails.Place(t.Context(), second, fails.Place{}, "Ines")
	require.NoError(t, err)
	require.NoError(t, other.Close())
	assert.Empty(t, f.owed("J-0007", false))
}

// A line that is brought up to date does not stand still for fails of before.
func TestFailsOfBeforeOweNothing(t *testing.T) {
	f := floorOf{t, openChecked(t, before(t, 23, "runs23.sql"), testSeams()), runstest.Climate()}
	assert.Empty(t, f.owed("J-0007", false))
	f.run(runstest.Failed("24-000004"))
	assert.Equal(t, []string{"24-000004"}, f.owed("J-0007", false))
	old, err := f.Runs.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	_, err = f.Fails.Place(t.Context(), old[0].ID, fails.Place{}, "Ines")
	require.NoError(t, err, "it may be put away all the same")
}

// Codes are read whole or not at all; a tail of one is no number that has digits only.
func TestCodes(t *testing.T) {
	for _, id := range []store.ID{{}, store.NextID(time.Now(), store.ID{}), store.MakeID(1<<48-1, math.MaxUint16, math.MaxUint64)} {
		code := fails.TagCode(id)
		assert.True(t, fails.IsCode(code))
		got, ok := fails.TagOf(code)
		assert.True(t, ok)
		assert.Equal(t, id, got)
		for cut := 1; cut < len(code); cut++ {
			_, ok := fails.TagOf(code[:cut])
			assert.False(t, ok, code[:cut])
			_, ok = fails.TagOf(code[cut:])
			assert.False(t, ok, code[cut:])
		}
		for _, wrong := range []string{code + "0", strings.ToLower(code), strings.Replace(code, "PJT0", "PJT0 ", 1), "PJT0" + strings.Repeat("9", 39) + "P"} {
			_, ok := fails.TagOf(wrong)
			assert.False(t, ok, wrong)
		}
	}
	for _, n := range []int64{0, 1, 9999} {
		got, ok := fails.PlaceOf(fails.Place{Number: n}.Code())
		assert.True(t, ok)
		assert.Equal(t, n, got)
	}
	for _, wrong := range []string{"PJF0", "PJF01P", "PJF0-001P", "PJC0STOP", "PJF00001", ""} {
		_, ok := fails.PlaceOf(wrong)
		assert.False(t, ok, wrong)
	}
}

// placedRows fills the tables of this room.
func placedRows(t *testing.T, s *Store) {
	t.Helper()
	_, err := s.Fails.AddPlace(t.Context(), "Shelf 2", "Ines")
	require.NoError(t, err)
	list, err := s.Fails.Open(t.Context(), false)
	require.NoError(t, err)
	require.NotEmpty(t, list)
	_, err = s.Fails.Place(t.Context(), list[0].Run, fails.Place{}, "Ines")
	require.NoError(t, err)
}
