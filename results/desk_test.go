package results

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/accounts"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// No stage is begun before the unit was photographed and what can be seen was said,
// whether asked by the desk, claimed at the store, or written behind its back.
func TestNoStageBeforeAPhoto(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	c, err := s.Returns.OpenCase(ctx, "24-000001", "GH-20", intake())
	require.NoError(t, err)
	run := stage(c, sequence.FirstPress, sequence.Pass)
	claim := func() error {
		b, err := s.Runs.Begin(ctx, runstest.Climate(), startOf(run), agreed)
		if err == nil {
			b.LetGo()
		}
		return err
	}
	assert.ErrorContains(t, c.Allows(sequence.FirstPress), "case 1 has no photo yet")
	assert.ErrorIs(t, claim(), returns.ErrStage)
	_, err = s.Runs.Save(ctx, runstest.Climate(), run)
	assert.ErrorContains(t, err, "has no photo, or does not say what can be seen")
	err = s.db.Update(ctx, func(tx *sql.Tx) error { // somebody with SQL in place of padjig
		_, err := tx.Exec(`
			INSERT INTO run_start (seq, id, serial, revision, jig, station, simulated, actuation, operator, purpose, return_case, attempt,
			  after_run, started_us, hash)
			VALUES (1, zeroblob(16), '24-000001', 1, 1, 1, 0, 'mechanical', 'Eve', 'first press', 1, 1, 0, 0, zeroblob(32))`)
		return err
	})
	assert.ErrorContains(t, err, "has no photo, or does not say what can be seen")

	for _, n := range []returns.NoPhoto{{By: "Jon"}, {Reason: "the camera is broken"}} {
		assert.ErrorIs(t, s.Returns.SayNoPhoto(ctx, c, n), returns.ErrWords)
	}
	_, err = s.Returns.AddPhoto(ctx, c, []byte("a letter"), returns.Photo{ContentType: "text/plain", By: "Jon"})
	assert.Error(t, err)
	assert.ErrorIs(t, claim(), returns.ErrStage, "what is no photo unlocks nothing")
	_, err = s.Returns.AddPhoto(ctx, c, []byte("\x89PNG\r\n\x1a\n a picture"), returns.Photo{ContentType: "image/png", Name: "a.png", By: "Jon"})
	require.NoError(t, err)
	assert.NoError(t, claim())
}

// A case that was opened before photos and conditions were asked for is read as it
// was, and asks for them before its next stage.
func TestACaseOfBeforeAsksForWhatItLacks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	s, err := OpenWith(t.Context(), path, testSeams())
	require.NoError(t, err)
	defer s.Close()
	ctx := t.Context()
	require.NoError(t, s.db.Update(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`DROP TRIGGER return_intake_seen`)
		return err
	}))
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	_, err = s.db.Append(ctx, func(*sql.Tx) ([]store.Entry, error) {
		e := store.Entry{Table: "return_intake"}
		for _, column := range []struct {
			name  string
			value any
		}{{"return_case", int64(1)}, {"received_us", time.Now()}, {"complaint", "key dead"}, {"complaint_text", ""}, {"conditions", "[]"},
			{"condition_text", ""}, {"ends_testing", false}, {"customer", ""}, {"lot", ""}, {"by", "Jon"}, {"at_us", time.Now()}} {
			e.Set(column.name, column.value)
		}
		return []store.Entry{e}, nil
	})
	require.NoError(t, err)
	c, err = s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	assert.ErrorContains(t, c.Allows(sequence.FirstPress), "does not say what can be seen: correct it first")
	_, err = s.Runs.Save(ctx, runstest.Climate(), stage(c, sequence.FirstPress, sequence.Pass))
	assert.ErrorContains(t, err, "does not say what can be seen")
	require.NoError(t, s.Returns.CorrectIntake(ctx, c, intake()))
	_, err = s.Runs.Save(ctx, runstest.Climate(), stage(c, sequence.FirstPress, sequence.Pass))
	assert.NoError(t, err)
}

// Damage ends testing until an engineer decides otherwise; a correction that leaves it out
// takes nothing back, and damage that is seen later ends it again.
func TestDamageIsUnlockedByADecision(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	damaged := intake()
	damaged.Conditions, damaged.EndsTesting = []string{"burnt"}, false // as somebody who wants it tested would write it
	c, err := opened(t, s, "24-000001", damaged)
	require.NoError(t, err)
	allows := func() error {
		t.Helper()
		var err error
		c, err = s.Returns.Case(ctx, c.Number)
		require.NoError(t, err)
		told := c.Allows(sequence.FirstPress)
		b, err := s.Runs.Begin(ctx, runstest.Climate(), startOf(stage(c, sequence.FirstPress, sequence.Pass)), agreed)
		if err == nil {
			b.LetGo()
		}
		assert.Equal(t, told == nil, err == nil, "%v, %v", told, err)
		return told
	}
	assert.ErrorContains(t, allows(), "visible damage (burnt) ended electrical testing")
	require.NoError(t, s.Returns.CorrectIntake(ctx, c, intake()))
	assert.ErrorContains(t, allows(), "visible damage (burnt)", "left out of a correction")
	assert.ErrorIs(t, s.Returns.Unlock(ctx, c, "Ines", ""), returns.ErrWords)
	require.NoError(t, s.Returns.Unlock(ctx, c, "Ines", "only the label is burnt"))
	assert.NoError(t, allows())
	assert.ErrorContains(t, s.Returns.Unlock(ctx, c, "Ines", "once more"), "no damage keeps case 1")
	damaged.Conditions = []string{"wet"}
	require.NoError(t, s.Returns.CorrectIntake(ctx, c, damaged))
	assert.ErrorContains(t, allows(), "visible damage (wet)", "the decision was about what was seen before")
	made, err := s.Accounts.Overrides(ctx, 5)
	require.NoError(t, err)
	require.Len(t, made, 1)
	assert.Equal(t, accounts.Override{What: returns.VisibleDamage, Serial: "24-000001", By: "Ines", Reason: "only the label is burnt", At: made[0].At}, made[0])
	err = s.db.Update(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT INTO return_intake SELECT seq + 1, return_case, received_us, complaint, complaint_text, '["burnt"]', condition_text, 0,
			customer, lot, by, at_us, hash FROM return_intake WHERE seq = (SELECT max(seq) FROM return_intake)`)
		return err
	})
	assert.ErrorContains(t, err, "damage ends electrical testing, and nothing else does")
}

// What is in hand is neither reworked nor closed: what the jig finds belongs to the case.
func TestAUnitInAJigIsLeftAlone(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	run := stage(c, sequence.FirstPress, sequence.Fail)
	b := begin(t, s, run)
	rework := returns.Rework{Serial: c.Serial, Deed: "dried", Place: returns.Place{Kind: returns.AtUnit}, By: "Ines", Done: time.Now()}
	err = s.Returns.SaveRework(ctx, rework, pad())
	assert.ErrorIs(t, err, returns.ErrRework)
	assert.ErrorContains(t, err, "unit 24-000001 lies in jig J-0007 and is being tested")
	d := returns.Disposition{Code: returns.CustomerDamage, Disposal: returns.Scrapped, By: "Jon"}
	assert.ErrorContains(t, s.Returns.Dispose(ctx, c, d), "is being tested on jig J-0007")
	_, err = b.Save(ctx, run)
	require.NoError(t, err)
	require.NoError(t, s.Returns.SaveRework(ctx, rework, pad()))
}

// Rework is in codes, at a place that the product has.
func TestReworkIsInCodes(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	good := returns.Rework{Serial: "24-000001", Deed: "contact replaced", Place: returns.Place{Kind: returns.AtKey, Name: "22"}, Lot: "P-7", By: "Ines", Done: time.Now()}
	for says, change := range map[string]func(*returns.Rework){
		`"contact replacd" is nothing that is done to a unit: write one of`: func(r *returns.Rework) { r.Deed = "contact replacd" },
		`did you mean "contact replaced"?`:                                  func(r *returns.Rework) { r.Deed = "contact replacd" },
		`GH-20 has no key "23"; did you mean "22"?; it has 1, 22`:           func(r *returns.Rework) { r.Place.Name = "23" },
		`is done at a key: say where`:                                       func(r *returns.Rework) { r.Place = returns.Place{Kind: returns.AtUnit} },
		`puts a contact in: say its lot, or "unknown"`:                      func(r *returns.Rework) { r.Lot = "" },
		`puts no part in, so there is no lot of it`:                         func(r *returns.Rework) { r.Deed = "contact cleaned" },
		`has no line "R2"`: func(r *returns.Rework) {
			r.Deed, r.Place, r.Lot = "track repaired", returns.Place{Kind: returns.AtLine, Name: "R2"}, ""
		},
		`has no pin "3"`: func(r *returns.Rework) {
			r.Deed, r.Place, r.Lot = "tail cleaned", returns.Place{Kind: returns.AtPin, Name: "3"}, ""
		},
		`nobody did it`:        func(r *returns.Rework) { r.By = "" },
		`"other" needs a note`: func(r *returns.Rework) { r.Deed, r.Lot = "other", "" },
	} {
		r := good
		change(&r)
		err := s.Returns.SaveRework(ctx, r, pad())
		assert.ErrorIs(t, err, returns.ErrRework)
		assert.ErrorContains(t, err, says)
	}
	require.NoError(t, s.Returns.SaveRework(ctx, good, pad()))
	list, err := s.Returns.Reworks(ctx, "24-000001")
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, "contact", list[0].Part())
	assert.Equal(t, "key 22", list[0].Where)
	err = s.db.Update(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT INTO rework SELECT seq + 1, serial, return_case, after_run, 'kicked it', place, note, by, done_us, at_us, hash FROM rework`)
		return err
	})
	assert.ErrorContains(t, err, "rework is recorded in codes")
	for _, text := range []string{"key", "pin", "line ", "row 7", "connector X4", "unit 7", "7"} {
		_, err := returns.ReadPlace(text)
		assert.ErrorIs(t, err, returns.ErrRework, text)
	}
}

// A case is closed with exactly one disposal, also behind the store's back.
func TestExactlyOneDisposalAClosing(t *testing.T) {
	s, ctx := openTemp(t), t.Context()
	c := returned(t, s)
	for statement, says := range map[string]string{
		`INSERT INTO return_disposition SELECT seq + 1, return_case, 'confirmed', '', by, at_us, hash FROM return_disposition`:          "says what became of the unit",
		`INSERT INTO return_disposal SELECT seq + 1, disposition, 'replaced', after_run, contradictions, hash FROM return_disposal`:     "return_disposal is append-only",
		`INSERT INTO return_disposal SELECT seq + 1, disposition + 1, 'eaten', after_run, contradictions, hash FROM return_disposal`:    "CHECK constraint failed",
		`INSERT INTO return_disposal SELECT seq + 1, disposition + 1, 'replaced', after_run, contradictions, hash FROM return_disposal`: "FOREIGN KEY constraint failed",
		`UPDATE return_disposal SET disposal = 'replaced'`:                                                                              "return_disposal is append-only",
	} {
		err := s.db.Update(ctx, func(tx *sql.Tx) error { _, err := tx.Exec(statement); return err })
		assert.ErrorContains(t, err, says, statement)
	}
	c, err := s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	assert.Equal(t, returns.Scrapped, c.Disposition().Disposal)
}

// secondLife is what is done with a unit that left and came back, by the order of records alone.
type secondLife struct {
	*testing.T
	*Store
	serial string
}

func (u secondLife) run(outcome sequence.Outcome, simulated bool) runs.Stored {
	u.Helper()
	run := runstest.Passed(u.serial)
	if outcome == sequence.Fail {
		run = runstest.Failed(u.serial)
	}
	run.Simulated = simulated
	b := begin(u.T, u.Store, run)
	run.Attempt, run.Started = b.Attempt, b.Started
	id, err := b.Save(u.Context(), run)
	require.NoError(u, err)
	stored, err := u.Runs.Run(u.Context(), id)
	require.NoError(u, err)
	return stored
}

func (u secondLife) repaired(disposal string, simulated bool) returns.Case {
	u.Helper()
	c, err := opened(u.T, u.Store, u.serial, intake())
	require.NoError(u, err)
	run := stage(c, sequence.FirstPress, sequence.Fail)
	run.Simulated = simulated
	_, err = u.Runs.Save(u.Context(), runstest.Climate(), run)
	require.NoError(u, err)
	require.NoError(u, u.Returns.SaveRework(u.Context(), returns.Rework{
		Serial: u.serial, Deed: "contact cleaned", Place: returns.Place{Kind: returns.AtKey, Name: "1"}, By: "Ines", Done: time.Now().AddDate(-1, 0, 0),
	}, pad()))
	require.NoError(u, u.Returns.Dispose(u.Context(), c, returns.Disposition{
		Code: returns.Confirmed, Disposal: disposal, By: "Jon", Answers: map[string]string{"not tested since": "tested at the customer", "fault goes back": "as the customer asked"},
	}))
	return c
}

func (u secondLife) past(simulated bool) runs.Attempts {
	u.Helper()
	h, err := u.Runs.History(u.Context(), u.serial)
	require.NoError(u, err)
	return h.Of("GH-20", simulated)
}

// A unit that went back to production has its attempts anew, at none of which it passes
// at first; what it left with the second time is what the next return is held against.
func TestBackToProduction(t *testing.T) {
	u := secondLife{t, openTemp(t), "24-000001"}
	first := u.run(sequence.Pass, false)
	assert.True(t, u.past(false).Passed)
	c := u.repaired(returns.ToProduction, false)
	past := u.past(false)
	assert.Equal(t, runs.Attempts{Product: "GH-20", Runs: 1, Before: 1, Attempt: 1, Last: sequence.Pass}, past)
	assert.Equal(t, 2, past.Next())
	u.run(sequence.Fail, false)
	past = u.past(false)
	assert.Equal(t, 1, past.Used())
	assert.Equal(t, 3, past.Next())
	left := u.run(sequence.Pass, false)
	assert.Equal(t, 3, left.Attempt)
	assert.True(t, u.past(false).Passed, "and is refused from then on")

	again, err := opened(t, u.Store, u.serial, intake())
	require.NoError(t, err)
	shipped, err := u.Returns.Shipped(t.Context(), u.serial, false, again.AfterRun)
	require.NoError(t, err)
	assert.Equal(t, left.ID, shipped.Run.ID, "what it left with the second time")
	shipped, err = u.Returns.Shipped(t.Context(), u.serial, false, c.AfterRun)
	require.NoError(t, err)
	assert.Equal(t, first.ID, shipped.Run.ID, "and the first time, for the case of then")

	var passed int // at first, by the aggregates: once, when it was new
	require.NoError(t, u.db.View(t.Context(), func(tx *sql.Tx) error {
		return tx.QueryRow(`SELECT sum(first_passed) FROM cell WHERE purpose = ''`).Scan(&passed)
	}))
	assert.Equal(t, 1, passed)
	h, err := u.Runs.History(t.Context(), u.serial)
	require.NoError(t, err)
	assert.True(t, h.Past.Open)
}

// A unit whose first life is not in the records has no first pass either.
func TestAStrangerThatCameBackHasNoFirstPass(t *testing.T) {
	u := secondLife{t, openTemp(t), "24-000001"}
	u.repaired(returns.ToProduction, false)
	assert.Equal(t, 2, u.run(sequence.Pass, false).Attempt)
	var passed int
	require.NoError(t, u.db.View(t.Context(), func(tx *sql.Tx) error {
		return tx.QueryRow(`SELECT sum(first_passed) FROM cell WHERE purpose = ''`).Scan(&passed)
	}))
	assert.Zero(t, passed)
}

// Only what went back to production begins anew: neither another disposal, nor a case on
// simulated jigs for a real unit, nor one that was opened again or closed otherwise since.
func TestOnlyBackToProductionBeginsAnew(t *testing.T) {
	for _, disposal := range returns.Disposals {
		u := secondLife{t, openTemp(t), "24-000001"}
		u.run(sequence.Pass, false)
		u.repaired(disposal, false)
		assert.Equal(t, disposal != returns.ToProduction, u.past(false).Passed, disposal)
	}
	u := secondLife{t, openTemp(t), "24-000001"}
	u.run(sequence.Pass, false)
	u.run(sequence.Pass, true)
	c := u.repaired(returns.ToProduction, true)
	assert.True(t, u.past(false).Passed, "practice takes nothing back")
	assert.False(t, u.past(true).Passed)
	require.NoError(t, u.Returns.Dispose(t.Context(), c, returns.Disposition{Code: returns.Reopened, By: "Jon"}))
	assert.True(t, u.past(true).Passed)
	require.NoError(t, u.Returns.Dispose(t.Context(), c, returns.Disposition{Code: returns.Confirmed, Disposal: returns.Scrapped, By: "Jon"}))
	assert.True(t, u.past(true).Passed)
}

// What it fails again after a repair is counted by the order of records, whatever clocks
// say, until it passes; a fail without a repair before it is no loop.
func TestRepairLoopsAreCounted(t *testing.T) {
	u := secondLife{t, openTemp(t), "24-000001"}
	repair := func() {
		require.NoError(t, u.Returns.SaveRework(t.Context(), returns.Rework{
			Serial: u.serial, Deed: "dried", Place: returns.Place{Kind: returns.AtUnit}, By: "Ines", Done: time.Now().AddDate(-5, 0, 0),
		}, pad()))
	}
	loops := func(want int) {
		t.Helper()
		assert.Equal(t, want, u.past(false).Loops)
		assert.Zero(t, u.past(true).Loops)
	}
	repair()
	u.run(sequence.Fail, false)
	loops(0)
	u.run(sequence.Fail, false)
	loops(0)
	repair()
	u.run(sequence.Fail, true)
	loops(0)
	u.run(sequence.Fail, false)
	loops(1)
	repair()
	repair()
	u.run(sequence.Fail, false)
	loops(2)
	past := u.past(false)
	require.NoError(t, u.Accounts.SaveOverride(t.Context(), accounts.Override{What: "attempts used", Serial: u.serial, By: "Quinn", Reason: "once more"}))
	h, err := u.Runs.History(t.Context(), u.serial)
	require.NoError(t, err)
	assert.Less(t, h.Past.Decided.After, past.Failed, "another override is no decision about the loop")
	require.NoError(t, u.Accounts.SaveOverride(t.Context(), accounts.Override{What: returns.RepairLoop, Serial: u.serial, By: "Ines", Reason: "new membrane"}))
	h, err = u.Runs.History(t.Context(), u.serial)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, h.Past.Decided.After, past.Failed)
	u.run(sequence.Pass, false)
	loops(0)
}

// A photo whose writing was cut short leaves no row, and the case locked.
func TestAPhotoCutShortUnlocksNothing(t *testing.T) {
	s, ctx := openTemp(t), context.Background()
	c, err := s.Returns.OpenCase(ctx, "24-000001", "GH-20", intake())
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(s.Path()+".photos", []byte("no folder"), 0o644))
	_, err = s.Returns.AddPhoto(ctx, c, []byte("\x89PNG\r\n\x1a\n a picture"), returns.Photo{ContentType: "image/png", Name: "a.png", By: "Jon"})
	require.Error(t, err)
	c, err = s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	assert.Empty(t, c.Photos)
	assert.ErrorIs(t, c.Allows(sequence.FirstPress), returns.ErrStage)
}
