package results

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/lines"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/results/studies"
	"padjig/sequence"
)

// pairStudy is two parts by two operators, twice, in a mixed order.
func pairStudy() studies.Study {
	at := func(part, appraiser, repeat int) studies.Planned {
		return studies.Planned{Part: part, Appraiser: appraiser, Repeat: repeat}
	}
	return studies.Study{
		Across: studies.AcrossOperators, Parts: []string{"24-000001", "24-000002"}, Appraisers: []string{"Ann", "Bob"}, Repeats: 2,
		Plan: []studies.Planned{at(1, 0, 0), at(0, 1, 0), at(1, 1, 0), at(0, 0, 0), at(0, 0, 1), at(1, 0, 1), at(1, 1, 1), at(0, 1, 1)},
		Seed: 7, Note: "new probes", By: "Eve",
	}
}

// studied is a run that is the reading at a place of the study.
func studied(s studies.Study, place int) sequence.Run {
	run := runstest.Passed(s.Parts[s.Plan[place].Part])
	run.Purpose, run.Operator = sequence.GaugeStudy, s.Appraisers[s.Plan[place].Appraiser]
	return run
}

func TestStudyIsMeasuredInItsOrder(t *testing.T) {
	s := openTemp(t)
	study, err := s.Studies.PlanStudy(t.Context(), runstest.Climate(), pairStudy())
	require.NoError(t, err)
	assert.EqualValues(t, 1, study.Number)
	for n := range study.Plan {
		place, ok := study.Next("")
		require.True(t, ok)
		assert.Equal(t, n, place)
		id, err := s.Runs.Save(t.Context(), runstest.Climate(), studied(study, place))
		require.NoError(t, err)
		require.NoError(t, s.Studies.AddReading(t.Context(), study.Number, place, id))
		study, err = s.Studies.Study(t.Context(), study.Number)
		require.NoError(t, err)
		assert.Equal(t, studies.StudyReading{Place: place, Run: id, Outcome: sequence.Pass}, study.Readings[n])
	}
	assert.True(t, study.Complete())
	_, ok := study.Next("")
	assert.False(t, ok)

	want := pairStudy()
	assert.Equal(t, want.Plan, study.Plan)
	assert.Equal(t, [3]string{"GH-20", runstest.Climate().Label, runstest.Climate().Hash}, [3]string{study.Product, study.Revision, study.Hash})
	list, err := s.Studies.Studies(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []studies.Study{study}, list)
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults)
}

func TestNextOfOneAppraiser(t *testing.T) {
	study := pairStudy()
	place, ok := study.Next("Bob")
	assert.True(t, ok)
	assert.Equal(t, 1, place)
	study.Readings = []studies.StudyReading{{Place: 1}, {Place: 2}}
	place, _ = study.Next("Bob")
	assert.Equal(t, 6, place)
	_, ok = study.Next("Cid")
	assert.False(t, ok)
}

// A run of a study is no production: no attempt, no pass, no unit of a yield.
func TestRunOfStudyIsNoProduction(t *testing.T) {
	s := openTemp(t)
	study, err := s.Studies.PlanStudy(t.Context(), runstest.Climate(), pairStudy())
	require.NoError(t, err)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), studied(study, 0))
	require.NoError(t, err)
	h, err := s.Runs.History(t.Context(), study.Parts[1])
	require.NoError(t, err)
	past := h.Of("GH-20", false)
	assert.False(t, past.Passed)
	assert.Zero(t, past.Judged)
	y, err := s.Lines.Yields(t.Context(), lines.Filter{})
	require.NoError(t, err)
	assert.Zero(t, y.Total.Units)
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults, "the sums agree with a recount")
}

func TestReadingThatIsNotPlanned(t *testing.T) {
	s := openTemp(t)
	study, err := s.Studies.PlanStudy(t.Context(), runstest.Climate(), pairStudy())
	require.NoError(t, err)
	other := runstest.Defined(`{"code":"GH-20","keys":20,"other":true}`)
	other.Label = "B"
	for name, change := range map[string]func(*sequence.Run){
		"another part":     func(r *sequence.Run) { r.Serial = "24-000001" },
		"another operator": func(r *sequence.Run) { r.Operator = "Bob" },
		"production":       func(r *sequence.Run) { r.Purpose = sequence.Production },
		"another revision": func(r *sequence.Run) { r.Hash, r.Revision = other.Hash, other.Label },
		"no verdict":       func(r *sequence.Run) { r.Outcome, r.Reason = sequence.Aborted, "interrupted" },
	} {
		t.Run(name, func(t *testing.T) {
			run := studied(study, 0)
			change(&run)
			rev := runstest.Climate()
			if run.Hash == other.Hash {
				rev = other
			}
			id, err := s.Runs.Save(t.Context(), rev, run)
			require.NoError(t, err)
			assert.ErrorContains(t, s.Studies.AddReading(t.Context(), study.Number, 0, id), "not the reading that the study plans")
		})
	}
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), studied(study, 0))
	require.NoError(t, err)
	require.NoError(t, s.Studies.AddReading(t.Context(), study.Number, 0, id))
	assert.ErrorContains(t, s.Studies.AddReading(t.Context(), study.Number, 5, id), "append-only", "a run is one reading")
	again, err := s.Runs.Save(t.Context(), runstest.Climate(), studied(study, 0))
	require.NoError(t, err)
	assert.ErrorContains(t, s.Studies.AddReading(t.Context(), study.Number, 0, again), "append-only", "a place is taken once")
	run := studied(study, 1)
	run.Simulated = true
	simulated, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	assert.ErrorContains(t, s.Studies.AddReading(t.Context(), study.Number, 1, simulated), "simulated readings or real ones, not both")
	assert.ErrorIs(t, s.Studies.AddReading(t.Context(), study.Number, 1, store.ID{}), store.ErrNotFound)
	_, err = s.Studies.Study(t.Context(), 2)
	assert.ErrorIs(t, err, store.ErrNotFound)
}

func TestStudyThatCannotBe(t *testing.T) {
	s := openTemp(t)
	_, err := s.Studies.PlanStudy(t.Context(), runstest.Climate(), studies.Study{Across: "shift", Parts: []string{"a", "a"}, Appraisers: []string{"Ann"}, Repeats: 1})
	require.ErrorIs(t, err, studies.ErrStudy)
	for _, words := range []string{`across "shift"`, "nobody is named", `"a" stands twice among the parts`, "1 appraisers", "1 repeats", "each reading once"} {
		assert.ErrorContains(t, err, words)
	}
}

// The rule about purposes was changed in place: it must hold as the new one
// does, in a new store and in one of before.
func TestPurposesAreStillHeldByTheTable(t *testing.T) {
	s := openTemp(t)
	_, err := raw(s).Exec(`INSERT INTO run (seq, id, serial, revision, jig, station, simulated, actuation, operator, attempt,
		started_us, duration_us, outcome, reason, saved_us, steps, seats, keys, pairs, findings, hash, purpose)
		VALUES (1, zeroblob(16), 'x', 1, 1, 1, 0, '', '', 1, 0, 0, 'aborted', 'r', 0, 0, 0, 0, 0, 0, zeroblob(32), 'rehearsal')`)
	assert.ErrorContains(t, err, "CHECK constraint failed: purpose IN")
	var text string
	require.NoError(t, raw(s).QueryRow(`SELECT sql FROM sqlite_schema WHERE name = 'run'`).Scan(&text))
	assert.Contains(t, text, `'exercise', 'gauge study', 'engineering')`)
	assert.Contains(t, text, `CHECK ((purpose IN ('', 'gauge study', 'engineering')) = (return_case IS NULL))`)
}

func TestKeyLimits(t *testing.T) {
	s := openTemp(t)
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	_, err = s.Studies.KeyLimits(t.Context(), runstest.Climate().Hash, lines.Contact)
	require.NoError(t, err)
	_, err = s.Studies.KeyLimits(t.Context(), "none", lines.Contact)
	assert.ErrorIs(t, err, store.ErrNotFound)
}
