package door

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
	"padjig/cmd/padjig/web/page"
)

// LongestSession is how long a session lasts at most: one shift with its edges.
const LongestSession = 12 * time.Hour

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

func (d *Door) cookieName() string {
	if d.secure {
		return "__Host-padjig"
	}
	return "padjig"
}

// Who finds the person of a request, nil for nobody.
func (d *Door) Who(r *http.Request, use bool) (*page.Person, error) {
	cookie, err := r.Cookie(d.cookieName())
	if err != nil {
		return nil, nil
	}
	return d.personOf(r.Context(), cookie.Value, use)
}

func (d *Door) personOf(ctx context.Context, token string, use bool) (*page.Person, error) {
	open, err := d.store.Accounts.Session(ctx, sha256.Sum256([]byte(token)))
	if err != nil || open == nil {
		return nil, err
	}
	now := time.Now()
	if now.Sub(open.At) > LongestSession || use && d.sessions.touch(open.Seq, now, d.lockAfter) {
		d.sessions.forget(open.Seq)
		return nil, d.store.Accounts.EndSession(ctx, open.Seq, "")
	}
	a, err := d.desk.Account(ctx, open.Name)
	if err != nil || a == nil || a.Locked {
		return nil, err
	}
	return &page.Person{
		Name: a.Name, Role: account.Role(a.Role), Strong: open.How == "password",
		Session: open.Seq, Token: FormToken(token),
	}, nil
}

// FormToken is what forms of a session carry: it cannot be turned back into
// the session's own token. It looks different each time, behind a mask that stands before it: pages go compressed,
// and what stays the same could be found out by how short they get (BREACH).
func FormToken(token string) string {
	mac := hmac.New(sha256.New, []byte(token))
	mac.Write([]byte("forms"))
	masked := make([]byte, sha256.Size, 2*sha256.Size)
	rand.Read(masked)
	for i, b := range mac.Sum(nil) {
		masked = append(masked, b^masked[i])
	}
	return base64.RawURLEncoding.EncodeToString(masked)
}

// SameToken reports whether two tokens of forms are of one session.
func SameToken(a, b string) bool {
	one, is := unmasked(a)
	other, are := unmasked(b)
	return is && are && hmac.Equal(one, other)
}

// unmasked is the token behind its mask.
func unmasked(token string) (plain []byte, is bool) {
	masked, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil || len(masked) != 2*sha256.Size {
		return nil, false
	}
	for i, b := range masked[sha256.Size:] {
		plain = append(plain, b^masked[i])
	}
	return plain, true
}

// signIn begins a session in this browser, in place of the one it had.
func (d *Door) signIn(v *page.Visit, name, how string) error {
	if err := d.Leave(v); err != nil {
		return err
	}
	raw := make([]byte, 32)
	rand.Read(raw)
	token := base64.RawURLEncoding.EncodeToString(raw)
	if err := d.store.Accounts.StartSession(v.Ctx(), sha256.Sum256([]byte(token)), name, how); err != nil {
		return fmt.Errorf("begin a session: %w", err)
	}
	v.SetCookie(d.sessionCookie(token, int(LongestSession/time.Second)))
	return nil
}

func (d *Door) sessionCookie(value string, age int) *http.Cookie {
	return &http.Cookie{
		Name: d.cookieName(), Value: value, Path: "/", MaxAge: age, HttpOnly: true, Secure: d.secure,
		SameSite: http.SameSiteStrictMode,
	}
}

// Leave ends the session of this browser, if it has one.
func (d *Door) Leave(v *page.Visit) error {
	if v.Person == nil {
		return nil
	}
	d.sessions.forget(v.Person.Session)
	v.SetCookie(d.sessionCookie("", -1))
	return d.store.Accounts.EndSession(v.Ctx(), v.Person.Session, "")
}
