package returns

import (
	"context"
	"database/sql"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"padjig/results/runs"
	"padjig/results/store"
)

// Disposition is what a case ends with: what was the matter, and what becomes of the unit.
type Disposition struct {
	Code     string // one of Dispositions, or Reopened
	Disposal string // one of Disposals; empty: reopened, or of before there were disposals
	Reason   string
	By       string
	At       time.Time // set by the store
	Answered []Answered

	// Asked of the store, kept nowhere: what is said to the contradictions, by their
	// codes, and that a case that is closed already is closed otherwise.
	Answers  map[string]string
	Corrects bool
}

// Answered is a contradiction that a disposition was closed with, and why all the same.
type Answered struct {
	Contradiction
	Answer string `json:"answer"`
}

// Dispositions are what can have been the matter.
var Dispositions = []string{Confirmed, NotReproduced, CustomerDamage, FalseAccept}

// The dispositions, and the word that takes one back.
const (
	Confirmed      = "confirmed"                  // a stage found the fault
	NotReproduced  = "not reproduced"             // no stage found one; what is bounded is stated
	CustomerDamage = "customer damage"            // broken after it left
	FalseAccept    = "jig false accept suspected" // it may have left with the fault
	Reopened       = "reopened"
)

// Disposals are what can become of the unit itself: exactly one when a case is closed.
var Disposals = []string{Scrapped, SentRepaired, SentAsItIs, Replaced, KeptForAnalysis, ToProduction}

// The disposals.
const (
	Scrapped        = "scrapped"
	SentRepaired    = "sent back repaired"
	SentAsItIs      = "sent back as it is"
	Replaced        = "replaced"           // the customer has another one
	KeptForAnalysis = "kept for analysis"  // here or at its maker
	ToProduction    = "back to production" // repaired, and to be tested as production is
)

// Dispose closes the case, corrects its disposition, or opens it again. What
// speaks against it has to be answered, by the records as they are in that moment.
func (s *Records) Dispose(ctx context.Context, c Case, d Disposition) error {
	shipped, err := s.Shipped(ctx, c.Serial, c.Simulated(), c.AfterRun)
	if err == nil {
		err = s.homeless(ctx, c)
	}
	if err == nil {
		_, err = s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) { return s.closing(ctx, tx, c, d, shipped) })
	}
	return s.ofCase(c, "dispose", err)
}

// homeless refuses to close the case of a unit that lies in a jig: what the stage finds belongs to the case.
func (s *Records) homeless(ctx context.Context, c Case) error {
	history, err := s.runs.History(ctx, c.Serial)
	if err == nil && history.InHand != nil {
		err = refused(ErrStage, "in hand", "unit %s is being tested on jig %s: close the case when that is stored", c.Serial, history.InHand.Jig.Serial)
	}
	return err
}

func (s *Records) closing(ctx context.Context, tx *sql.Tx, c Case, d Disposition, shipped *Shipped) ([]store.Entry, error) {
	now, err := caseIn(ctx, tx, c.Number)
	if err == nil {
		err = now.takesDisposition(d)
	}
	if err != nil {
		return nil, err
	}
	reworks, err := reworksIn(ctx, tx, c.Serial)
	if err != nil {
		return nil, err
	}
	e := store.Entry{Table: "return_disposition"}
	e.Set("return_case", c.Number)
	e.Set("disposition", d.Code)
	e.Set("reason", d.Reason)
	e.Set("by", d.By)
	e.Set("at_us", s.db.Now())
	if d.Code == Reopened {
		return []store.Entry{e}, nil
	}
	answered, err := answer(EvidenceOf(now, shipped, reworks).Contradictions(d.Code, d.Disposal), d.Answers)
	if err != nil {
		return nil, err
	}
	disposal, err := disposalOf(ctx, tx, d.Disposal, answered)
	return []store.Entry{disposal, e}, err
}

// disposalOf is what becomes of the unit, for the disposition that comes next.
func disposalOf(ctx context.Context, tx *sql.Tx, disposal string, answered []Answered) (store.Entry, error) {
	e := store.Entry{Table: "return_disposal"}
	var next int64
	if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) + 1 FROM return_disposition`).Scan(&next); err != nil {
		return e, err
	}
	newest, err := runs.NewestSeq(ctx, tx)
	if err != nil {
		return e, err
	}
	text, err := json.Marshal(append([]Answered{}, answered...))
	e.Set("disposition", next)
	e.Set("disposal", disposal)
	e.Set("after_run", newest)
	e.Set("contradictions", string(text))
	return e, err
}

// takesDisposition says why the case cannot be closed, or opened, so now.
func (c Case) takesDisposition(d Disposition) error {
	last := c.Disposition()
	switch {
	case d.Code == Reopened && !c.Closed():
		return refused(ErrStage, "not closed", "case %d is open", c.Number)
	case d.Code == Reopened && d.Disposal != "":
		return notNow("case %d is opened again: nothing becomes of the unit by that", c.Number)
	case d.Code == Reopened:
		return nil
	case !slices.Contains(Dispositions, d.Code):
		return notNow("%q is no disposition: write one of %s", d.Code, strings.Join(append(slices.Clone(Dispositions), Reopened), ", "))
	case d.Disposal == "":
		return notNow("what becomes of unit %s? Write one of %s", c.Serial, strings.Join(Disposals, ", "))
	case !slices.Contains(Disposals, d.Disposal):
		return notNow("%q is nothing that becomes of a unit: write one of %s", d.Disposal, strings.Join(Disposals, ", "))
	case c.Closed() && !d.Corrects:
		return refused(ErrStage, "closed by", "case %d was closed as %q by %s already", c.Number, last.Code, last.By)
	case d.Code == FalseAccept && d.Reason == "":
		return refused(ErrStage, "why suspected", "say why the jig is suspected")
	}
	return nil
}
