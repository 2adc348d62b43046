package accounts

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// AccountEvent is one thing that was decided about an account.
type AccountEvent struct {
	Name   string
	Kind   AccountEventKind
	Role   string // of a role event: "operator", "quality", "returns" or "engineer"
	Secret string // of a password or badge event, never the thing itself
	By     string
	At     time.Time // when read
	Notice int64     // of the plant that it came with, when read; 0: it was decided here
}

// AccountEventKind is what an event decides.
type AccountEventKind string

// The kinds. The last event of a kind holds; a role after "closed" opens the
// account again, without its old password and badge.
const (
	AccountRole     AccountEventKind = "role"
	AccountPassword AccountEventKind = "password"
	AccountBadge    AccountEventKind = "badge"
	AccountClosed   AccountEventKind = "closed"
)

// Account is what its events say.
type Account struct {
	Name     string
	Role     string
	Password string // as AccountEvent.Secret; empty for none
	Badge    string
	Since    time.Time // of its first event
	OfPlant  bool      // the plant made it, and decides about it
	Locked   bool      // neither password nor badge opens anything until it is unlocked
}

// Answers reports whether an account may decide about others: an engineer with a password.
func (a Account) Answers() bool { return a.Role == engineer && a.Password != "" && !a.Locked }

// engineer is the role that decides about accounts.
const engineer = "engineer"

// SaveAccountEvent records a decision about an account as it is: what has to hold of it is
// asked by [Records.Decide].
func (s *Records) SaveAccountEvent(ctx context.Context, e AccountEvent) error {
	return s.db.Insert(ctx, "account of "+e.Name, insertEvent, e.Name, e.Kind, e.Role, e.Secret, e.By, s.db.Now().UnixMicro(), decidedHere.column())
}

const insertEvent = `
	INSERT INTO account_event (seq, name, kind, role, secret, by, at_us, notice)
	SELECT (SELECT coalesce(max(seq), 0) + 1 FROM account_event), ?, ?, ?, ?, ?, ?, ?`

// Accounts gives all accounts that are not closed, by name.
//
// Every page asks for them. They are put together anew only when there is a newer row: rows of these tables never change and never
// go, so that the numbers of the newest ones say what all of them say. They are read in the same view as the rows, and only what is
// committed is remembered: a row that was rolled back would leave its number to another one.
func (s *Records) Accounts(ctx context.Context) (list []Account, err error) {
	err = s.db.Ask(ctx, "list the accounts", func(tx *sql.Tx) (err error) {
		now := &knownAccounts{}
		if err := tx.QueryRowContext(ctx, `SELECT coalesce((SELECT max(seq) FROM account_event), 0), coalesce((SELECT max(seq) FROM account_lock), 0)`).
			Scan(&now.event, &now.lock); err != nil {
			return err
		}
		if known := s.known.Load(); known != nil && known.event == now.event && known.lock == now.lock {
			list = slices.Clone(known.list)
			return nil
		}
		if list, err = accountsIn(ctx, tx); err == nil {
			now.list = slices.Clone(list)
			s.known.Store(now)
		}
		return err
	})
	return list, err
}

// knownAccounts are those that all rows up to two numbers make.
type knownAccounts struct {
	event, lock int64
	list        []Account
}

func accountsIn(ctx context.Context, tx *sql.Tx) ([]Account, error) {
	events, err := store.Collect(ctx, tx, scanAccountEvent, `SELECT name, kind, role, secret, by, at_us, coalesce(notice, 0) FROM account_event ORDER BY seq`)
	if err != nil {
		return nil, err
	}
	locked, err := store.Collect(ctx, tx, store.ScanText, `
		SELECT name FROM account_lock AS newest WHERE kind = 'locked'
		AND seq = (SELECT max(seq) FROM account_lock WHERE name = newest.name)`)
	list := accountsOf(events)
	for i, a := range list {
		list[i].Locked = slices.Contains(locked, a.Name)
	}
	return list, err
}

func scanAccountEvent(rows *sql.Rows) (e AccountEvent, err error) {
	return e, rows.Scan(&e.Name, &e.Kind, &e.Role, &e.Secret, &e.By, store.Time(&e.At), &e.Notice)
}

func accountsOf(events []AccountEvent) []Account {
	all := map[string]*Account{}
	for _, e := range events {
		a := all[e.Name]
		if a == nil {
			a = &Account{Name: e.Name, Since: e.At}
			all[e.Name] = a
		}
		a.OfPlant = a.OfPlant || e.Notice > 0
		switch e.Kind {
		case AccountRole:
			a.Role = e.Role
		case AccountPassword:
			a.Password = e.Secret
		case AccountBadge:
			a.Badge = e.Secret
		case AccountClosed:
			delete(all, e.Name)
		}
	}
	var open []Account
	for _, a := range all {
		if a.Role != "" {
			open = append(open, *a)
		}
	}
	slices.SortFunc(open, func(a, b Account) int { return strings.Compare(a.Name, b.Name) })
	return open
}

// Override is a person's decision to go on where padjig would not.
type Override struct {
	What, Serial, Jig, By, Reason string
	At                            time.Time // when read
}

// SaveOverride records an override; the reason must not be empty.
func (s *Records) SaveOverride(ctx context.Context, o Override) error {
	return s.db.Save(ctx, "save override for unit "+o.Serial, func(tx *sql.Tx) error {
		_, err := Overriding(ctx, tx, s.db.Now(), o)
		return err
	})
}

// Overriding records an override in a transaction of whoever keeps what it allows, and gives its number.
func Overriding(ctx context.Context, tx *sql.Tx, now time.Time, o Override) (seq int64, err error) {
	return seq, tx.QueryRowContext(ctx, `
		INSERT INTO override (seq, what, serial, jig, by, reason, after_run, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM override), ?, ?, ?, ?, ?,
		       (SELECT coalesce(max(seq), 0) FROM run), ? RETURNING seq`,
		o.What, o.Serial, o.Jig, o.By, o.Reason, now.UnixMicro()).Scan(&seq)
}

// Overrides gives the last n overrides, newest first.
func (s *Records) Overrides(ctx context.Context, n int) ([]Override, error) {
	return store.List(ctx, s.db, "list the overrides", func(rows *sql.Rows) (o Override, err error) {
		return o, rows.Scan(&o.What, &o.Serial, &o.Jig, &o.By, &o.Reason, store.Time(&o.At))
	}, `SELECT what, serial, jig, by, reason, at_us FROM override ORDER BY seq DESC LIMIT ?`, n)
}
