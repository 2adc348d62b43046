package webtest

import (
	"crypto/sha256"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web"
	"padjig/results"
	"padjig/results/accounts"
)

// OurHost is what the station is called by.
const OurHost = "127.0.0.1:8317"

// ProductFile is the file of the product that is tested.
func ProductFile(t testing.TB) string {
	t.Helper()
	up := "."
	for i := 0; i < 10; i++ {
		if _, err := os.Stat(filepath.Join(up, "go.mod")); err == nil {
			return filepath.Join(up, "testdata/products/gcc-20.yaml")
		}
		up = filepath.Join("..", up)
	}
	t.Fatal("no go.mod above the test")
	return ""
}

// Door is a site without lanes, and a session of each role by its token.
func Door(t *testing.T) (http.Handler, *web.Site, *results.Store) {
	t.Helper()
	store, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "r.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, store.Close()) })
	for _, role := range account.Roles {
		SignUp(t, store, role)
	}
	site, err := web.New(web.Config{Store: store, Hosts: []string{OurHost, "Line2.plant.example:8317"}, LockAfter: time.Hour})
	require.NoError(t, err)
	return site.Handler(), site, store
}

// SignUp gives a role somebody of its name, who is signed in by password.
func SignUp(t testing.TB, store *results.Store, role account.Role) {
	t.Helper()
	require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{
		Name: string(role), Kind: accounts.AccountRole, Role: string(role), By: "test",
	}))
	require.NoError(t, store.Accounts.StartSession(t.Context(), sha256.Sum256([]byte("token of "+role)), string(role), "password"))
}

// Ask is one request.
type Ask struct {
	Method, Path, Host, Role string
	From                     string // address and port of the connection; empty: one of RFC 5737
	Header                   map[string]string
	Form                     url.Values
}

// Fetch makes it.
func Fetch(t *testing.T, h http.Handler, a Ask) *httptest.ResponseRecorder {
	t.Helper()
	if a.Method == "" {
		a.Method = http.MethodGet
	}
	if a.Host == "" {
		a.Host = OurHost
	}
	r := httptest.NewRequest(a.Method, "http://"+OurHost+a.Path, strings.NewReader(a.Form.Encode()))
	r.Host = a.Host
	if a.From != "" {
		r.RemoteAddr = a.From
	}
	if a.Form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for k, v := range a.Header {
		r.Header.Set(k, v)
	}
	if a.Role != "" {
		r.AddCookie(&http.Cookie{Name: "padjig", Value: "token of " + a.Role})
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if strings.Contains(w.Body.String(), "0001-01-01") {
		t.Errorf("%s %s tells a time that was never set", a.Method, a.Path)
	}
	return w
}

// SendBody sends a body to a route as the engineer.
func SendBody(h http.Handler, method, path, kind string, body io.Reader, known int64) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://"+OurHost+path, body)
	r.Host, r.ContentLength = OurHost, known
	r.Header.Set("Content-Type", kind)
	r.AddCookie(&http.Cookie{Name: "padjig", Value: "token of engineer"})
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}
