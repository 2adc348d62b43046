package web

import (
	"crypto/sha256"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/results"
	"padjig/results/accounts"
)

const ourHost = "127.0.0.1:8317"

// door is a site without lanes, and a session of each role by its token.
func door(t *testing.T) (http.Handler, *Site) {
	t.Helper()
	store, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "r.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, store.Close()) })
	for _, role := range account.Roles {
		signUp(t, store, role)
	}
	site, err := New(Config{Store: store, Hosts: []string{ourHost, "Line2.plant.example:8317"}, LockAfter: time.Hour})
	require.NoError(t, err)
	return site.Handler(), site
}

// signUp gives a role somebody of its name, who is signed in by password.
func signUp(t testing.TB, store *results.Store, role account.Role) {
	t.Helper()
	require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{
		Name: string(role), Kind: accounts.AccountRole, Role: string(role), By: "test",
	}))
	require.NoError(t, store.Accounts.StartSession(t.Context(), sha256.Sum256([]byte("token of "+role)), string(role), "password"))
}

type asking struct {
	method, path, host, role string
	from                     string // address and port of the connection; empty: one of RFC 5737
	header                   map[string]string
	form                     url.Values
}

func fetch(t *testing.T, h http.Handler, a asking) *httptest.ResponseRecorder {
	t.Helper()
	if a.method == "" {
		a.method = http.MethodGet
	}
	if a.host == "" {
		a.host = ourHost
	}
	r := httptest.NewRequest(a.method, "http://"+ourHost+a.path, strings.NewReader(a.form.Encode()))
	r.Host = a.host
	if a.from != "" {
		r.RemoteAddr = a.from
	}
	if a.form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for k, v := range a.header {
		r.Header.Set(k, v)
	}
	if a.role != "" {
		r.AddCookie(&http.Cookie{Name: "padjig", Value: "token of " + a.role})
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// Hosts, other sites' pages, sessions and roles are looked at in this order.
func TestGuards(t *testing.T) {
	foreign := map[string]string{"Sec-Fetch-Site": "cross-site"}
	token := url.Values{"token": {formToken("token of engineer")}}
	for name, c := range map[string]struct {
		ask    asking
		status int
	}{
		"our name":                    {asking{path: "/door"}, 200},
		"another of our names":        {asking{path: "/door", host: "line2.PLANT.example.:8317"}, 200},
		"a name that ends like ours":  {asking{path: "/door", host: "evil.127.0.0.1:8317"}, 421},
		"a name that begins like it":  {asking{path: "/door", host: "127.0.0.1.evil.example:8317"}, 421},
		"another port":                {asking{path: "/door", host: "127.0.0.1:9"}, 421},
		"no port":                     {asking{path: "/door", host: "127.0.0.1"}, 421},
		"static under another name":   {asking{path: "/static/station.css", host: "evil.example"}, 421},
		"another site's form":         {asking{method: "POST", path: "/leave", role: "engineer", header: foreign, form: token}, 403},
		"another origin":              {asking{method: "POST", path: "/leave", role: "engineer", header: map[string]string{"Origin": "http://127.0.0.1:9"}, form: token}, 403},
		"a page nobody logged in":     {asking{path: "/jigs"}, 303},
		"a page a role may not see":   {asking{path: "/jigs", role: "operator"}, 403},
		"a page it may":               {asking{path: "/jigs", role: "engineer"}, 200},
		"a session that is none":      {asking{path: "/jigs", role: "nobody"}, 303},
		"a form without its token":    {asking{method: "POST", path: "/leave", role: "engineer", form: url.Values{}}, 403},
		"a form with another's token": {asking{method: "POST", path: "/leave", role: "engineer", form: url.Values{"token": {formToken("token of operator")}}}, 403},
		"a form with its token":       {asking{method: "POST", path: "/leave", role: "engineer", form: token}, 303},
		"nothing there":               {asking{path: "/x/y", role: "engineer"}, 404},
		"a get of an action":          {asking{path: "/leave", role: "engineer"}, 404},
	} {
		t.Run(name, func(t *testing.T) {
			h, _ := door(t)
			w := fetch(t, h, c.ask)
			assert.Equal(t, c.status, w.Code, w.Body.String())
			assert.Equal(t, policy, w.Header().Get("Content-Security-Policy"))
			assert.Equal(t, "nosniff", w.Header().Get("X-Content-Type-Options"))
		})
	}
}

// No page may load or run what is not ours, and none needs to.
func TestPolicyHasNoHoles(t *testing.T) {
	assert.NotContains(t, policy, "unsafe")
	assert.NotContains(t, policy, "*")
	assert.NotContains(t, policy, "http")
	for name, text := range templates(t) {
		assert.NotContains(t, text, " style=", name)
		assert.NotContains(t, text, "<style", name)
		assert.NotRegexp(t, `<script[^>]*>[^<]`, text, name)
		assert.NotRegexp(t, ` on[a-z]+="`, text, name)
	}
}

// A session that was left alone, or is a shift old, is over.
func TestSessionsEnd(t *testing.T) {
	var s sessions
	now := time.Now()
	assert.False(t, s.touch(1, now, time.Hour))
	assert.False(t, s.touch(1, now.Add(59*time.Minute), time.Hour))
	assert.True(t, s.touch(1, now.Add(120*time.Minute), time.Hour))
	assert.False(t, s.touch(2, now.Add(900*time.Hour), 0))

	h, site := door(t)
	assert.Equal(t, 200, fetch(t, h, asking{path: "/products", role: "engineer"}).Code)
	site.LockAfter = time.Nanosecond
	assert.Equal(t, 303, fetch(t, h, asking{path: "/products", role: "engineer"}).Code)
	site.LockAfter = time.Hour
	assert.Equal(t, 303, fetch(t, h, asking{path: "/products", role: "engineer"}).Code, "over for good")
}

// Over TLS the cookie is one that no page without it can set or see, and browsers
// are told to stay with it.
func TestSecureStation(t *testing.T) {
	_, site := door(t)
	badge := account.NewBadge()
	require.NoError(t, site.Store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{
		Name: "engineer", Kind: accounts.AccountBadge, Secret: account.HashBadge(badge), By: "test",
	}))
	c := site.Config
	c.Secure = true
	secure, err := New(c)
	require.NoError(t, err)
	h := secure.Handler()
	w := fetch(t, h, byBadge(atStation, badge))
	assert.NotEmpty(t, w.Header().Get("Strict-Transport-Security"))
	require.Len(t, w.Result().Cookies(), 1)
	cookie := w.Result().Cookies()[0]
	assert.Equal(t, "__Host-padjig", cookie.Name)
	assert.True(t, cookie.Secure && cookie.HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, cookie.SameSite)
	w = fetch(t, h, asking{path: "/jigs", header: map[string]string{"Cookie": "__Host-padjig=" + cookie.Value}})
	assert.Equal(t, 200, w.Code)
	w = fetch(t, h, asking{path: "/jigs", header: map[string]string{"Cookie": "padjig=" + cookie.Value}})
	assert.Equal(t, 303, w.Code, "the name that anybody may set")
}

// A language that was chosen stays, one that is none is the usual one.
func TestLanguageIsKept(t *testing.T) {
	h, _ := door(t)
	for given, want := range map[string]string{"de": "de", "en": "en", "xx": "en", "": "en"} {
		w := fetch(t, h, asking{method: http.MethodPost, path: "/language", form: url.Values{"language": {given}, "next": {"/codes"}}})
		assert.Equal(t, "/codes", w.Header().Get("Location"))
		require.Len(t, w.Result().Cookies(), 1)
		assert.Equal(t, want, w.Result().Cookies()[0].Value)
		w = fetch(t, h, asking{path: "/door", header: map[string]string{"Cookie": "language=" + given, "Accept-Language": "de"}})
		assert.Contains(t, w.Body.String(), `lang="`+want+`"`)
	}
}

// Addresses to go to afterwards stay on this site.
func TestHere(t *testing.T) {
	for given, want := range map[string]string{
		"/lane/1": "/lane/1", "/a?b=c": "/a?b=c", "": "/", "https://evil.example/x": "/x", "//evil.example": "/", `/\evil.example`: "/", "javascript:alert(1)": "/",
	} {
		assert.Equal(t, want, here(given), given)
	}
	assert.Equal(t, "/lane/2", afterDoor("/door?next=%2Flane%2F2"))
	assert.Equal(t, "/", afterDoor("/door"))
}

// Every embedded file is served, with its kind, and may be kept.
func TestEveryStaticFile(t *testing.T) {
	h, site := door(t)
	served := 0
	err := fs.WalkDir(staticFiles, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		served++
		path := strings.TrimPrefix(name, "static/")
		w := fetch(t, h, asking{path: site.statics.address(path)})
		assert.Equal(t, 200, w.Code, name)
		assert.Contains(t, w.Header().Get("Cache-Control"), "immutable", name)
		assert.NotEmpty(t, w.Body.String(), name)
		again := fetch(t, h, asking{path: "/static/" + path, header: map[string]string{"If-None-Match": w.Header().Get("ETag")}})
		assert.Equal(t, 304, again.Code, name)
		return nil
	})
	require.NoError(t, err)
	assert.Greater(t, served, 5)
	w := fetch(t, h, asking{path: "/static/none.css"})
	assert.Equal(t, 404, w.Code)
	assert.Equal(t, "no-store", w.Header().Get("Cache-Control"), "that it is missing is not kept")
}

// The same view comes as HTML and as JSON.
func TestViewsAsJSON(t *testing.T) {
	h, _ := door(t)
	w := fetch(t, h, asking{path: "/jigs", role: "engineer", header: map[string]string{"Accept": "application/json"}})
	assert.Equal(t, "application/json", w.Header().Get("Content-Type"))
	assert.JSONEq(t, `{"jigs": []}`, w.Body.String())
	w = fetch(t, h, asking{path: "/jigs", header: map[string]string{"Accept": "application/json"}})
	assert.Equal(t, 401, w.Code)
}
