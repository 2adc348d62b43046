// Package signin says whether somebody is who they say, by password or badge, no faster
// than guesses may come, and records every try. The door of the pages and the terminal
// both ask here.
package signin

import (
	"context"
	"errors"
	"log/slog"
	"net/netip"
	"slices"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/log"
	"padjig/results"
	"padjig/results/accounts"
)

// Why somebody is not let in.
var (
	ErrWrong   = errors.New("wrong name or password")
	ErrNobody  = errors.New("the badge is nobody's")
	ErrTooMany = errors.New("too many wrong tries")
)

// Origin is where somebody says who they are.
type Origin struct {
	address  netip.Prefix
	text     string // as it is recorded
	terminal bool
}

// Terminal is the terminal of the computer that the records are on.
func Terminal() Origin { return Origin{text: "terminal", terminal: true} }

// From is the origin of a connection, of its remote address.
func From(remote string) Origin {
	address := AddressOf(remote)
	return Origin{address: address, text: addressText(address)}
}

// local reports whether guesses of strangers leave it alone, whoever it is of.
func (o Origin) local() bool {
	return o.terminal || o.address.IsValid() && o.address.Addr().IsLoopback()
}

// Desk lets people in. It remembers their guesses.
type Desk struct {
	store   *results.Store
	limiter loginLimiter
}

// New is a desk at which nobody guessed yet.
func New(store *results.Store) *Desk { return &Desk{store: store} }

// AtTerminal is the desk of a command. Each command is a process of its own: the guesses
// of those before are taken from the records.
func AtTerminal(ctx context.Context, store *results.Store) (*Desk, error) {
	d := New(store)
	list, err := store.SignIns.Last(ctx, mostRecalled)
	slices.Reverse(list)
	now, here := time.Now(), Terminal()
	for _, e := range list {
		if e.Address != here.text || e.How != "password" || now.Sub(e.At).Abs() > allowanceTime {
			continue
		}
		g, _ := d.limiter.password(e.Name, here.address, true, e.At)
		if e.Outcome == accounts.SignedIn {
			g.right()
		}
	}
	return d, err
}

// mostRecalled is more tries than a minute's allowance leaves room for.
const mostRecalled = 500

// Password lets in whoever knows the password of an account. A guess is counted before
// it is looked at.
func (d *Desk) Password(ctx context.Context, name, password string, from Origin) (*accounts.Account, error) {
	t := try{d, ctx, name, "password", from}
	a, err := d.Account(ctx, name)
	if err != nil {
		return nil, err
	}
	known := from.local()
	if !known {
		if known, err = d.store.SignIns.Known(ctx, name, from.text); err != nil {
			return nil, err
		}
	}
	guess, first := d.limiter.password(name, from.address, known, time.Now())
	if guess == nil {
		return nil, t.slowly(a, first)
	}
	hash := ""
	if a != nil && !a.Locked {
		hash = a.Password
	}
	if !account.CheckPassword(hash, password) {
		return nil, t.refuse(a, accounts.SignInWrong, ErrWrong)
	}
	guess.right()
	return a, t.note(a, accounts.SignedIn)
}

// Badge lets in whose badge it is. Badges are looked at however many nobody had: their
// codes are too long to be guessed, and a misread one must not keep the right one out.
func (d *Desk) Badge(ctx context.Context, code string, from Origin) (*accounts.Account, error) {
	t := try{d, ctx, "", "badge", from}
	counted, first := d.limiter.badge(from.address, time.Now())
	hash := account.HashBadge(code)
	a, err := d.find(ctx, func(a accounts.Account) bool { return a.Badge == hash && !a.Locked })
	switch {
	case err != nil:
		return nil, err
	case a == nil && counted == nil:
		return nil, t.slowly(nil, first)
	case a == nil:
		return nil, t.refuse(nil, accounts.SignInWrong, ErrNobody)
	}
	counted.right()
	return a, t.note(a, accounts.SignedIn)
}

// Account finds an account by its name, nil for none.
func (d *Desk) Account(ctx context.Context, name string) (*accounts.Account, error) {
	return d.find(ctx, func(a accounts.Account) bool { return a.Name == name })
}

func (d *Desk) find(ctx context.Context, is func(accounts.Account) bool) (*accounts.Account, error) {
	all, err := d.store.Accounts.Accounts(ctx)
	if i := slices.IndexFunc(all, is); i >= 0 {
		return &all[i], err
	}
	return nil, err
}

// try is one try to sign in.
type try struct {
	desk *Desk
	ctx  context.Context
	name string // as it was typed; empty for a badge
	how  string
	from Origin
}

// slowly refuses what was not looked at. Of many in a row the first is recorded.
func (t try) slowly(a *accounts.Account, first bool) error {
	if !first {
		return ErrTooMany
	}
	return t.refuse(a, accounts.SignInTooMany, ErrTooMany)
}

func (t try) refuse(a *accounts.Account, outcome accounts.SignInOutcome, answer error) error {
	if err := t.note(a, outcome); err != nil {
		return err
	}
	return answer
}

// note records a try. A name that nobody has is not kept: it may be a password that was
// typed into the wrong field.
func (t try) note(a *accounts.Account, outcome accounts.SignInOutcome) error {
	e := accounts.SignIn{Address: t.from.text, How: t.how, Outcome: outcome}
	if a != nil {
		e.Name = a.Name
	}
	t.log(e)
	return t.desk.store.SignIns.Add(t.ctx, e)
}

// log logs a try: likewise nothing of what was typed.
func (t try) log(e accounts.SignIn) {
	level, event := slog.LevelInfo, log.SignedIn
	attrs := []any{"who", e.Name, "from", e.Address, "how", e.How}
	if e.Outcome != accounts.SignedIn {
		level, event = slog.LevelWarn, log.SignInRefused
		attrs = append(attrs, "why", string(e.Outcome))
	}
	log.From(t.ctx).Log(t.ctx, level, event, attrs...)
}
