package accounts

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// What is not done about an account.
var (
	ErrNoAccount    = errors.New("there is no such account")
	ErrLastEngineer = errors.New("the last engineer with a password")
)

// LikeAnother is a name that is another account's but for case and blanks: nobody could
// tell the two apart, and one person would be two.
type LikeAnother struct{ Name string }

func (e *LikeAnother) Error() string {
	return fmt.Sprintf("there is an account of %s, whose name differs in case or blanks only", e.Name)
}

// SamePerson reports whether two names are one person's as far as names can tell: case
// and blanks make no other.
func SamePerson(a, b string) bool {
	squeeze := func(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), "")) }
	return squeeze(a) == squeeze(b)
}

// The two that lock an account and open it again; they lie in a table of their own.
const (
	AccountLocked   AccountEventKind = "locked"
	AccountUnlocked AccountEventKind = "unlocked"
)

// Decide records what somebody decides about one account, all of it or nothing. An account
// is made by its role; what else is decided needs one that is there. There stays an
// engineer with a password, if there was one: else nobody could make accounts any more.
// Whoever gets a new password or badge, is locked out or closed has no session any more.
func (s *Records) Decide(ctx context.Context, events ...AccountEvent) error {
	return s.db.Save(ctx, "save what was decided about an account", func(tx *sql.Tx) error {
		before, err := accountsIn(ctx, tx)
		if err != nil {
			return err
		}
		for i, e := range events {
			if err := possible(before, e, i == 0); err != nil {
				return err
			}
			if err := write(ctx, tx, e, s.db.Now(), decidedHere); err != nil {
				return err
			}
		}
		after, err := accountsIn(ctx, tx)
		if err == nil && slices.ContainsFunc(before, Account.Answers) && !slices.ContainsFunc(after, Account.Answers) {
			err = ErrLastEngineer
		}
		return err
	})
}

func possible(there []Account, e AccountEvent, first bool) error {
	known := false
	for _, a := range there {
		known = known || a.Name == e.Name
		if a.Name == e.Name && a.OfPlant {
			return &OfPlantError{a.Name}
		}
	}
	if e.Kind != AccountRole && first && !known {
		return ErrNoAccount
	}
	for _, a := range there {
		if a.Name != e.Name && SamePerson(a.Name, e.Name) {
			return &LikeAnother{a.Name}
		}
	}
	return nil
}

func write(ctx context.Context, tx *sql.Tx, e AccountEvent, at time.Time, of notice) error {
	if e.Kind == AccountLocked || e.Kind == AccountUnlocked {
		row := store.Entry{Table: "account_lock"}
		row.Set("name", e.Name)
		row.Set("kind", string(e.Kind))
		row.Set("by", e.By)
		row.Set("at_us", at)
		if _, err := row.Insert(ctx, tx); err != nil {
			return err
		}
	} else if _, err := tx.ExecContext(ctx, insertEvent, e.Name, e.Kind, e.Role, e.Secret, e.By, at.UnixMicro(), of.column()); err != nil {
		return err
	}
	if e.Kind == AccountRole || e.Kind == AccountUnlocked {
		return nil
	}
	return endAll(ctx, tx, e.Name, e.By, at)
}

// Decided gives the last n decisions about accounts, newest first, without their secrets;
// sessions that somebody else ended are among them, as kind "session".
func (s *Records) Decided(ctx context.Context, n int) ([]AccountEvent, error) {
	return store.List(ctx, s.db, "list what was decided about accounts", scanAccountEvent, `
		SELECT name, kind, role, '', by, at_us, notice FROM (
			SELECT seq, name, kind, role, by, at_us, coalesce(notice, 0) AS notice FROM account_event
			UNION ALL SELECT seq, name, kind, '', by, at_us, 0 FROM account_lock
			UNION ALL SELECT session, name, 'session', '', session_end.by, session_end.at_us, 0
			FROM session_end JOIN session ON seq = session WHERE session_end.by <> '')
		ORDER BY at_us DESC, seq DESC LIMIT ?`, n)
}

// Checks are how the records of accounts are looked at.
func Checks() []store.Check { return []store.Check{store.Entries("account_lock")} }
