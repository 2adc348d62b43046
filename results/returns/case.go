package returns

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// Case is one unit that came back, from intake to disposition. What is listed
// is listed oldest first; of intakes and dispositions the last one counts.
type Case struct {
	Number   int64
	ID       store.ID
	Serial   string
	Product  string // code
	AfterRun int64  // number of the newest run when the case was opened
	By       string
	Opened   time.Time

	Intakes      []Intake
	Photos       []Photo
	NoPhotos     []NoPhoto // why there is none
	Unlocks      []Unlock
	Stages       []Stage
	Unfinished   []sequence.Purpose // stages that were begun and have no run
	Diagnoses    []Diagnosis
	Dispositions []Disposition
}

// Intake is what was said and seen when the unit came back.
type Intake struct {
	Seq           int64 // set by the store
	Received      time.Time
	Complaint     string // one of Complaints
	ComplaintText string
	Conditions    []string // of Conditions
	ConditionText string
	EndsTesting   bool // set by the store: damaged, no electrical test
	Customer, Lot string
	By            string
	At            time.Time // set by the store
}

// Stage is a run made for a case, in one line.
type Stage struct {
	Purpose   sequence.Purpose
	Run       store.ID
	Seq       int64
	Outcome   sequence.Outcome
	Simulated bool
	Started   time.Time
	Findings  int
	Worst     string // the first finding and its place, empty when there is none
}

// Counts reports whether the stage came far enough for the next one.
func (s Stage) Counts() bool {
	return slices.Contains([]sequence.Outcome{sequence.Pass, sequence.Fail, sequence.Incomplete}, s.Outcome)
}

// Diagnosis is what a version of padjig made of the readings of a run.
type Diagnosis struct {
	Run      int64           // its number
	Causes   json.RawMessage // a list
	Software string          // set by the store, as At
	At       time.Time
}

// NoPhoto is why a case has no photo.
type NoPhoto struct {
	Reason, By string
	At         time.Time // set by the store
}

// Unlock is an engineer's decision that a damaged unit is tested all the same. It
// holds for the damage that was seen up to an intake.
type Unlock struct {
	Intake     int64
	Reason, By string
	At         time.Time // set by the store
}

// Intake is the intake that counts.
func (c Case) Intake() Intake { return c.Intakes[len(c.Intakes)-1] }

// Disposition is the one that counts, empty for none.
func (c Case) Disposition() Disposition {
	if len(c.Dispositions) == 0 {
		return Disposition{}
	}
	return c.Dispositions[len(c.Dispositions)-1]
}

// damaged is the last intake that names damage; nil for none. A correction that
// leaves the damage out takes nothing back.
func (c Case) damaged() *Intake {
	for i := len(c.Intakes) - 1; i >= 0; i-- {
		if in := &c.Intakes[i]; in.EndsTesting || slices.ContainsFunc(in.Conditions, IsDamage) {
			return in
		}
	}
	return nil
}

// Locked reports whether visible damage ended electrical testing, and nobody decided otherwise.
func (c Case) Locked() bool {
	in := c.damaged()
	return in != nil && in.EndsTesting && !slices.ContainsFunc(c.Unlocks, func(u Unlock) bool { return u.Intake >= in.Seq })
}

// Seen reports whether the unit was looked at before anything else: there is a photo,
// or the reason why not, and what can be seen in codes.
func (c Case) Seen() bool { return len(c.Photos)+len(c.NoPhotos) > 0 && len(c.Intake().Conditions) > 0 }

// Closed reports whether the case has its disposition.
func (c Case) Closed() bool { code := c.Disposition().Code; return code != "" && code != Reopened }

// Done reports whether a stage has been made far enough for the next one.
func (c Case) Done(p sequence.Purpose) bool {
	return slices.ContainsFunc(c.Stages, func(s Stage) bool { return s.Purpose == p && s.Counts() })
}

// Attempt is the number of the next run at a stage.
func (c Case) Attempt(p sequence.Purpose) int {
	next := 1
	for _, made := range append(store.Each(c.Stages, func(s Stage) sequence.Purpose { return s.Purpose }), c.Unfinished...) {
		if made == p {
			next++
		}
	}
	return next
}

// Simulated reports whether the case is on simulated jigs.
func (c Case) Simulated() bool { return len(c.Stages) > 0 && c.Stages[0].Simulated }

// FoundBy is the first stage that found a fault, empty when none did.
func (c Case) FoundBy() (s Stage, found bool) {
	i := slices.IndexFunc(c.Stages, func(s Stage) bool { return s.Findings > 0 })
	if i < 0 {
		return Stage{}, false
	}
	return c.Stages[i], true
}

// ErrStage is returned for what cannot be done to a case at this point.
var ErrStage = errors.New("not at this point of the case")

func notNow(format string, args ...any) error {
	return refused(ErrStage, "", format, args...)
}

// Allows says why a run of a purpose may not be made for the case now, nil
// where it may. The store holds the same order by triggers.
func (c Case) Allows(p sequence.Purpose) error {
	switch {
	case !slices.Contains([]sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise}, p):
		return notNow("a run for %q is no stage of case %d", p, c.Number)
	case c.Closed():
		return refused(ErrStage, "closed", "case %d was closed as %q", c.Number, c.Disposition().Code)
	case c.Locked():
		return refused(ErrStage, "damaged", "visible damage (%[2]s) ended electrical testing of case %[1]d", c.Number, strings.Join(c.damaged().Conditions, ", "))
	case p == sequence.FirstPress && c.Done(p):
		return refused(ErrStage, "pressed", "the first press of case %d is stored; a second press would be no first press", c.Number)
	case p == sequence.ReturnTest && !c.Done(sequence.FirstPress):
		return refused(ErrStage, "not pressed", "the first press of case %d is not stored yet, and the production test presses harder", c.Number)
	case p == sequence.Exercise && !c.Done(sequence.ReturnTest):
		return refused(ErrStage, "not tested", "the production test of case %d is not stored yet", c.Number)
	case len(c.Intake().Conditions) == 0:
		return refused(ErrStage, "not seen", "the intake of case %d does not say what can be seen: correct it first", c.Number)
	case !c.Seen():
		return refused(ErrStage, "no photo", "case %d has no photo yet: take one before anything touches the unit, or say why there can be none", c.Number)
	}
	return nil
}

// takes says why a run may not be begun for the case, nil where it may: what Allows
// says, of this unit, and on the sort of jigs that the case is on.
func (c Case) takes(s runs.Start) error {
	switch {
	case c.Serial != s.Serial:
		return notNow("case %d is of unit %s, not of %s", c.Number, c.Serial, s.Serial)
	case len(c.Stages) > 0 && c.Simulated() != s.Simulated:
		return notNow("a returns case is on simulated jigs or on real ones, not both")
	}
	return c.Allows(s.Purpose)
}

// Attempt gives the attempt of a run that is begun for a case, or says why it may
// not be begun.
func Attempt(ctx context.Context, tx *sql.Tx, number int64, start runs.Start) (int, error) {
	c, err := caseIn(ctx, tx, number)
	if err != nil {
		return 0, err
	}
	return c.Attempt(start.Purpose), c.takes(start)
}

// OpenCase opens a case for a unit with its first intake. A unit has one open
// case at a time.
func (s *Records) OpenCase(ctx context.Context, serial, product string, in Intake) (Case, error) {
	var number int64
	_, err := s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		if err := in.check(); err != nil {
			return nil, err
		}
		if err := noOpenCase(ctx, tx, serial); err != nil {
			return nil, err
		}
		e, err := s.newCase(ctx, tx, serial, product, in.By)
		if err != nil {
			return nil, err
		}
		if number, err = e.Insert(ctx, tx); err != nil {
			return nil, err
		}
		intake, err := s.intake(number, in)
		return []store.Entry{intake}, err
	})
	if err != nil {
		return Case{}, fmt.Errorf("open a returns case of unit %q in %s: %w", serial, s.db.Path(), store.Remedy(err))
	}
	return s.Case(ctx, number)
}

func noOpenCase(ctx context.Context, tx *sql.Tx, serial string) error {
	var number int64
	open, err := store.RowOf(ctx, tx, openCaseQuery, []any{serial}, &number)
	if open {
		err = refused(ErrStage, "open", "unit %s has the open case %d", serial, number)
	}
	return err
}

const openCaseQuery = `
	SELECT seq FROM return_case
	WHERE serial = ? AND 'reopened' = coalesce((
	  SELECT disposition FROM return_disposition WHERE return_case = return_case.seq ORDER BY seq DESC LIMIT 1
	), 'reopened') ORDER BY after_run DESC, seq DESC LIMIT 1`

func (s *Records) newCase(ctx context.Context, tx *sql.Tx, serial, product, by string) (store.Entry, error) {
	e := store.Entry{Table: "return_case"}
	var last store.ID
	if _, err := store.RowOf(ctx, tx, `SELECT id FROM return_case ORDER BY seq DESC LIMIT 1`, nil, &last); err != nil {
		return e, err
	}
	newest, err := runs.NewestSeq(ctx, tx)
	now := s.db.Now()
	e.Set("id", store.NextID(now, last))
	e.Set("serial", serial)
	e.Set("product", product)
	e.Set("after_run", newest)
	e.Set("by", by)
	e.Set("at_us", now)
	return e, err
}

func (s *Records) intake(number int64, in Intake) (store.Entry, error) {
	e := store.Entry{Table: "return_intake"}
	if err := in.check(); err != nil {
		return e, err
	}
	conditions, err := json.Marshal(append([]string{}, in.Conditions...))
	e.Set("return_case", number)
	e.Set("received_us", in.Received)
	e.Set("complaint", in.Complaint)
	e.Set("complaint_text", in.ComplaintText)
	e.Set("conditions", string(conditions))
	e.Set("condition_text", in.ConditionText)
	e.Set("ends_testing", slices.ContainsFunc(in.Conditions, IsDamage))
	e.Set("customer", in.Customer)
	e.Set("lot", in.Lot)
	e.Set("by", in.By)
	e.Set("at_us", s.db.Now())
	return e, err
}

// CorrectIntake adds an intake that counts from now on in place of the last one.
func (s *Records) CorrectIntake(ctx context.Context, c Case, in Intake) error {
	_, err := s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		e, err := s.intake(c.Number, in)
		return []store.Entry{e}, err
	})
	return s.ofCase(c, "correct the intake", err)
}

// Diagnosed keeps what was made of a run of the case, as it was made: a later
// version may see it otherwise.
func (s *Records) Diagnosed(ctx context.Context, c Case, d Diagnosis) error {
	_, err := s.db.Append(ctx, func(*sql.Tx) ([]store.Entry, error) {
		e := store.Entry{Table: "return_diagnosis"}
		e.Set("return_case", c.Number)
		e.Set("run", d.Run)
		e.Set("causes", string(d.Causes))
		e.Set("software", store.Software())
		e.Set("at_us", s.db.Now())
		return []store.Entry{e}, nil
	})
	return s.ofCase(c, "keep the diagnosis", err)
}

func (s *Records) ofCase(c Case, what string, err error) error {
	if err != nil {
		return fmt.Errorf("%s of case %d in %s: %w", what, c.Number, s.db.Path(), store.Remedy(err))
	}
	return nil
}
