// Package door lets people in: by their badge, or by name and password, no faster
// than guesses may come; and keeps their sessions.
package door

import (
	"errors"
	"net/http"
	"net/url"
	"time"

	"padjig/cmd/padjig/account/signin"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
)

// Path is where the door is.
const Path = "/door"

// Door keeps who is in.
type Door struct {
	store     *results.Store
	secure    bool          // the pages come over TLS
	lockAfter time.Duration // how long a session may be left alone
	sessions  sessions
	desk      *signin.Desk
}

// New is a door that nobody came through yet.
func New(store *results.Store, secure bool, lockAfter time.Duration) *Door {
	return &Door{store: store, secure: secure, lockAfter: lockAfter, desk: signin.New(store)}
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
	a, err := d.desk.Password(v.Ctx(), v.Value("name"), v.Value("password"), signin.From(v.Remote()))
	if err != nil {
		return page.Answer{Go: next}, refused(v, err)
	}
	return page.Answer{Go: next}, d.signIn(v, a.Name, "password")
}

// refused says why somebody is not let in.
func refused(v *page.Visit, err error) error {
	switch {
	case errors.Is(err, signin.ErrTooMany):
		return page.Fail(http.StatusTooManyRequests, v.Say("door.slowly"))
	case errors.Is(err, signin.ErrWrong):
		return page.Refused(v.Say("door.wrong"))
	case errors.Is(err, signin.ErrNobody):
		return page.Refused(v.Say("door.badge"))
	}
	return err
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
// there before.
func (d *Door) ByBadge(v *page.Visit, code string) (page.Answer, error) {
	a, err := d.desk.Badge(v.Ctx(), code, signin.From(v.Remote()))
	if err != nil {
		return page.Answer{}, refused(v, err)
	}
	return page.Answer{Go: afterSignIn(v.Value("next")), Say: v.Say("door.welcome", a.Name)}, d.signIn(v, a.Name, "badge")
}

func (d *Door) language(v *page.Visit) (page.Answer, error) {
	v.SetCookie(&http.Cookie{
		Name: "language", Value: v.Chosen(v.Value("language")), Path: "/", MaxAge: 365 * 24 * 3600,
		Secure: d.secure, HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	return page.Answer{Go: page.Here(v.Value("next"))}, nil
}
