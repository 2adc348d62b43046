// Package door lets people in: by their badge, or by name and password, no faster
// than guesses may come; and keeps their sessions.
package door

import (
	"net/http"
	"net/netip"
	"net/url"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/accounts"
)

// Path is where the door is.
const Path = "/door"

// Door keeps who is in.
type Door struct {
	store     *results.Store
	secure    bool          // the pages come over TLS
	lockAfter time.Duration // how long a session may be left alone
	sessions  sessions
	limiter   loginLimiter
}

// New is a door that nobody came through yet.
func New(store *results.Store, secure bool, lockAfter time.Duration) *Door {
	return &Door{store: store, secure: secure, lockAfter: lockAfter}
}

// Set is what there is to see and to do.
func (d *Door) Set() page.Set {
	return page.Set{
		Pages: []page.Page{{Path: Path, Name: "door", View: d.look}},
		Actions: []page.Action{
			{Path: Path, Do: d.enter},
			{Path: "/leave", Do: func(v *page.Visit) (page.Answer, error) { return page.Answer{Go: Path}, d.Leave(v) }},
			{Path: "/language", Do: d.language},
		},
	}
}

// look is where people say who they are.
func (d *Door) look(v *page.Visit) (any, error) {
	accounts, err := d.store.Accounts.Accounts(v.Ctx())
	return signInView{Next: page.Here(v.Value("next")), Empty: len(accounts) == 0}, err
}

type signInView struct {
	Next  string `json:"next"`  // where to go afterwards
	Empty bool   `json:"empty"` // there is no account at all yet
}

func (d *Door) enter(v *page.Visit) (page.Answer, error) {
	next := afterSignIn(v.Value("next"))
	return page.Answer{Go: next}, d.attempt(v, v.Value("name"), "password").password(v.Value("password"))
}

// attempt is one try to sign in.
type attempt struct {
	*page.Visit
	door *Door
	name string // as it was typed; empty for a badge
	how  string
	from netip.Prefix
}

func (d *Door) attempt(v *page.Visit, name, how string) attempt {
	return attempt{v, d, name, how, AddressOf(v.Remote())}
}

// password lets somebody in who knows it. A guess is counted before it is looked
// at.
func (s attempt) password(password string) error {
	a, err := s.door.account(s.Ctx(), s.name)
	if err != nil {
		return err
	}
	known, err := s.known()
	if err != nil {
		return err
	}
	guess, first := s.door.limiter.password(s.name, s.from, known, time.Now())
	if guess == nil {
		return s.slowly(a, first)
	}
	hash := ""
	if a != nil {
		hash = a.Password
	}
	if !account.CheckPassword(hash, password) {
		return s.refuse(a, accounts.SignInWrong, page.Refused(s.Say("door.wrong")))
	}
	guess.right()
	return s.let(a)
}

// known reports whether guesses of strangers leave this address alone: it is the
// station's own, or the account was signed in from it before.
func (s attempt) known() (bool, error) {
	if s.from.IsValid() && s.from.Addr().IsLoopback() {
		return true, nil
	}
	return s.door.store.SignIns.Known(s.Ctx(), s.name, addressText(s.from))
}

func (s attempt) let(a *accounts.Account) error {
	if err := s.note(a, accounts.SignedIn); err != nil {
		return err
	}
	return s.door.signIn(s.Visit, a.Name, s.how)
}

// slowly refuses what was not looked at. Of many in a row the first is recorded.
func (s attempt) slowly(a *accounts.Account, first bool) error {
	answer := page.Fail(http.StatusTooManyRequests, s.Say("door.slowly"))
	if !first {
		return answer
	}
	return s.refuse(a, accounts.SignInTooMany, answer)
}

func (s attempt) refuse(a *accounts.Account, outcome accounts.SignInOutcome, answer error) error {
	if err := s.note(a, outcome); err != nil {
		return err
	}
	return answer
}

// note records a try. A name that nobody has is not kept: it may be a password
// that was typed into the wrong field.
func (s attempt) note(a *accounts.Account, outcome accounts.SignInOutcome) error {
	e := accounts.SignIn{Address: addressText(s.from), How: s.how, Outcome: outcome}
	if a != nil {
		e.Name = a.Name
	}
	return s.door.store.SignIns.Add(s.Ctx(), e)
}

// afterSignIn is where to go for somebody who said who they are: where they were,
// and from the door to where they wanted to go.
func afterSignIn(address string) string {
	u, err := url.Parse(page.Here(address))
	switch {
	case err != nil:
		return "/"
	case u.Path == Path:
		return page.Here(u.Query().Get("next"))
	}
	return u.String()
}

// ByBadge lets somebody in by the code on a badge, also in the place of who was
// there before. Badges are looked at however many nobody had: their codes are too
// long to be guessed, and a misread one must not keep the right one out.
func (d *Door) ByBadge(v *page.Visit, code string) (page.Answer, error) {
	s := d.attempt(v, "", "badge")
	counted, first := d.limiter.badge(s.from, time.Now())
	a, err := d.badge(v.Ctx(), code)
	switch {
	case err != nil:
		return page.Answer{}, err
	case a == nil && counted == nil:
		return page.Answer{}, s.slowly(nil, first)
	case a == nil:
		return page.Answer{}, s.refuse(nil, accounts.SignInWrong, page.Refused(v.Say("door.badge")))
	}
	counted.right()
	return page.Answer{Go: afterSignIn(v.Value("next")), Say: v.Say("door.welcome", a.Name)}, s.let(a)
}

func (d *Door) language(v *page.Visit) (page.Answer, error) {
	v.SetCookie(&http.Cookie{
		Name: "language", Value: page.Choose(v.Value("language")), Path: "/", MaxAge: 365 * 24 * 3600,
		Secure: d.secure, HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	return page.Answer{Go: page.Here(v.Value("next"))}, nil
}
