// Package tokens keeps by which tokens programs may read from a station: what each opens,
// until when, and on which days it was used. Of the token itself only a hash is kept.
package tokens

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"padjig/results/store"
)

// Scope is something that a token opens.
type Scope string

// The scopes.
const (
	Units   Scope = "units"   // units and runs, with what was read of them
	Yields  Scope = "yields"  // the line in figures: yields, jigs, products in force
	Metrics Scope = "metrics" // how the station is doing
)

// Scopes are all of them.
var Scopes = []Scope{Units, Yields, Metrics}

// What is not done about a token.
var (
	ErrNoToken = errors.New("there is no such token")
	ErrTaken   = errors.New("there is a token of that name")
)

// Token is what is known of one.
type Token struct {
	Seq     int64
	Name    string
	Scopes  []Scope
	Until   time.Time // good before it
	By      string
	At      time.Time
	EndedBy string // who revoked it; empty: nobody did
	Ended   time.Time
	Used    string // the last day of UTC on which it was, as 2026-11-30; empty: never
}

// Opens reports whether a token is good at a time, and for what.
func (t Token) Opens(scope Scope, now time.Time) bool {
	return t.Good(now) && slices.Contains(t.Scopes, scope)
}

// Good reports whether it was neither revoked nor ran out.
func (t Token) Good(now time.Time) bool { return t.EndedBy == "" && now.Before(t.Until) }

// Records are the tokens of a store.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }

// Add records a token by the hash of its bits. A name is taken as long as a token of it is good.
func (s *Records) Add(ctx context.Context, hash [32]byte, t Token) error {
	scopes, err := json.Marshal(t.Scopes)
	if err != nil {
		return err
	}
	return s.db.Save(ctx, "save the token of "+t.Name, func(tx *sql.Tx) error {
		good, err := s.good(ctx, tx, t.Name)
		switch {
		case err != nil:
			return err
		case good != nil:
			return ErrTaken
		}
		row := store.Entry{Table: "token"}
		row.Set("name", t.Name)
		row.Set("secret", hash[:])
		row.Set("scopes", string(scopes))
		row.Set("until_us", t.Until)
		row.Set("by", t.By)
		row.Set("at_us", s.db.Now())
		_, err = row.Insert(ctx, tx)
		return err
	})
}

// Revoke ends the token of a name that is good.
func (s *Records) Revoke(ctx context.Context, name, by string) error {
	return s.db.Save(ctx, "revoke the token of "+name, func(tx *sql.Tx) error {
		good, err := s.good(ctx, tx, name)
		switch {
		case err != nil:
			return err
		case good == nil:
			return ErrNoToken
		}
		row := store.Entry{Table: "token_end"}
		row.Set("token", good.Seq)
		row.Set("by", by)
		row.Set("at_us", s.db.Now())
		_, err = row.Insert(ctx, tx)
		return err
	})
}

func (s *Records) good(ctx context.Context, tx *sql.Tx, name string) (*Token, error) {
	all, err := store.Collect(ctx, tx, scan, known+` WHERE name = ? ORDER BY token.seq DESC`, name)
	for _, t := range all {
		if t.Good(s.db.Now()) {
			return &t, err
		}
	}
	return nil, err
}

const known = `
	SELECT token.seq, name, scopes, until_us, token.by, token.at_us, coalesce(token_end.by, ''), coalesce(token_end.at_us, 0),
	       coalesce((SELECT max(day) FROM token_use WHERE token_use.token = token.seq), '')
	FROM token LEFT JOIN token_end ON token_end.token = token.seq`

func scan(rows *sql.Rows) (t Token, err error) {
	var ended int64
	err = rows.Scan(&t.Seq, &t.Name, store.JSON(&t.Scopes), store.Time(&t.Until), &t.By, store.Time(&t.At), &t.EndedBy, &ended, &t.Used)
	if ended != 0 {
		t.Ended = time.UnixMicro(ended).UTC()
	}
	return t, err
}

// Of gives the token of a hash as it stands now, nil if there is none.
func (s *Records) Of(ctx context.Context, hash [32]byte) (*Token, error) {
	return store.First(ctx, s.db, "look up a token", scan, known+` WHERE secret = ?`, hash[:])
}

// List gives every token there ever was, oldest first.
func (s *Records) List(ctx context.Context) ([]Token, error) {
	return store.List(ctx, s.db, "list the tokens", scan, known+` ORDER BY token.seq`)
}

// Use notes that a token is used today: once a day, so that reading costs no row each time.
func (s *Records) Use(ctx context.Context, t Token) error {
	day := s.db.Now().UTC().Format(time.DateOnly)
	if t.Used == day {
		return nil
	}
	return s.db.Save(ctx, "note the use of a token", func(tx *sql.Tx) error {
		var noted bool
		err := tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM token_use WHERE token = ? AND day = ?)`, t.Seq, day).Scan(&noted)
		if err != nil || noted {
			return err
		}
		row := store.Entry{Table: "token_use"}
		row.Set("token", t.Seq)
		row.Set("day", day)
		_, err = row.Insert(ctx, tx)
		return err
	})
}

// Checks are how the records of tokens are looked at.
func Checks() []store.Check { return []store.Check{store.Entries("token", "token_end", "token_use")} }

// ParseScopes reads scopes by their names.
func ParseScopes(names []string) (list []Scope, err error) {
	var wrong []error
	for _, name := range names {
		if !slices.Contains(Scopes, Scope(name)) {
			wrong = append(wrong, fmt.Errorf("scope %q: write units, yields or metrics", name))
			continue
		}
		if !slices.Contains(list, Scope(name)) {
			list = append(list, Scope(name))
		}
	}
	return list, errors.Join(wrong...)
}
