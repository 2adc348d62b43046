package accounts

import (
	"context"
	"database/sql"
	"time"

	"padjig/results/store"
)

// SignIn is a try to sign in at a station.
type SignIn struct {
	Name    string // of the account; empty where there is none of the name that was typed, or the badge is nobody's
	Address string // of the connection
	How     string // "password" or "badge"
	Outcome SignInOutcome
	At      time.Time // when read
}

// SignInOutcome is what came of a try.
type SignInOutcome string

// The outcomes.
const (
	SignedIn      SignInOutcome = "in"
	SignInWrong   SignInOutcome = "wrong"
	SignInTooMany SignInOutcome = "too many" // not looked at; one stands for all that follow at once
)

// SignIns are the record of who signed in, or tried to, and from where.
type SignIns struct{ db *store.DB }

// SignInsOf gives the record of a store.
func SignInsOf(db *store.DB) SignIns { return SignIns{db} }

// Add records a try.
func (l SignIns) Add(ctx context.Context, e SignIn) error {
	return l.db.Insert(ctx, "a sign-in", `
		INSERT INTO sign_in (seq, name, address, how, outcome, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM sign_in), ?, ?, ?, ?, ?`,
		e.Name, e.Address, e.How, e.Outcome, l.db.Now().UnixMicro())
}

// Known reports whether an account was ever signed in from an address.
func (l SignIns) Known(ctx context.Context, name, address string) (known bool, err error) {
	err = l.db.Ask(ctx, "look up sign-ins", func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `
			SELECT EXISTS (SELECT 1 FROM sign_in WHERE name = ? AND address = ? AND outcome = 'in')`,
			name, address).Scan(&known)
	})
	return known, err
}

// Last gives the last n tries, newest first.
func (l SignIns) Last(ctx context.Context, n int) ([]SignIn, error) {
	return store.List(ctx, l.db, "list the sign-ins", func(rows *sql.Rows) (e SignIn, err error) {
		return e, rows.Scan(&e.Name, &e.Address, &e.How, &e.Outcome, store.Time(&e.At))
	}, `SELECT name, address, how, outcome, at_us FROM sign_in ORDER BY seq DESC LIMIT ?`, n)
}
