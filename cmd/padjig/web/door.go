package web

import (
	"net/http"
	"net/netip"
	"net/url"

	"padjig/cmd/padjig/account"
	"padjig/results/accounts"
)

// doorPage is where people say who they are: by their badge, or by name and
// password.
var doorPage = page{path: "/door", name: "door", view: func(v *visit) (any, error) {
	accounts, err := v.site.Store.Accounts.Accounts(v.r.Context())
	return doorView{Next: here(v.r.FormValue("next")), Empty: len(accounts) == 0}, err
}}

type doorView struct {
	Next  string `json:"next"`  // where to go afterwards
	Empty bool   `json:"empty"` // there is no account at all yet
}

var enterAction = action{path: "/door", do: func(v *visit) (answer, error) {
	next := afterDoor(v.r.FormValue("next"))
	return answer{Go: next}, signInOf(v, v.r.FormValue("name"), "password").password(v.r.FormValue("password"))
}}

// signIn is one try to sign in.
type signIn struct {
	*visit
	name string // as it was typed; empty for a badge
	how  string
	from netip.Prefix
}

func signInOf(v *visit, name, how string) signIn {
	return signIn{v, name, how, AddressOf(v.r.RemoteAddr)}
}

// password lets somebody in who knows it. A guess is counted before it is looked
// at.
func (s signIn) password(password string) error {
	a, err := s.site.account(s.r.Context(), s.name)
	if err != nil {
		return err
	}
	known, err := s.known()
	if err != nil {
		return err
	}
	guess, first := s.site.limiter.password(s.name, s.from, known, s.site.clock())
	if guess == nil {
		return s.slowly(a, first)
	}
	hash := ""
	if a != nil {
		hash = a.Password
	}
	if !account.CheckPassword(hash, password) {
		return s.refuse(a, accounts.SignInWrong, refused(s.say("door.wrong")))
	}
	guess.right()
	return s.let(a)
}

// known reports whether guesses of strangers leave this address alone: it is the
// station's own, or the account was signed in from it before.
func (s signIn) known() (bool, error) {
	if s.from.IsValid() && s.from.Addr().IsLoopback() {
		return true, nil
	}
	return s.site.Store.SignIns.Known(s.r.Context(), s.name, addressText(s.from))
}

func (s signIn) let(a *accounts.Account) error {
	if err := s.note(a, accounts.SignedIn); err != nil {
		return err
	}
	return s.letIn(a.Name, s.how)
}

// slowly refuses what was not looked at. Of many in a row the first is recorded.
func (s signIn) slowly(a *accounts.Account, first bool) error {
	answer := &problem{http.StatusTooManyRequests, s.say("door.slowly")}
	if !first {
		return answer
	}
	return s.refuse(a, accounts.SignInTooMany, answer)
}

func (s signIn) refuse(a *accounts.Account, outcome accounts.SignInOutcome, answer error) error {
	if err := s.note(a, outcome); err != nil {
		return err
	}
	return answer
}

// note records a try. A name that nobody has is not kept: it may be a password
// that was typed into the wrong field.
func (s signIn) note(a *accounts.Account, outcome accounts.SignInOutcome) error {
	e := accounts.SignIn{Address: addressText(s.from), How: s.how, Outcome: outcome}
	if a != nil {
		e.Name = a.Name
	}
	return s.site.Store.SignIns.Add(s.r.Context(), e)
}

// afterDoor is where to go for somebody who said who they are: where they were,
// and from the door to where they wanted to go.
func afterDoor(address string) string {
	u, err := url.Parse(here(address))
	switch {
	case err != nil:
		return "/"
	case u.Path == "/door":
		return here(u.Query().Get("next"))
	}
	return u.String()
}

var leaveAction = action{path: "/leave", do: func(v *visit) (answer, error) {
	return answer{Go: "/door"}, v.leave()
}}

// byBadge lets somebody in by the code on a badge, also in the place of who was
// there before. Badges are looked at however many nobody had: their codes are too
// long to be guessed, and a misread one must not keep the right one out.
func (v *visit) byBadge(code string) (answer, error) {
	s := signInOf(v, "", "badge")
	counted, first := v.site.limiter.badge(s.from, v.site.clock())
	a, err := v.site.badge(v.r.Context(), code)
	switch {
	case err != nil:
		return answer{}, err
	case a == nil && counted == nil:
		return answer{}, s.slowly(nil, first)
	case a == nil:
		return answer{}, s.refuse(nil, accounts.SignInWrong, refused(v.say("door.badge")))
	}
	counted.right()
	return answer{Go: afterDoor(v.r.FormValue("next")), Say: v.say("door.welcome", a.Name)}, s.let(a)
}

var languageAction = action{path: "/language", do: func(v *visit) (answer, error) {
	http.SetCookie(v.w, &http.Cookie{
		Name: "language", Value: choose(v.r.FormValue("language")), Path: "/", MaxAge: 365 * 24 * 3600,
		Secure: v.site.Secure, HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	return answer{Go: here(v.r.FormValue("next"))}, nil
}}
