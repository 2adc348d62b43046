package web

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net/http"
	"sync"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/results/accounts"
)

// How long a session lasts at most: one shift with its edges.
const longestSession = 12 * time.Hour

// person is who looks at a page.
type person struct {
	Name   string
	Role   account.Role
	Strong bool // came by a password: a badge alone releases nothing

	session int64
	token   string // of forms
}

// may reports whether somebody is allowed what these may.
func (p *person) may(who may) bool {
	if who == nil {
		return true
	}
	if p == nil {
		return false
	}
	for _, role := range who {
		if role == p.Role {
			return true
		}
	}
	return false
}

// sessions remembers when each was last used. What is not remembered here, as
// after a restart, begins anew.
type sessions struct {
	mu   sync.Mutex
	used map[int64]time.Time
}

// touch notes a use and reports whether the session was left alone too long.
func (s *sessions) touch(session int64, now time.Time, patience time.Duration) (stale bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.used == nil {
		s.used = map[int64]time.Time{}
	}
	last, known := s.used[session]
	if known && patience > 0 && now.Sub(last) > patience {
		return true
	}
	s.used[session] = now
	return false
}

func (s *sessions) forget(session int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.used, session)
}

func (s *Site) cookie() string {
	if s.Secure {
		return "__Host-padjig"
	}
	return "padjig"
}

// who finds the person of a request, nil for nobody.
func (s *Site) who(r *http.Request, use bool) (*person, error) {
	cookie, err := r.Cookie(s.cookie())
	if err != nil {
		return nil, nil
	}
	return s.personOf(r.Context(), cookie.Value, use)
}

func (s *Site) personOf(ctx context.Context, token string, use bool) (*person, error) {
	open, err := s.Store.Accounts.Session(ctx, sha256.Sum256([]byte(token)))
	if err != nil || open == nil {
		return nil, err
	}
	now := time.Now()
	if now.Sub(open.At) > longestSession || use && s.sessions.touch(open.Seq, now, s.LockAfter) {
		s.sessions.forget(open.Seq)
		return nil, s.Store.Accounts.EndSession(ctx, open.Seq)
	}
	a, err := s.account(ctx, open.Name)
	if err != nil || a == nil {
		return nil, err
	}
	return &person{
		Name: a.Name, Role: account.Role(a.Role), Strong: open.How == "password",
		session: open.Seq, token: formToken(token),
	}, nil
}

// formToken is what forms of a session carry: it cannot be turned back into
// the session's own token.
func formToken(token string) string {
	mac := hmac.New(sha256.New, []byte(token))
	mac.Write([]byte("forms"))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

func (s *Site) account(ctx context.Context, name string) (*accounts.Account, error) {
	all, err := s.Store.Accounts.Accounts(ctx)
	for i := range all {
		if all[i].Name == name {
			return &all[i], err
		}
	}
	return nil, err
}

// badge finds whose a badge is, nil for nobody's.
func (s *Site) badge(ctx context.Context, code string) (*accounts.Account, error) {
	all, err := s.Store.Accounts.Accounts(ctx)
	hash := account.HashBadge(code)
	for i := range all {
		if all[i].Badge == hash {
			return &all[i], err
		}
	}
	return nil, err
}

// letIn begins a session in this browser, in place of the one it had.
func (v *visit) letIn(name, how string) error {
	if err := v.leave(); err != nil {
		return err
	}
	raw := make([]byte, 32)
	rand.Read(raw)
	token := base64.RawURLEncoding.EncodeToString(raw)
	if err := v.site.Store.Accounts.StartSession(v.r.Context(), sha256.Sum256([]byte(token)), name, how); err != nil {
		return fmt.Errorf("begin a session: %w", err)
	}
	http.SetCookie(v.w, v.site.crumb(token, int(longestSession/time.Second)))
	return nil
}

func (s *Site) crumb(value string, age int) *http.Cookie {
	return &http.Cookie{
		Name: s.cookie(), Value: value, Path: "/", MaxAge: age, HttpOnly: true, Secure: s.Secure,
		SameSite: http.SameSiteStrictMode,
	}
}

// leave ends the session of this browser, if it has one.
func (v *visit) leave() error {
	if v.Person == nil {
		return nil
	}
	v.site.sessions.forget(v.Person.session)
	http.SetCookie(v.w, v.site.crumb("", -1))
	return v.site.Store.Accounts.EndSession(v.r.Context(), v.Person.session)
}
