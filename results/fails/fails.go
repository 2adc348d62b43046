// Package fails keeps where units that failed lie: at which place the tag of a run was
// scanned, and so which units still owe it. Who owes is derived from the runs, never
// kept, so that no crash and no second program can lose it.
package fails

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"padjig/results/accounts"
	"padjig/results/store"
	"padjig/sequence"
)

// Records are the fail places of a store, and what was put there.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }

// Owed is a run whose unit owes that its tag is scanned at a fail place.
type Owed struct {
	Run       store.ID
	Seq       int64
	Serial    string
	Product   string // code
	Revision  string // label
	Jig       string // serial
	Operator  string
	Simulated bool
	Attempt   int
	Outcome   sequence.Outcome
	Started   time.Time
}

// owing is what a run owes by: of production, with something found. The index
// run_owing is made for just these words.
const owing = `purpose = '' AND (outcome = 'fail' OR outcome = 'aborted' AND findings > 0)`

// settled is what a later run of the unit is, when it says in the place of an earlier
// one how the unit stands.
const settled = `purpose = '' AND (verdict = 'pass' OR outcome = 'fail' OR outcome = 'aborted' AND findings > 0)`

// numbersPerStation is how far numbers of runs of one station lie apart at a plant, at least: see
// results/plant/postgres. In the records of one station it is 1.
const numbersPerStation = 1 << 12

// owedFrom leaves out what was tested before its station kept fail places, and reference units, which fail because they must, and products
// that ask for nothing; both stand in the definition that the unit was tested by.
func (s *Records) owedFrom() string { return fmt.Sprintf(owedText, s.apart()) + byDefinition }

// apart is how far numbers of runs of one station lie apart.
func (s *Records) apart() int {
	if s.db.OfMany() {
		return numbersPerStation
	}
	return 1
}

const owedText = `
	FROM run JOIN revision USING (revision) JOIN jig USING (jig)
	WHERE ` + owing + ` AND NOT EXISTS (SELECT 1 FROM placement WHERE placement.run = run.seq)` + owedStill

const owedStill = `
	  AND NOT EXISTS (SELECT 1 FROM fails_owe WHERE fails_owe.after_run >= run.seq AND (fails_owe.after_run - run.seq) %% %d = 0)
	  AND NOT EXISTS (SELECT 1 FROM run AS later WHERE later.serial = run.serial AND later.simulated = run.simulated
	                    AND later.seq > run.seq AND ` + settled + `)`

// What a definition says of a unit is read from it for each of a few, and once for many.
const (
	byDefinition = `
	  AND coalesce(definition ->> '$.fails', '') <> 'none'
	  AND NOT EXISTS (SELECT 1 FROM json_each(definition, '$.references.good') WHERE value = run.serial)
	  AND NOT EXISTS (SELECT 1 FROM json_each(definition, '$.references.bad') WHERE value ->> '$.Serial' = run.serial)`
	definitions = `
		asking AS MATERIALIZED (SELECT revision FROM revision WHERE coalesce(definition ->> '$.fails', '') <> 'none'),
		reference AS MATERIALIZED (SELECT revision, value AS serial FROM revision CROSS JOIN json_each(definition, '$.references.good')
		  UNION ALL SELECT revision, value ->> '$.Serial' FROM revision CROSS JOIN json_each(definition, '$.references.bad'))`
	byDefinitions = `
	  AND run.revision IN (SELECT revision FROM asking)
	  AND NOT EXISTS (SELECT 1 FROM reference WHERE reference.revision = run.revision AND reference.serial = run.serial)`
)

const owedColumns = `SELECT run.id, seq, run.serial, code, label, jig.serial, operator, simulated, attempt, outcome, started_us`

func scanOwed(rows *sql.Rows) (o Owed, err error) {
	return o, rows.Scan(&o.Run, &o.Seq, &o.Serial, &o.Product, &o.Revision, &o.Jig, &o.Operator, &o.Simulated, &o.Attempt,
		&o.Outcome, store.Time(&o.Started))
}

// On gives what is owed on a jig, oldest first; real runs or simulated ones.
func (s *Records) On(ctx context.Context, jig string, simulated bool) ([]Owed, error) {
	return store.List(ctx, s.db, "look up which fails of jig "+jig+" were not placed", scanOwed, owedColumns+s.owedFrom()+`
	  AND run.jig IN (SELECT jig FROM jig WHERE serial = ?) AND simulated = ? ORDER BY seq`, jig, simulated)
}

// Open gives what is owed on all jigs, oldest first. Nearly all fails of a plant were placed: these are left out first, without a look at
// their runs.
func (s *Records) Open(ctx context.Context, simulated bool) ([]Owed, error) {
	return store.List(ctx, s.db, "look up which fails were not placed", scanOwed, `
		WITH owed AS MATERIALIZED (SELECT seq AS number FROM run WHERE `+owing+` AND simulated = ?
		  AND NOT EXISTS (SELECT 1 FROM placement WHERE placement.run = run.seq)),`+definitions+` `+owedColumns+`
		FROM owed CROSS JOIN run ON run.seq = owed.number JOIN revision USING (revision) JOIN jig USING (jig)
		WHERE 1 = 1`+fmt.Sprintf(owedStill, s.apart())+byDefinitions+` ORDER BY seq`, simulated)
}

// OpenOf gives what a unit owes, oldest first.
func (s *Records) OpenOf(ctx context.Context, serial string) ([]Owed, error) {
	return store.List(ctx, s.db, "look up whether unit "+serial+" was placed", scanOwed, owedColumns+s.owedFrom()+`
	  AND run.serial = ? ORDER BY seq`, serial)
}

// How says what became of what was owed.
type How string

// What there is.
const (
	Placed How = "placed" // the tag was scanned at a place
	Lifted How = "lifted" // somebody decided to go on without
)

// Placement is a run that owes nothing more.
type Placement struct {
	Run       store.ID
	Seq       int64 // of the run
	Serial    string
	Jig       string
	Simulated bool
	How       How
	Place     string // name; empty for none
	By        string
	Reason    string // why it was lifted
	AfterRun  int64
	At        time.Time
}

// Said says in codes where the unit was put, or who went on without; at is when, in words.
func (p Placement) Said(at string) sequence.Said {
	if p.How == Lifted {
		return sequence.Fact("went on", p.By, at, strings.Join(strings.Fields(p.Reason), " "))
	}
	return sequence.Fact("put", p.Place, p.By, at)
}

// Said says in codes that the unit is not where fails go.
func (Owed) Said() sequence.Said { return sequence.Fact("not put") }

const (
	placementColumns = placementSelect + `placement` + placementJoined
	placementSelect  = `
	SELECT run.id, run.seq, run.serial, jig.serial, run.simulated, how,
	       CASE how WHEN 'placed' THEN coalesce(fail_place.name, '` + UsualPlace + `') ELSE '' END, placement.by, placement.reason, after_run, placement.at_us
	FROM `
	placementJoined = ` JOIN run ON run.seq = placement.run JOIN jig USING (jig)
	LEFT JOIN fail_place ON fail_place.seq = placement.place `
)

func scanPlacement(rows *sql.Rows) (p Placement, err error) {
	return p, rows.Scan(&p.Run, &p.Seq, &p.Serial, &p.Jig, &p.Simulated, &p.How, &p.Place, &p.By, &p.Reason, &p.AfterRun, store.Time(&p.At))
}

// Of gives the placements of a unit, oldest first.
func (s *Records) Of(ctx context.Context, serial string) ([]Placement, error) {
	return store.List(ctx, s.db, "look up where unit "+serial+" was put", scanPlacement,
		placementColumns+`WHERE run.serial = ? ORDER BY placement.after_run, placement.seq`, serial)
}

// Numbered gives the placement of a number; nil for none.
func (s *Records) Numbered(ctx context.Context, number int64) (*Placement, error) {
	return store.First(ctx, s.db, "look up a placement", scanPlacement, placementColumns+`WHERE placement.seq = ?`, number)
}

// Latest gives the last n placements, newest first.
func (s *Records) Latest(ctx context.Context, n int) ([]Placement, error) {
	return store.List(ctx, s.db, "list the placements", scanPlacement,
		placementSelect+`(SELECT * FROM placement ORDER BY after_run DESC, seq DESC LIMIT ?) AS placement`+placementJoined+`ORDER BY placement.after_run DESC, placement.seq DESC`, n)
}

// TagError says why a tag places nothing.
type TagError struct {
	Why    TagTrouble
	Tagged Owed      // the run of the tag; of an unknown one only its id
	Newer  Owed      // of an older tag: the run that says now how the unit stands
	Before Placement // of a tag that was scanned before
}

// TagTrouble names it.
type TagTrouble string

// What there is.
const (
	TagUnknown TagTrouble = "tag unknown" // no such run in these records
	TagTwice   TagTrouble = "tag twice"   // it was placed before
	TagOlder   TagTrouble = "tag older"   // the unit failed again since
	TagPassed  TagTrouble = "tag passed"  // the unit passed since
	TagNoFail  TagTrouble = "tag no fail" // the run owes nothing
)

func (e *TagError) Error() string {
	return fmt.Sprintf("%s: run %s of unit %q", e.Why, e.Tagged.Run, e.Tagged.Serial)
}

// Tag gives the run of a tag if it may be placed now, else a [TagError].
func (s *Records) Tag(ctx context.Context, run store.ID) (o Owed, err error) {
	err = s.db.Ask(ctx, "look up a tag", func(tx *sql.Tx) (err error) {
		o, err = tagIn(ctx, tx, run)
		return err
	})
	return o, err
}

func tagIn(ctx context.Context, tx *sql.Tx, run store.ID) (Owed, error) {
	found, err := store.Collect(ctx, tx, scanOwed, owedColumns+`
		FROM run JOIN revision USING (revision) JOIN jig USING (jig) WHERE run.id = ?`, run)
	if err != nil {
		return Owed{}, err
	}
	if len(found) == 0 {
		return Owed{}, &TagError{Why: TagUnknown, Tagged: Owed{Run: run}}
	}
	tagged := found[0]
	before, err := store.Collect(ctx, tx, scanPlacement, placementColumns+`WHERE placement.run = ?`, tagged.Seq)
	if err != nil {
		return tagged, err
	}
	if len(before) > 0 {
		return tagged, &TagError{Why: TagTwice, Tagged: tagged, Before: before[0]}
	}
	var owes bool
	if _, err := store.RowOf(ctx, tx, `SELECT EXISTS (SELECT 1 FROM run WHERE seq = ? AND `+owing+`)`, []any{tagged.Seq}, &owes); err != nil {
		return tagged, err
	}
	if !owes {
		return tagged, &TagError{Why: TagNoFail, Tagged: tagged}
	}
	newer, err := store.Collect(ctx, tx, scanOwed, owedColumns+`
		FROM run JOIN revision USING (revision) JOIN jig USING (jig)
		WHERE run.serial = ? AND simulated = ? AND seq > ? AND `+settled+` ORDER BY seq DESC LIMIT 1`,
		tagged.Serial, tagged.Simulated, tagged.Seq)
	switch {
	case err != nil || len(newer) == 0:
		return tagged, err
	case newer[0].Outcome == sequence.Pass:
		return tagged, &TagError{Why: TagPassed, Tagged: tagged, Newer: newer[0]}
	}
	return tagged, &TagError{Why: TagOlder, Tagged: tagged, Newer: newer[0]}
}

// Place records that the tag of a run was scanned at a place. A tag that may not be
// placed is a [TagError], by the records as they are in that moment.
func (s *Records) Place(ctx context.Context, run store.ID, place Place, by string) (Owed, error) {
	return s.settle(ctx, run, settling{how: Placed, place: place, by: by})
}

// PlaceNewest puts the unit of the newest run into the fail place that every line has,
// inside a transaction and as of a time: as a simulated line does, which loses none.
func PlaceNewest(ctx context.Context, tx *sql.Tx, by string, at time.Time) error {
	var newest int64
	if _, err := store.RowOf(ctx, tx, `SELECT coalesce(max(seq), 0) FROM run`, nil, &newest); err != nil {
		return err
	}
	e, err := settling{how: Placed, by: by}.entry(ctx, tx, Owed{Seq: newest}, at)
	if err == nil {
		_, err = e.Insert(ctx, tx)
	}
	return err
}

// Owes reports whether a run owes that its tag is scanned, whatever comes after it.
func Owes(run sequence.Run) bool {
	return run.Purpose == sequence.Production &&
		(run.Outcome == sequence.Fail || run.Outcome == sequence.Aborted && len(run.Findings) > 0)
}

// NotPlaced is what an override of what is owed says of what stood in the way.
const NotPlaced = "fail not placed"

// Lift records that a person decided to go on although a unit was not placed, and why,
// also among the overrides.
func (s *Records) Lift(ctx context.Context, run store.ID, by, reason string) (Owed, error) {
	if reason = strings.TrimSpace(reason); reason == "" {
		return Owed{}, fmt.Errorf("lift what is owed: %w: there is no reason", store.ErrRefused)
	}
	return s.settle(ctx, run, settling{how: Lifted, by: by, reason: reason})
}

// settling is what a person did or decided about a run that owes.
type settling struct {
	how        How
	place      Place
	by, reason string
}

func (s *Records) settle(ctx context.Context, run store.ID, by settling) (o Owed, err error) {
	if by.by == "" {
		return o, fmt.Errorf("place a unit: %w: whoever does it is not named", store.ErrRefused)
	}
	_, err = s.db.Append(ctx, func(tx *sql.Tx) (entries []store.Entry, err error) {
		if o, err = tagIn(ctx, tx, run); err != nil {
			return nil, err
		}
		e, err := by.entry(ctx, tx, o, s.db.Now())
		return []store.Entry{e}, err
	})
	if _, told := errors.AsType[*TagError](err); err != nil && !told {
		err = fmt.Errorf("save where unit %q was put in %s: %w", o.Serial, s.db.Path(), store.Remedy(err))
	}
	return o, err
}

// entry is the row to be appended; what is lifted stands among the overrides too.
func (by settling) entry(ctx context.Context, tx *sql.Tx, o Owed, now time.Time) (store.Entry, error) {
	e := store.Entry{Table: "placement"}
	var newest int64
	_, err := store.RowOf(ctx, tx, `SELECT coalesce(max(seq), 0) FROM run`, nil, &newest)
	if err == nil && by.how == Lifted {
		_, err = accounts.Overriding(ctx, tx, now, accounts.Override{What: NotPlaced, Serial: o.Serial, Jig: o.Jig, By: by.by, Reason: by.reason})
	}
	e.Set("run", o.Seq)
	e.Set("how", string(by.how))
	e.Set("place", by.place.stored())
	e.Set("by", by.by)
	e.Set("reason", by.reason)
	e.Set("after_run", newest)
	e.Set("at_us", now)
	return e, err
}

// Checks are how the placements are looked at.
func Checks() []store.Check { return []store.Check{store.Entries("fail_place", "placement")} }
