package web

import (
	"net/http"
	"net/url"
	"sync"
	"time"

	"padjig/cmd/padjig/account"
)

// doorPage is where people say who they are: by their badge, or by name and
// password.
var doorPage = page{path: "/door", name: "door", view: func(v *visit) (any, error) {
	accounts, err := v.site.Store.Accounts(v.r.Context())
	return doorView{Next: here(v.r.FormValue("next")), Empty: len(accounts) == 0}, err
}}

type doorView struct {
	Next  string `json:"next"`  // where to go afterwards
	Empty bool   `json:"empty"` // there is no account at all yet
}

var enterAction = action{path: "/door", do: func(v *visit) (answer, error) {
	name, next := v.r.FormValue("name"), afterDoor(v.r.FormValue("next"))
	if !v.site.guesses.allowed(name, time.Now()) {
		return answer{}, &problem{http.StatusTooManyRequests, v.say("door.slowly")}
	}
	a, err := v.site.account(v.r.Context(), name)
	if err != nil {
		return answer{}, err
	}
	hash := ""
	if a != nil {
		hash = a.Password
	}
	if !account.CheckPassword(hash, v.r.FormValue("password")) {
		v.site.guesses.missed(name, time.Now())
		return answer{}, refused(v.say("door.wrong"))
	}
	return answer{Go: next}, v.letIn(a.Name, "password")
}}

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
// there before.
func (v *visit) byBadge(code string) (answer, error) {
	if !v.site.guesses.allowed("", time.Now()) {
		return answer{}, &problem{http.StatusTooManyRequests, v.say("door.slowly")}
	}
	accounts, err := v.site.Store.Accounts(v.r.Context())
	if err != nil {
		return answer{}, err
	}
	hash := account.HashBadge(code)
	for _, a := range accounts {
		if a.Badge == hash {
			return answer{Go: afterDoor(v.r.FormValue("next")), Say: v.say("door.welcome", a.Name)}, v.letIn(a.Name, "badge")
		}
	}
	v.site.guesses.missed("", time.Now())
	return answer{}, refused(v.say("door.badge"))
}

var languageAction = action{path: "/language", do: func(v *visit) (answer, error) {
	http.SetCookie(v.w, &http.Cookie{
		Name: "language", Value: choose(v.r.FormValue("language")), Path: "/", MaxAge: 365 * 24 * 3600,
		Secure: v.site.Secure, HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	return answer{Go: here(v.r.FormValue("next"))}, nil
}}

// guesses slows down those who guess passwords: a few misses are free, after
// that one a while. Nobody is ever locked out for good: that would stop a line.
type guesses struct {
	mu     sync.Mutex
	misses map[string][]time.Time // by name
}

const (
	freeMisses = 5
	missMemory = time.Minute
)

func (g *guesses) allowed(name string, now time.Time) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return len(g.recent(name, now)) < freeMisses
}

func (g *guesses) missed(name string, now time.Time) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.misses == nil || len(g.misses) > 1000 { // names that nobody has
		g.misses = map[string][]time.Time{}
	}
	g.misses[name] = append(g.recent(name, now), now)
}

func (g *guesses) recent(name string, now time.Time) []time.Time {
	var recent []time.Time
	for _, at := range g.misses[name] {
		if now.Sub(at) < missMemory {
			recent = append(recent, at)
		}
	}
	return recent
}
