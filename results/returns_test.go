package results

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

func intake() returns.Intake {
	return returns.Intake{
		Received: time.Date(2026, 9, 1, 8, 30, 0, 0, time.UTC), Complaint: "key works sometimes",
		ComplaintText: "7 needs two or three tries", Conditions: []string{"dirty"}, Customer: "Hall 4", Lot: "M-2231", By: "Jon",
	}
}

// stage is a run made for a case.
func stage(c returns.Case, purpose sequence.Purpose, outcome sequence.Outcome) sequence.Run {
	run := runstest.Passed(c.Serial)
	if outcome == sequence.Fail {
		run = runstest.Failed(c.Serial)
	}
	run.Purpose, run.Case, run.Outcome = purpose, c.ID.String(), outcome
	if purpose == sequence.Exercise {
		run.Exercised = []sequence.KeyExercise{{
			Key: "1", Presses: 40, Misses: 3, High: 1, Sticks: 1, First: 12,
			Least: &fixture.Resistance{Value: 97.5, U: 0.3}, Most: &fixture.Resistance{Value: 188.25, U: 0.5},
			Make: sequence.Milliseconds(1250 * time.Microsecond), Break: sequence.Milliseconds(800 * time.Microsecond),
			Held:   fixture.Hold{Watched: 2 * time.Second, Openings: 4, Longest: 350 * time.Microsecond, AtLeast: true},
			Flexed: fixture.Hold{Watched: time.Second},
		}, {Key: "2", Presses: 40, Misses: 40, First: 1}}
	}
	return run
}

// opened takes in a unit that cannot be photographed.
func opened(t testing.TB, s *Store, serial string, in returns.Intake) (returns.Case, error) {
	t.Helper()
	ctx := context.Background()
	c, err := s.Returns.OpenCase(ctx, serial, "GH-20", in)
	require.NoError(t, err)
	require.NoError(t, s.Returns.SayNoPhoto(ctx, c, returns.NoPhoto{Reason: "the camera is broken", By: "Jon"}))
	return s.Returns.Case(ctx, c.Number)
}

// pad is what reworks of these tests are held against.
func pad() *product.Product {
	return &product.Product{Code: "GH-20", Keys: []product.Key{{Label: "1"}, {Label: "22"}}, Lines: []product.Line{{Name: "R1"}, {Name: "C1"}}, Tail: []string{"R1", "C1"}}
}

// returned takes a unit through the returns desk.
func returned(t testing.TB, s *Store) returns.Case {
	t.Helper()
	ctx := context.Background()
	damaged := intake()
	damaged.Conditions = append(damaged.Conditions, "crushed")
	c, err := opened(t, s, "24-000001", damaged)
	require.NoError(t, err)
	require.NoError(t, s.Returns.Unlock(ctx, c, "Ines", "only the bezel is crushed"))
	_, err = s.Returns.AddPhoto(ctx, c, []byte("\xff\xd8\xff as good as a picture"), returns.Photo{ContentType: "image/jpeg", Name: "front.jpg", By: "Jon"})
	require.NoError(t, err)
	for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise} {
		_, err = s.Runs.Save(ctx, runstest.Climate(), stage(c, p, sequence.Fail))
		require.NoError(t, err, p)
	}
	c, err = s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	require.NoError(t, s.Returns.Diagnosed(ctx, c, returns.Diagnosis{Run: c.Stages[1].Seq, Causes: []byte(`[{"cause":"dirt"}]`)}))
	require.NoError(t, s.Returns.SaveRework(ctx, returns.Rework{
		Serial: c.Serial, Deed: "contact replaced", Place: returns.Place{Kind: returns.AtKey, Name: "1"}, Lot: "P-7", By: "Ines", Done: time.Now(),
	}, pad()))
	require.NoError(t, s.Returns.Dispose(ctx, c, returns.Disposition{Code: returns.Confirmed, Disposal: returns.Scrapped, By: "Jon"}))
	c, err = s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	return c
}

func TestCaseRoundTrip(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	c := returned(t, s)
	assert.Equal(t, intake().ComplaintText, c.Intake().ComplaintText)
	assert.True(t, c.Intake().Received.Equal(intake().Received))
	assert.Equal(t, []string{"dirty", "crushed"}, c.Intake().Conditions)
	assert.Len(t, c.Photos, 1)
	require.Len(t, c.Stages, 3)
	found, any := c.FoundBy()
	assert.True(t, any)
	assert.Equal(t, sequence.FirstPress, found.Purpose)
	assert.Equal(t, "key open: key 1 (R1-C1)", found.Worst)
	assert.True(t, c.Closed())
	runs, err := s.Returns.CaseRuns(ctx, c)
	require.NoError(t, err)
	require.Len(t, runs, 3)
	assert.Equal(t, stage(c, sequence.Exercise, sequence.Fail), runs[2].Run)
	again, err := s.Returns.CaseOf(ctx, "24-000001")
	require.NoError(t, err)
	assert.Equal(t, c, again)
	done, err := s.Returns.Reworks(ctx, "24-000001")
	require.NoError(t, err)
	require.Len(t, done, 1)
	assert.Equal(t, int64(3), done[0].AfterRun)
	_, err = s.Returns.CaseOf(ctx, "24-000009")
	assert.ErrorIs(t, err, store.ErrNotFound)
}

// Runs of the returns desk are no attempts, and do not make a unit one that passed.
func TestReturnsAreNoAttempts(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest} {
		_, err = s.Runs.Save(ctx, runstest.Climate(), stage(c, p, sequence.Pass))
		require.NoError(t, err)
	}
	h, err := s.Runs.History(ctx, "24-000001")
	require.NoError(t, err)
	assert.Empty(t, h.Products)
	recent, err := s.Runs.Recent(ctx, 5)
	require.NoError(t, err)
	assert.Equal(t, sequence.ReturnTest, recent[0].Purpose)
}

// What a case does not allow is refused by the method that the desk asks, and by the store.
func TestStagesInOrder(t *testing.T) {
	for name, c := range map[string]struct {
		before []sequence.Run // of the case, its identity filled in here
		in     func(*returns.Intake)
		run    sequence.Purpose
		says   string // of the method
		store  string
	}{
		"production test first": {run: sequence.ReturnTest, says: "is not stored yet, and the production test presses harder", store: "the stage of the returns case before this one is missing"},
		"exercise first":        {run: sequence.Exercise, says: "the production test of case 1 is not stored yet", store: "before this one is missing"},
		"aborted first press": {
			before: []sequence.Run{{Purpose: sequence.FirstPress, Outcome: sequence.Aborted}},
			run:    sequence.ReturnTest, says: "is not stored yet", store: "before this one is missing",
		},
		"a second first press": {
			before: []sequence.Run{{Purpose: sequence.FirstPress, Outcome: sequence.Pass}},
			run:    sequence.FirstPress, says: "a second press would be no first press", store: "a second press is no first press",
		},
		"damage": {
			in: func(in *returns.Intake) { in.EndsTesting, in.Conditions = true, []string{"burnt"} }, run: sequence.FirstPress,
			says: "visible damage (burnt) ended electrical testing", store: "visible damage ended electrical testing",
		},
	} {
		t.Run(name, func(t *testing.T) {
			s, ctx := openTemp(t), t.Context()
			in := intake()
			if c.in != nil {
				c.in(&in)
			}
			opened, err := opened(t, s, "24-000001", in)
			require.NoError(t, err)
			for _, before := range c.before {
				_, err := s.Runs.Save(ctx, runstest.Climate(), stage(opened, before.Purpose, before.Outcome))
				require.NoError(t, err)
			}
			opened, err = s.Returns.Case(ctx, opened.Number)
			require.NoError(t, err)
			assert.ErrorContains(t, opened.Allows(c.run), c.says)
			assert.ErrorIs(t, opened.Allows(c.run), returns.ErrStage)
			_, err = s.Runs.Save(ctx, runstest.Climate(), stage(opened, c.run, sequence.Pass))
			assert.ErrorContains(t, err, c.store)
		})
	}
}

func TestCaseIsOfOneUnitAndOneKindOfJig(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	other := stage(c, sequence.FirstPress, sequence.Pass)
	other.Serial = "24-000002"
	_, err = s.Runs.Save(ctx, runstest.Climate(), other)
	assert.ErrorContains(t, err, "of another unit")
	_, err = s.Runs.Save(ctx, runstest.Climate(), stage(c, sequence.FirstPress, sequence.Pass))
	require.NoError(t, err)
	simulated := stage(c, sequence.ReturnTest, sequence.Pass)
	simulated.Simulated = true
	_, err = s.Runs.Save(ctx, runstest.Climate(), simulated)
	assert.ErrorContains(t, err, "not both")
	_, err = s.Returns.OpenCase(ctx, "24-000001", "GH-20", intake())
	assert.ErrorContains(t, err, "unit 24-000001 has the open case 1")
	nowhere := stage(c, sequence.ReturnTest, sequence.Pass)
	nowhere.Case = "0199aaaa-0000-7000-8000-000000000000"
	_, err = s.Runs.Save(ctx, runstest.Climate(), nowhere)
	assert.ErrorContains(t, err, "there is no returns case")
	nowhere.Case = ""
	_, err = s.Runs.Save(ctx, runstest.Climate(), nowhere)
	assert.ErrorContains(t, err, `purpose "return test" with the returns case ""`)
}

func TestDispositionsNeedTheirStages(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	dispose := func(code, disposal, reason string, answered ...string) error {
		d := returns.Disposition{Code: code, Disposal: disposal, Reason: reason, By: "Jon", Answers: map[string]string{}}
		for _, code := range answered {
			d.Answers[code] = "because " + code
		}
		return s.Returns.Dispose(ctx, c, d)
	}
	unanswered := func(err error, codes ...sequence.Code) {
		t.Helper()
		open, is := errors.AsType[*returns.UnansweredError](err)
		require.True(t, is, "%v", err)
		assert.Equal(t, codes, store.Each(open.Contradictions, func(x returns.Contradiction) sequence.Code { return x.Code }))
		assert.ErrorIs(t, err, returns.ErrStage)
	}
	unanswered(dispose(returns.Confirmed, returns.KeptForAnalysis, ""), returns.NothingFound)
	unanswered(dispose(returns.Confirmed, returns.Scrapped, ""), returns.NothingFound, returns.GoodUnitScrapped)
	unanswered(dispose(returns.Confirmed, returns.Scrapped, "", "nothing found"), returns.GoodUnitScrapped)
	unanswered(dispose(returns.Confirmed, returns.Scrapped, "", "no exercise"), returns.NothingFound, returns.GoodUnitScrapped)
	unanswered(dispose(returns.NotReproduced, returns.SentAsItIs, ""), returns.NoExercise)
	assert.ErrorContains(t, dispose(returns.FalseAccept, returns.Replaced, ""), "say why")
	assert.ErrorContains(t, dispose(returns.Reopened, "", ""), "case 1 is open")
	assert.ErrorContains(t, dispose("fine", returns.Scrapped, ""), "write one of confirmed, not reproduced")
	assert.ErrorContains(t, dispose(returns.Confirmed, "", ""), "what becomes of unit 24-000001?")
	assert.ErrorContains(t, dispose(returns.Confirmed, "eaten", ""), `"eaten" is nothing that becomes of a unit: write one of scrapped,`)
	for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise} {
		run := stage(c, p, sequence.Pass)
		run.Exercised = nil
		_, err = s.Runs.Save(ctx, runstest.Climate(), run)
		require.NoError(t, err)
	}
	require.NoError(t, dispose(returns.NotReproduced, returns.SentAsItIs, ""))
	assert.ErrorContains(t, dispose(returns.NotReproduced, returns.SentAsItIs, ""), `case 1 was closed as "not reproduced" by Jon already`, "twice")
	_, err = s.Runs.Save(ctx, runstest.Climate(), stage(c, sequence.Exercise, sequence.Fail))
	assert.ErrorContains(t, err, "the returns case is closed")
	assert.ErrorContains(t, dispose(returns.Reopened, returns.Scrapped, ""), "nothing becomes of the unit by that")
	require.NoError(t, dispose(returns.Reopened, "", "the customer sent a film of it"))
	_, err = s.Runs.Save(ctx, runstest.Climate(), stage(c, sequence.Exercise, sequence.Fail))
	require.NoError(t, err)
	unanswered(dispose(returns.NotReproduced, returns.SentAsItIs, "", "no exercise"), returns.StageFound, returns.FaultGoesBack)
	require.NoError(t, dispose(returns.NotReproduced, returns.SentAsItIs, "", "a stage found it", "fault goes back"))
	c, err = s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	assert.Equal(t, []returns.Answered{
		{Contradiction: returns.Contradiction{Code: returns.StageFound, Args: []string{"exercise", "key open: key 1 (R1-C1)"}}, Answer: "because a stage found it"},
		{Contradiction: returns.Contradiction{Code: returns.FaultGoesBack, Args: []string{"exercise", "key open: key 1 (R1-C1)"}}, Answer: "because fault goes back"},
	}, c.Disposition().Answered)
	corrected := returns.Disposition{Code: returns.Confirmed, Disposal: returns.Scrapped, By: "Ines", Corrects: true}
	require.NoError(t, s.Returns.Dispose(ctx, c, corrected))
	c, err = s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	assert.Equal(t, returns.Scrapped, c.Disposition().Disposal)
	_, err = s.Returns.OpenCase(ctx, "24-000001", "GH-20", intake())
	assert.NoError(t, err, "a closed case makes room for the next one")
	faults, err := s.Check(ctx)
	require.NoError(t, err)
	assert.Empty(t, faults)
}

func TestIntakeIsInWordsAndIsCorrectedByANewOne(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	_, err := s.Returns.OpenCase(ctx, "24-000001", "GH-20", returns.Intake{Complaint: "does not work", Conditions: []string{"ugly"}})
	assert.ErrorIs(t, err, returns.ErrWords)
	for _, says := range []string{`complaint "does not work": write one of`, `condition "ugly"`, "say who"} {
		assert.ErrorContains(t, err, says)
	}
	for says, in := range map[string]returns.Intake{
		`complaint "": write one of`:               {Conditions: []string{"dirty"}, By: "Jon"},
		"what can be seen?":                        {Complaint: "key dead", By: "Jon"},
		`"nothing visible" and something else`:     {Complaint: "key dead", Conditions: []string{"dirty", "nothing visible"}, By: "Jon"},
		`condition "other" needs words of its own`: {Complaint: "key dead", Conditions: []string{"other"}, By: "Jon"},
	} {
		_, err := s.Returns.OpenCase(ctx, "24-000001", "GH-20", in)
		assert.ErrorContains(t, err, says)
	}
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	better := intake()
	better.Complaint = "key dead"
	require.NoError(t, s.Returns.CorrectIntake(ctx, c, better))
	c, err = s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	assert.Equal(t, "key dead", c.Intake().Complaint)
	assert.Equal(t, "key works sometimes", c.Intakes[0].Complaint, "the first one stays")
}

func TestPhotosLieBesideTheDatabaseAndAreChecked(t *testing.T) {
	s, err := OpenWith(t.Context(), filepath.Join(t.TempDir(), "padjig.db"), testSeams())
	require.NoError(t, err)
	defer s.Close()
	ctx := t.Context()
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	picture := []byte("\x89PNG\r\n\x1a\n a picture")
	for range 2 { // the same picture is kept once
		p, err := s.Returns.AddPhoto(ctx, c, picture, returns.Photo{ContentType: "image/png", Name: "a.png", By: "Jon", Note: "key 7"})
		require.NoError(t, err)
		assert.Equal(t, int64(len(picture)), p.Bytes)
	}
	files, err := filepath.Glob(s.Path() + ".photos/??/*")
	require.NoError(t, err)
	require.Len(t, files, 1)
	got, err := os.ReadFile(files[0])
	require.NoError(t, err)
	assert.Equal(t, picture, got)

	_, err = s.Returns.AddPhoto(ctx, c, []byte("a letter"), returns.Photo{ContentType: "text/plain", By: "Jon"})
	assert.ErrorIs(t, err, returns.ErrNoPhoto)
	_, err = s.Returns.AddPhoto(ctx, c, nil, returns.Photo{ContentType: "image/png", By: "Jon"})
	assert.ErrorIs(t, err, returns.ErrNoPhoto)

	check := func() []string {
		faults, err := s.Check(ctx)
		require.NoError(t, err)
		return faults
	}
	assert.Empty(t, check())
	require.NoError(t, os.WriteFile(files[0], []byte("another"), 0o644))
	require.Len(t, check(), 1)
	assert.Contains(t, check()[0], "photo a.png is not what was stored")
	_, err = s.Returns.AddPhoto(ctx, c, picture, returns.Photo{ContentType: "image/png", Name: "a.png", By: "Jon"})
	require.NoError(t, err)
	assert.Empty(t, check(), "adding the picture again mends the file")
	require.NoError(t, os.Remove(files[0]))
	require.Len(t, check(), 1)
	assert.Contains(t, check()[0], "photo a.png cannot be read")
}

// A row of the desk or of a gauge study that was changed behind the store's
// back is found.
func TestCheckFindsAlteredEntries(t *testing.T) {
	for _, table := range []string{
		"return_case", "return_intake", "return_photo", "return_diagnosis", "return_disposition", "rework",
		"return_no_photo", "return_unlock", "return_disposal", "rework_deed", "gauge_study", "gauge_reading", "run_start", "run_unfinished",
		"nest_count", "nest_empty",
	} {
		t.Run(table, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "padjig.db")
			s, err := OpenWith(t.Context(), path, testSeams())
			require.NoError(t, err)
			returned(t, s)
			studyKept(t, s)
			leftUnfinished(t, s)
			nestKept(t, s)
			change := "at_us = at_us + 1"
			if other, is := map[string]string{
				"gauge_reading": "place = place + 1", "run_start": "started_us = started_us + 1", // when it was taken is in its run
				"return_unlock": "hash = zeroblob(32)", "return_disposal": "after_run = after_run + 1", "rework_deed": "lot = 'P-8'",
				"nest_count": "openings = openings + 1",
			}[table]; is {
				change = other
			}
			require.NoError(t, s.db.Update(t.Context(), func(tx *sql.Tx) error {
				_, err := tx.Exec(`DROP TRIGGER ` + table + `_no_update; UPDATE ` + table + ` SET ` + change + ` WHERE seq = 1`)
				return err
			}))
			faults, err := s.Check(t.Context())
			require.NoError(t, err)
			require.Len(t, faults, 2)
			assert.Equal(t, "trigger "+table+"_no_update is missing", faults[0])
			assert.Contains(t, faults[1], table+" 1 is not what was stored")
			require.NoError(t, s.Close())
		})
	}
}

// Presses of an exercise wear the actuators.
func TestExerciseWears(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	rev := runstest.Defined(`{"keys":[{"label":"1","actuator":0},{"label":"2","actuator":1}]}`)
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest} {
		_, err = s.Runs.Save(ctx, rev, runstest.Of(rev, stage(c, p, sequence.Pass)))
		require.NoError(t, err)
	}
	run := stage(c, sequence.Exercise, sequence.Pass)
	run.Exercised[1].Presses = 10
	run.Exercised[1].Misses = 10
	_, err = s.Runs.Save(ctx, rev, runstest.Of(rev, run))
	require.NoError(t, err)
	wear, err := s.Care.Wear(ctx, "J-0007", run.Simulated)
	require.NoError(t, err)
	uses := map[string]int{}
	for _, w := range wear {
		uses[w.Part] = w.Uses
	}
	assert.Equal(t, map[string]int{care.Nest: 3, "actuator 1": 43, "actuator 2": 13}, uses)
	require.NoError(t, s.Care.SaveWear(ctx, care.WearEvent{Jig: "J-0007", Simulated: run.Simulated, Part: "actuator 1", Warn: 40, Block: 50, By: "Ines"}))
	worn, err := s.Care.WornParts(ctx, "J-0007", run.Simulated)
	require.NoError(t, err)
	require.Len(t, worn, 1)
	assert.Equal(t, 43, worn[0].Uses)
}

// limited is a revision whose two keys have limits, with a guard band of so many U.
func limited(guard string) runs.Revision {
	return runstest.Defined(`{"keys":[{"label":"1","limits":{"closed_ohm":[0,118.5],"guard_u":` + guard + `}},
		{"label":"2","limits":{"closed_ohm":[50,200],"guard_u":` + guard + `}}]}`)
}

func TestShippedWithLessMarginThanTheGuardBand(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	_, err := s.Runs.Save(ctx, limited("0"), runstest.Of(limited("0"), runstest.Passed("24-000001")))
	require.NoError(t, err)
	left, err := s.Returns.Shipped(ctx, "24-000001", false, 1)
	require.NoError(t, err)
	require.Len(t, left.Margins, 2)
	thin := left.Thin()
	require.Len(t, thin, 1, "key 1 reads 118.204 ohm, U 0.7 ohm, limit 118.5 ohm")
	assert.Equal(t, "1", thin[0].Key)
	assert.InDelta(t, 0.296, float64(thin[0].Margin), 1e-9)
	assert.InDelta(t, 0.7, float64(thin[0].Band()), 1e-9)
	assert.Equal(t, quantity.Ohm(50), left.Margins[1].Limit, "the nearer of two limits")
	none, err := s.Returns.Shipped(ctx, "24-000001", true, 1)
	require.NoError(t, err)
	assert.Nil(t, none, "a real run says nothing of a simulated unit")
	none, err = s.Returns.Shipped(ctx, "24-000001", false, 0)
	require.NoError(t, err)
	assert.Nil(t, none, "later runs do not count")
}

func TestShippedOnADoubtfulJig(t *testing.T) {
	for name, c := range map[string]struct {
		before, after *sequence.Calibration
		says          []string
	}{
		"never verified": {},
		"good around":    {new(verifyOf(true)), new(verifyOf(true)), nil},
		"bad after":      {new(verifyOf(true)), new(verifyOf(false)), []string{"found out of tolerance at its next verification"}},
		"bad before":     {new(verifyOf(false)), nil, []string{"the last before the unit, was out of tolerance"}},
	} {
		t.Run(name, func(t *testing.T) {
			s, ctx := openTemp(t), t.Context()
			save := func(c *sequence.Calibration) {
				if c != nil {
					c.Performed = runstest.Passed("").Started.Add(-time.Hour)
					_, err := s.Care.SaveCalibration(ctx, *c)
					require.NoError(t, err)
				}
			}
			save(c.before)
			_, err := s.Runs.Save(ctx, runstest.Climate(), runstest.Passed("24-000001"))
			require.NoError(t, err)
			save(c.after)
			left, err := s.Returns.Shipped(ctx, "24-000001", false, 1)
			require.NoError(t, err)
			require.Len(t, left.Doubts(floor.Clock{}), len(c.says), "%v", left.Doubts(floor.Clock{}))
			for i, says := range c.says {
				assert.Contains(t, left.Doubts(floor.Clock{})[i], says)
			}
			if c.before != nil && c.before.Good {
				left.Run.Started = c.before.Due().Add(time.Hour)
				assert.Contains(t, left.Doubts(floor.Clock{})[0], "had been due since")
			}
		})
	}
}

func TestUnitsAlike(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	_, err := s.Runs.Save(ctx, runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	_, err = s.Runs.Save(ctx, runstest.Climate(), runstest.Failed("24-000002"))
	require.NoError(t, err)
	nextDay := runstest.Failed("24-000003")
	nextDay.Started = nextDay.Started.AddDate(0, 0, 1)
	_, err = s.Runs.Save(ctx, runstest.Climate(), nextDay)
	require.NoError(t, err)
	other, err := opened(t, s, "24-000004", intake())
	require.NoError(t, err)
	_, err = s.Runs.Save(ctx, runstest.Climate(), stage(other, sequence.FirstPress, sequence.Fail))
	require.NoError(t, err)
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	left, err := s.Returns.Shipped(ctx, "24-000001", false, c.AfterRun)
	require.NoError(t, err)
	alike, err := s.Returns.Alike(ctx, c, runstest.Failed("").Findings[0], left)
	require.NoError(t, err)
	require.Len(t, alike, 2, "%v", alike)
	assert.Equal(t, "24-000002", alike[0].Serial)
	assert.Equal(t, []string{"same jig and day"}, alike[0].Why)
	assert.Equal(t, "24-000004", alike[1].Serial)
	assert.Equal(t, []string{"same lot, M-2231", "returned too"}, alike[1].Why)
	byLines, err := s.Returns.Alike(ctx, c, runstest.Failed("").Findings[1], left)
	require.NoError(t, err)
	assert.Len(t, byLines, 2)
}

// Units tested in the same shift on the same jig, or made of the same lot of
// something, are alike; those of the next lot are not.
func TestUnitsAlikeByShiftAndLot(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	lots := func(lots floor.Lots) {
		require.NoError(t, s.Floor.SaveLots(ctx, floor.LotChange{Jig: "J-0007", Product: "GH-20", Lots: lots, By: "Ines"}))
	}
	at := func(run sequence.Run, day int, clock string) sequence.Run {
		hour, err := time.Parse("15:04", clock)
		require.NoError(t, err)
		run.Started = time.Date(2026, 3, day, hour.Hour(), hour.Minute(), 0, 0, time.UTC)
		return run
	}
	save := func(run sequence.Run) {
		_, err := s.Runs.Save(ctx, runstest.Climate(), run)
		require.NoError(t, err)
	}
	require.NoError(t, s.Floor.SaveShifts(ctx, floor.ShiftPlan{Zone: "UTC", By: "Ines", Reason: "first plan",
		Shifts: []floor.Shift{{Name: "day", Begins: 6 * 60, Ends: 18 * 60}, {Name: "night", Begins: 18 * 60, Ends: 6 * 60}}}))
	lots(floor.Lots{"membrane": "M-1", "dome": "D-1"})
	save(at(runstest.Passed("24-000001"), 2, "23:30"))
	save(at(runstest.Failed("24-000002"), 3, "01:30")) // the same night, another day
	save(at(runstest.Failed("24-000003"), 3, "09:00")) // another shift, the same lots
	lots(floor.Lots{"membrane": "M-2"})
	save(at(runstest.Failed("24-000004"), 4, "09:00")) // another membrane, the same domes
	lots(floor.Lots{"dome": "D-2"})
	save(at(runstest.Failed("24-000005"), 4, "10:00")) // nothing in common
	c, err := s.Returns.OpenCase(ctx, "24-000001", "GH-20", returns.Intake{Received: time.Now(), Complaint: "key dead", Conditions: []string{"dirty"}, By: "Jon"})
	require.NoError(t, err)
	left, err := s.Returns.Shipped(ctx, "24-000001", false, c.AfterRun)
	require.NoError(t, err)
	assert.Equal(t, floor.Lots{"membrane": "M-1", "dome": "D-1"}, left.Lots)
	alike, err := s.Returns.Alike(ctx, c, runstest.Failed("").Findings[0], left)
	require.NoError(t, err)
	got := map[string][]string{}
	for _, a := range alike {
		got[a.Serial] = a.Why
	}
	assert.Equal(t, map[string][]string{
		"24-000002": {"same jig and shift", "same lot of membrane, M-1", "same lot of dome, D-1"},
		"24-000003": {"same lot of membrane, M-1", "same lot of dome, D-1"},
		"24-000004": {"same lot of dome, D-1"},
	}, got)
}
