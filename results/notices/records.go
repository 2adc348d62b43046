// Package notices keeps what the plant decides: at a station it takes notices and carries them
// out, at the plant's office it issues them.
//
// Both keep the same chain in the same table, as it was signed. A [Taker] believes only what
// follows what it has, signed by the keys that are pinned; notice, what it brings about, and how far
// the station got are one transaction, so that nothing is carried out twice or by halves. [Records.Said]
// is what of it a person should know before a unit is tested.
package notices

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"padjig/results/plant/notice"
	"padjig/results/store"
)

// Records are the notices in a store.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }

// Kept is a notice as it is kept, with what came of it here.
type Kept struct {
	notice.Notice
	Outcome Outcome
	At      time.Time // it was taken, or issued
}

// Outcome is what came of a notice at a station.
type Outcome string

// The outcomes.
const (
	InForce    Outcome = "in force"
	NotHere    Outcome = "not here"    // it is of a jig that these records do not know
	LabelTaken Outcome = "label taken" // the revision's label is another definition's here: the product is not tested
	Waits      Outcome = "waits"       // its name is that of an account that was made here
	IssuedHere Outcome = "issued"      // these records are the office's
)

const noticeColumns = `SELECT notice.seq, notice.kind, subject, body, issued_us, before, signature`

func scanNotice(rows *sql.Rows, further ...any) (n notice.Notice, err error) {
	var body string
	var before []byte
	into := append([]any{&n.Number, &n.Kind, &n.Subject, &body, store.Time(&n.Issued), &before, &n.Signature}, further...)
	err = rows.Scan(into...)
	n.Body, n.Before = []byte(body), hashOf(before)
	return n, err
}

func hashOf(b []byte) (h notice.Hash) {
	copy(h[:], b)
	return h
}

// List gives the notices behind a number, in their order, n at most.
func (s *Records) List(ctx context.Context, after int64, n int) ([]Kept, error) {
	return store.List(ctx, s.db, "list the notices", func(rows *sql.Rows) (k Kept, err error) {
		k.Notice, err = scanNotice(rows, &k.Outcome, store.Time(&k.At))
		return k, err
	}, noticeColumns+`, CASE WHEN source <> '' THEN 'issued' ELSE coalesce(outcome, 'waits') END, notice.at_us
		FROM notice LEFT JOIN notice_effect ON notice = notice.seq WHERE notice.seq > ? ORDER BY notice.seq LIMIT ?`, after, n)
}

// follow takes those that are kept behind the end of a chain into it.
func follow(ctx context.Context, tx *sql.Tx, chain notice.Chain) (notice.Chain, error) {
	err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
		n, err := scanNotice(rows)
		if err != nil {
			return err
		}
		next, wrong := chain.Next(n)
		if len(wrong) > 0 {
			return wrong[0]
		}
		chain = next
		return nil
	}, noticeColumns+` FROM notice WHERE seq > ? ORDER BY seq`, chain.Number)
	return chain, err
}

// ErrNoNotices is of records that have none.
var ErrNoNotices = errors.New("there are no notices")

// kept is the chain by the key that its own first notice names.
func kept(ctx context.Context, tx *sql.Tx) (notice.Chain, error) {
	var body string
	found, err := store.RowOf(ctx, tx, `SELECT body FROM notice WHERE seq = 1`, nil, &body)
	if err == nil && !found {
		err = ErrNoNotices
	}
	if err != nil {
		return notice.Chain{}, err
	}
	b, err := notice.Notice{Body: []byte(body)}.AsKey()
	if err != nil {
		return notice.Chain{}, notice.Mistake{Code: notice.WrongBody, Number: 1, Why: err.Error()}
	}
	key, err := b.Public()
	if err != nil {
		return notice.Chain{}, notice.Mistake{Code: notice.WrongBody, Number: 1, Why: err.Error()}
	}
	return follow(ctx, tx, notice.Begin([]ed25519.PublicKey{key}))
}

func (s *Records) keep(ctx context.Context, tx *sql.Tx, n notice.Notice, source string, upto int64) error {
	e := store.Entry{Table: "notice"}
	e.Set("kind", string(n.Kind))
	e.Set("subject", n.Subject)
	e.Set("body", string(n.Body))
	e.Set("issued_us", n.Issued)
	e.Set("before", n.Before[:])
	e.Set("signature", n.Signature)
	e.Set("source", source)
	e.Set("upto", upto)
	e.Set("at_us", s.db.Now())
	seq, err := e.Insert(ctx, tx)
	if err == nil && seq != n.Number {
		err = fmt.Errorf("notice %d would be kept as %d", n.Number, seq)
	}
	return err
}

// Checks are what must hold of what is kept here.
func Checks() []store.Check {
	return []store.Check{store.Entries("notice", "notice_effect"), chained}
}

func chained(ctx context.Context, tx *sql.Tx) ([]string, error) {
	_, err := kept(ctx, tx)
	if m, is := errors.AsType[notice.Mistake](err); is {
		return []string{"notice is not as the plant signed it: " + m.Error()}, nil
	}
	if errors.Is(err, ErrNoNotices) {
		err = nil
	}
	return nil, err
}
