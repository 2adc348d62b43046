package web_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/api"
	"padjig/cmd/padjig/web/bearer"
	"padjig/cmd/padjig/web/metrics"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/releases/releasestest"
	"padjig/results/store"
	"padjig/results/tokens"
	"padjig/sequence"
)

// programs are those who read from a station whose line made some runs.
type programs struct {
	*testing.T
	store   *results.Store
	site    *web.Site
	handler http.Handler
	mu      sync.Mutex
	told    []string // by the log, of tokens
	tokens  map[string]string
	moves   bool // each request comes from another address
	asked   int
}

// Write takes a line of the log.
func (p *programs) Write(line []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if bytes.Contains(line, []byte(log.TokenRefused)) {
		p.told = append(p.told, strings.TrimSuffix(string(line), "\n"))
	}
	return len(line), nil
}

func programsAt(t *testing.T) *programs {
	t.Helper()
	entries := []results.Entry{{At: answerstest.Begin.Add(-time.Hour), Shifts: &answerstest.Shifts}}
	for i := range 25 {
		run := answerstest.Run(answerstest.Vents, answerstest.Serial(i), answerstest.Begin.Add(time.Duration(i)*4*time.Minute), 70, 71)
		if i%5 == 3 {
			run = answerstest.Failed(run, "key open", 0)
		}
		entries = append(entries, answerstest.Of(answerstest.Vents, run))
	}
	p := &programs{T: t, store: answerstest.Store(t, entries...), tokens: map[string]string{}}
	require.NoError(t, os.WriteFile(p.store.Path()+"-ballast", nil, 0o644)) // it takes a while to set aside
	for name, scopes := range map[string][]tokens.Scope{"all": tokens.Scopes, "units": {tokens.Units}, "metrics": {tokens.Metrics}} {
		p.tokens[name] = p.token(name, time.Now().Add(time.Hour), scopes...)
	}
	webtest.SignUp(t, p.store, account.Engineer)
	p.serve(web.Config{})
	return p
}

func (p *programs) serve(c web.Config) {
	p.Helper()
	c.Store, c.Hosts, c.LockAfter = p.store, []string{webtest.OurHost}, time.Hour
	var err error
	p.site, err = web.New(c)
	require.NoError(p, err)
	site, logger := p.site.Handler(), slog.New(slog.NewJSONHandler(p, nil))
	p.handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		site.ServeHTTP(w, r.WithContext(log.Into(r.Context(), logger)))
	})
}

func (p *programs) token(name string, until time.Time, scopes ...tokens.Scope) string {
	p.Helper()
	text, hash := account.NewToken()
	require.NoError(p, p.store.Tokens.Add(p.Context(), hash, tokens.Token{Name: name, Scopes: scopes, Until: until, By: "test"}))
	return text
}

// ask asks with a token; headers are pairs.
func (p *programs) ask(token, path string, header ...string) *httptest.ResponseRecorder {
	p.Helper()
	a := webtest.Ask{Path: path, Header: map[string]string{}}
	if p.moves {
		p.asked++
		a.From = fmt.Sprintf("192.0.2.%d:4000", p.asked)
	}
	if token != "" {
		a.Header["Authorization"] = "Bearer " + token
	}
	for i := 0; i < len(header); i += 2 {
		a.Header[header[i]] = header[i+1]
	}
	return webtest.Fetch(p.T, p.handler, a)
}

// problem sees that an answer is one, and gives its code.
func (p *programs) problem(w *httptest.ResponseRecorder, status int) string {
	p.Helper()
	assert.Equal(p, status, w.Code, w.Body.String())
	assert.Equal(p, api.ProblemKind, w.Header().Get("Content-Type"))
	var said struct {
		Type, Title, Detail, Code, Remedy string
		Status                            int
	}
	require.NoError(p, json.Unmarshal(w.Body.Bytes(), &said), w.Body.String())
	assert.Equal(p, status, said.Status)
	for _, text := range []string{said.Type, said.Title, said.Detail, said.Code, said.Remedy} {
		assert.NotEmpty(p, text)
	}
	assert.NotContains(p, w.Body.String(), p.store.Path(), "no path of this computer")
	return said.Code
}

// inDocument are the schemas of the document, each to be held against an answer.
func inDocument(t *testing.T) (paths map[string]map[string]any, check func(name string, body []byte) error) {
	t.Helper()
	text, err := os.ReadFile("../../../docs/api/openapi.json")
	require.NoError(t, err)
	var d struct {
		Paths      map[string]map[string]any
		Components struct {
			Schemas map[string]json.RawMessage
		}
	}
	require.NoError(t, json.Unmarshal(text, &d))
	return d.Paths, func(name string, body []byte) error {
		var s jsonschema.Schema
		require.NoError(t, json.Unmarshal(d.Components.Schemas[name], &s), name)
		resolved, err := s.Resolve(nil)
		require.NoError(t, err)
		var o any
		require.NoError(t, json.Unmarshal(body, &o))
		return resolved.Validate(o)
	}
}

// Every route of the document is answered, and what it answers is what its schema says; there is
// no route of programs that the document has not.
func TestEveryAnswerIsAsDocumented(t *testing.T) {
	p := programsAt(t)
	file, err := os.ReadFile(webtest.ProductFile(t))
	require.NoError(t, err)
	require.NoError(t, releasestest.Release(t.Context(), p.store, string(file)))
	paths, check := inDocument(t)
	first := answerstest.Serial(0)
	life, err := p.store.Runs.Unit(t.Context(), first)
	require.NoError(t, err)
	asked := map[string]string{
		"/api/v1/units/{serial}": "/api/v1/units/" + first,
		"/api/v1/runs/{run}":     "/api/v1/runs/" + life[0].ID.String(),
		"/api/v1/yields":         "/api/v1/yields?simulated=1&by=jig&span=all&zone=UTC",
		"/api/v1/runs":           "/api/v1/runs?limit=3&verdict=fail",
	}
	all := api.Routes(api.Config{})
	assert.Len(t, paths, len(all))
	for _, r := range all {
		require.Contains(t, paths, r.Path)
		path := asked[r.Path]
		if path == "" {
			path = r.Path
		}
		for method, want := range map[string]int{"GET": 200, "HEAD": 200, "POST": 405, "PUT": 405, "DELETE": 405, "PATCH": 405, "OPTIONS": 405} {
			w := webtest.Fetch(t, p.handler, webtest.Ask{Method: method, Path: path, Header: map[string]string{"Authorization": "Bearer " + p.tokens["all"]}})
			require.Equal(t, want, w.Code, "%s %s %s", method, path, w.Body)
			assert.Empty(t, w.Header().Get("Access-Control-Allow-Origin"))
			if want == 405 {
				assert.Equal(t, "GET, HEAD", w.Header().Get("Allow"))
				assert.Equal(t, "read only", p.problem(w, 405))
			}
			if method == "GET" && r.Schema != "" {
				assert.NoError(t, check(r.Schema, w.Body.Bytes()), r.Path)
				assert.Error(t, check(r.Schema, []byte(`{"schema": 7}`)), "%s takes anything", r.Schema)
			}
		}
		if r.Scope != "" {
			w := p.ask("", path)
			p.problem(w, 401)
			assert.NoError(t, check("problem", w.Body.Bytes()))
		}
	}
	routed, err := http.NewRequest(http.MethodGet, "http://"+webtest.OurHost+"/api/v1/secrets", nil)
	require.NoError(t, err)
	assert.Equal(t, "/api/", p.site.Handled(routed))
	assert.Equal(t, "no such address", p.problem(p.ask(p.tokens["all"], "/api/v1/secrets"), 404))
}

// Every way in but by a token that opens what is asked for, in its header.
func TestOnlyTokensOpen(t *testing.T) {
	p := programsAt(t)
	p.moves = true
	revoked := p.token("revoked", time.Now().Add(time.Hour), tokens.Scopes...)
	require.NoError(t, p.store.Tokens.Revoke(t.Context(), "revoked", "test"))
	expired := p.token("expired", time.Now().Add(-time.Second), tokens.Scopes...)
	other, _ := account.NewToken() // of another store
	good, path := p.tokens["units"], "/api/v1/runs"
	for name, c := range map[string]struct {
		token, path string
		header      []string
		status      int
		code        string
	}{
		"the token":            {good, path, nil, 200, ""},
		"another word's case":  {"", path, []string{"Authorization", "bearer " + good}, 200, ""},
		"nothing":              {"", path, nil, 401, "token missing"},
		"of another store":     {other, path, nil, 401, "token unknown"},
		"revoked":              {revoked, path, nil, 401, "token revoked"},
		"expired":              {expired, path, nil, 401, "token expired"},
		"another scope":        {p.tokens["metrics"], path, nil, 403, "token scope"},
		"yields by units":      {good, "/api/v1/yields", nil, 403, "token scope"},
		"cut":                  {good[:len(good)-1], path, nil, 401, "token malformed"},
		"with a blank":         {good + " ", path, nil, 401, "token malformed"},
		"as a password":        {"", path, []string{"Authorization", "Basic " + good}, 401, "token malformed"},
		"in the address":       {"", path + "?access_token=" + good, nil, 401, "token missing"},
		"there and in address": {good, path + "?access_token=" + good, nil, 400, "token in address"},
		"as a cookie":          {"", path, []string{"Cookie", "padjig=" + good + "; token=" + good}, 401, "token missing"},
		"a session's cookie":   {"", path, []string{"Cookie", "padjig=token of engineer"}, 401, "token missing"},
		"another method said":  {good, path, []string{"X-HTTP-Method-Override", "DELETE", "X-Method-Override", "POST"}, 200, ""},
		"from another site":    {"", path, []string{"Origin", "https://elsewhere.example", "Sec-Fetch-Site", "cross-site"}, 401, "token missing"},
		"SQL":                  {good, path + "?product=" + url.QueryEscape("VC-4' OR '1'='1"), nil, 200, ""},
		"SQL for a verdict":    {good, path + "?verdict=" + url.QueryEscape("pass'--"), nil, 400, "wrong request"},
		"a huge limit":         {good, path + "?limit=1001", nil, 400, "wrong request"},
		"a limit beyond words": {good, path + "?limit=99999999999999999999", nil, 400, "wrong request"},
		"no limit":             {good, path + "?limit=0", nil, 400, "wrong request"},
		"twice":                {good, path + "?limit=1&limit=2", nil, 400, "wrong request"},
		"a misspelt filter":    {good, path + "?produkt=VC-4", nil, 400, "wrong request"},
		"what is no address":   {good, path + "?product=%zz", nil, 400, "wrong request"},
		"a thousand filters":   {good, path + "?" + strings.Repeat("product=x&", 1001), nil, 400, "wrong request"},
		"no cursor":            {good, path + "?after=zzz", nil, 400, "wrong request"},
		"an empty cursor":      {good, path + "?after=", nil, 400, "wrong request"},
		"another's cursor":     {good, path + "?after=01890000-0000-7000-8000-000000000000", nil, 404, "no such run"},
		"no run":               {good, "/api/v1/runs/1", nil, 404, "no such run"},
		"no unit":              {good, "/api/v1/units/nobody", nil, 404, "no such unit"},
		"a path in a serial":   {good, "/api/v1/units/..%2f..%2fetc%2fpasswd", nil, 404, "no such unit"},
		"an encoded zero":      {good, "/api/v1/units/%00", nil, 404, "no such unit"},
		"a path in a path":     {good, "/api/v1/units/a/b", nil, 404, "no such address"},
		"the base":             {good, "/api/v1/", nil, 404, "no such address"},
		"a time of no clock":   {good, path + "?from=yesterday", nil, 400, "wrong request"},
		"times backwards":      {good, path + "?from=2026-03-03&to=2026-03-02", nil, 400, "wrong request"},
	} {
		w := p.ask(c.token, c.path, c.header...)
		if c.status == 200 {
			require.Equal(t, 200, w.Code, "%s: %s", name, w.Body)
		} else {
			assert.Equal(t, c.code, p.problem(w, c.status), name)
		}
		assert.Empty(t, w.Header().Get("Access-Control-Allow-Origin"), name)
		assert.Empty(t, w.Header().Values("Set-Cookie"), name)
		if w.Code == 401 {
			assert.Contains(t, w.Header().Get("WWW-Authenticate"), "Bearer", name)
		}
	}
	var sql struct{ Runs []any }
	require.NoError(t, json.Unmarshal(p.ask(good, path+"?product="+url.QueryEscape("VC-4' OR '1'='1")).Body.Bytes(), &sql))
	assert.Empty(t, sql.Runs)

	// A token opens no page and does nothing, whatever goes with it.
	assert.Equal(t, 303, p.ask(p.tokens["all"], "/products").Code)
	w := webtest.Fetch(t, p.handler, webtest.Ask{Method: http.MethodPost, Path: "/products/GCC-20", Header: map[string]string{"Authorization": "Bearer " + p.tokens["all"]}})
	assert.NotEqual(t, 200, w.Code)
	w = webtest.Fetch(t, p.handler, webtest.Ask{Method: http.MethodPost, Path: path, Role: "engineer", Form: url.Values{"a": {"b"}}})
	assert.Equal(t, "read only", p.problem(w, 405), "a session that may write does not here")
	w = webtest.Fetch(t, p.handler, webtest.Ask{Path: path, Host: "elsewhere.example", Header: map[string]string{"Authorization": "Bearer " + good}})
	assert.Equal(t, http.StatusMisdirectedRequest, w.Code)
	twice := httptest.NewRequest(http.MethodGet, "http://"+webtest.OurHost+path, nil)
	twice.Header["Authorization"] = []string{"Bearer " + good, "Bearer " + other}
	recorded := httptest.NewRecorder()
	p.handler.ServeHTTP(recorded, twice)
	assert.Equal(t, "token malformed", p.problem(recorded, 401))

	text := strings.Join(p.told, "\n")
	assert.Regexp(t, `"token":"revoked","from":"192\.0\.2\.\d+","path":"/api/v1/runs","why":"revoked"`, text)
	for _, secret := range []string{good, other, revoked, expired} {
		assert.NotContains(t, text, secret[:20], "what is told has no token in it")
	}
}

// A token that is revoked while its answer is made opens nothing any more.
func TestRevokedWhileAnswering(t *testing.T) {
	p := programsAt(t)
	text := p.token("late", time.Now().Add(time.Hour), tokens.Units)
	route := api.Route{Path: "/api/v1/slow", Scope: tokens.Units, Do: nil}
	route.Do = func(_ context.Context, _ api.Call) (api.Answer, error) {
		return api.Answer{Kind: api.JSON, Body: []byte("{}")}, p.store.Tokens.Revoke(t.Context(), "late", "Ines")
	}
	p.site.Read(route)
	assert.Equal(t, "token revoked", p.problem(p.ask(text, "/api/v1/slow"), 401))
}

// What is told of a request is one line, whatever its address.
func TestRefusalsAreOneLine(t *testing.T) {
	p := programsAt(t)
	p.problem(p.ask("", "/api/v1/units/a%0a2026-11-30T05:00:00Z%20all%20is%20well"), 401)
	require.Len(t, p.told, 1)
	assert.NotContains(t, p.told[0], "\n")
}

// Reading goes on where nothing can be written any more.
func TestReadingWithAFullDisk(t *testing.T) {
	webtest.At(t, 0, "", func(h *webtest.House) {
		h.Serve()
		text, hash := account.NewToken()
		require.NoError(h, h.Store.Tokens.Add(h.Context(), hash, tokens.Token{Name: "MES", Scopes: tokens.Scopes, Until: time.Now().Add(time.Hour), By: "test"}))
		h.Spoil(`CREATE TRIGGER full BEFORE INSERT ON token_use BEGIN SELECT RAISE(ABORT, 'the disk is full'); END`)
		w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/api/v1/runs", Header: map[string]string{"Authorization": "Bearer " + text}})
		assert.Equal(h, 200, w.Code, w.Body.String())
		assert.Contains(h, strings.Join(h.Logged(), "\n"), "the disk is full")
	})
}

// However many programs ask at once, no more than a few answers are made at a time: the computer has units to test.
func TestFewAnswersAtATime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := programsAt(t)
		var now, most atomic.Int32
		release := make(chan struct{})
		p.site.Read(api.Route{Path: "/api/v1/slow", Scope: tokens.Units, Do: func(ctx context.Context, _ api.Call) (api.Answer, error) {
			most.Store(max(most.Load(), now.Add(1)))
			defer now.Add(-1)
			<-release
			return api.Answer{Kind: api.JSON, Body: []byte("{}")}, nil
		}})
		var group sync.WaitGroup
		for range 20 {
			group.Go(func() { assert.Equal(t, 200, p.ask(p.tokens["units"], "/api/v1/slow").Code) })
		}
		synctest.Wait()
		assert.Equal(t, "ok\n", p.ask("", "/healthz").Body.String(), "nobody waits to know that it turns")
		assert.EqualValues(t, 2, now.Load())
		close(release)
		group.Wait()
		assert.EqualValues(t, 2, most.Load())
	})
}

// Pages of runs join without a gap, also while units are tested, and each is the record that was stored.
func TestPagesOfRuns(t *testing.T) {
	p := programsAt(t)
	var seen []string
	for after := ""; ; {
		path := "/api/v1/runs?limit=7"
		if after != "" {
			path += "&after=" + after
		}
		var page object.Runs
		w := p.ask(p.tokens["units"], path)
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &page))
		for _, r := range page.Runs {
			seen = append(seen, r.Serial)
		}
		if after = page.Next; after == "" {
			break
		}
	}
	require.Len(t, seen, 25)
	for i, serial := range seen {
		assert.Equal(t, answerstest.Serial(i), serial)
	}
	count := func(query string) int {
		var page object.Runs
		require.NoError(t, json.Unmarshal(p.ask(p.tokens["units"], "/api/v1/runs?"+query).Body.Bytes(), &page))
		return len(page.Runs)
	}
	assert.Equal(t, 5, count("verdict=fail"))
	assert.Equal(t, 20, count("verdict=pass&product=VC-4"))
	assert.Zero(t, count("jig=J-9"))
	assert.Equal(t, 15, count("from=2026-03-02T06:00&to=2026-03-02T07:00"), "the plant's clock is an hour before UTC")
	assert.Equal(t, 25, count("from=2026-03-02&to=2026-03-02"))

	life, err := p.store.Runs.Unit(t.Context(), seen[3])
	require.NoError(t, err)
	var run object.Run
	require.NoError(t, json.Unmarshal(p.ask(p.tokens["units"], "/api/v1/runs/"+life[0].ID.String()).Body.Bytes(), &run))
	assert.Equal(t, sequence.Fail, run.Outcome)
	hash, err := p.store.Listing.Hash(t.Context(), life[0].Seq)
	require.NoError(t, err)
	assert.Equal(t, hash, run.RecordHash)
	assert.Len(t, hash, 64)
}

// What a program has already is not sent again, and what is large is sent small.
func TestAnswersOnTheLine(t *testing.T) {
	p := programsAt(t)
	first := p.ask(p.tokens["units"], "/api/v1/runs")
	tag := first.Header().Get("ETag")
	require.NotEmpty(t, tag)
	again := p.ask(p.tokens["units"], "/api/v1/runs", "If-None-Match", `"other", `+tag)
	assert.Equal(t, http.StatusNotModified, again.Code)
	assert.Empty(t, again.Body.String())
	p.problem(p.ask("", "/api/v1/runs", "If-None-Match", tag), 401) // whoever has the tag has not the token
	small := p.ask(p.tokens["units"], "/api/v1/runs", "Accept-Encoding", "br, gzip;q=0.5")
	assert.Equal(t, "gzip", small.Header().Get("Content-Encoding"))
	assert.Less(t, small.Body.Len(), first.Body.Len()/3)
	zipped, err := gzip.NewReader(small.Body)
	require.NoError(t, err)
	text, err := io.ReadAll(zipped)
	require.NoError(t, err)
	assert.Equal(t, first.Body.String(), string(text))
	assert.Empty(t, p.ask(p.tokens["units"], "/api/v1/runs", "Accept-Encoding", "gzip;q=0").Header().Get("Content-Encoding"))
	assert.Contains(t, first.Header().Get("Cache-Control"), "private")
}

// A token that asks too often waits, and texts that are none from one address are soon not looked at;
// neither keeps a good token out.
func TestHowOftenIsEnough(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := programsAt(t)
		for range bearer.Burst {
			require.Equal(t, 200, p.ask(p.tokens["units"], "/api/v1/runs?limit=1").Code)
		}
		w := p.ask(p.tokens["units"], "/api/v1/runs?limit=1")
		assert.Equal(t, "token too often", p.problem(w, 429))
		assert.Equal(t, "1", w.Header().Get("Retry-After"))
		assert.Equal(t, 200, p.ask(p.tokens["all"], "/api/v1/runs?limit=1").Code, "another token")
		time.Sleep(time.Second)
		assert.Equal(t, 200, p.ask(p.tokens["units"], "/api/v1/runs?limit=1").Code)
		p.told = nil
		got := map[int]int{}
		for range 50 {
			wrong, _ := account.NewToken()
			got[p.ask(wrong, "/api/v1/runs").Code]++
		}
		assert.Equal(t, map[int]int{401: bearer.Tries, 429: 50 - bearer.Tries}, got)
		assert.Len(t, p.told, bearer.Tries, "a row is not told of without end")
		assert.Equal(t, 200, p.ask(p.tokens["all"], "/api/v1/runs?limit=1").Code, "tries keep nobody out")
	})
}

// Anybody may ask whether the station turns and is ready, and learns nothing else by it.
func TestHealthAndReadiness(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		ask := func(path string) *httptest.ResponseRecorder {
			return webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: path})
		}
		assert.Equal(h, "ok\n", ask("/healthz").Body.String())
		w := ask("/readyz")
		require.Equal(h, 200, w.Code)
		var r api.Ready
		h.Decode(w, &r)
		assert.Equal(h, api.Ready{Schema: "readiness-1", Ready: true, Records: "writable", Pages: "up", Lanes: []api.LaneReady{{Lane: 1, Jig: "there"}, {Lane: 2, Jig: "there"}}}, r)
		h.Ports.Unplug("sim/SIM-0001")
		h.Until(1, func(s station.State) bool { return !s.Jig.Present })
		w = ask("/readyz")
		require.Equal(h, 200, w.Code, "one jig that is absent stops one lane")
		h.Decode(w, &r)
		assert.Equal(h, "absent", r.Lanes[0].Jig)
		assert.NotContains(h, w.Body.String(), "SIM-")
		require.NoError(h, os.Rename(h.Store.Path(), h.Store.Path()+".away"))
		defer func() { require.NoError(h, os.Rename(h.Store.Path()+".away", h.Store.Path())) }()
		time.Sleep(3 * time.Second)
		w = ask("/readyz")
		assert.Equal(h, http.StatusServiceUnavailable, w.Code, w.Body.String())
		assert.NotContains(h, w.Body.String(), h.Store.Path())
		assert.Equal(h, 200, ask("/healthz").Code)
	})
}

// The metrics are OpenMetrics by the parser of its authors, hold what happened, and name neither a unit
// nor a jig nor a person.
func TestMetrics(t *testing.T) {
	p := programsAt(t)
	p.problem(p.ask("", "/metrics"), 401)
	p.problem(p.ask(p.tokens["units"], "/metrics"), 403)
	w := p.ask(p.tokens["metrics"], "/metrics", "Accept", "application/openmetrics-text; version=1.0.0,text/plain;q=0.5")
	require.Equal(t, 200, w.Code)
	assert.Equal(t, "application/openmetrics-text; version=1.0.0; charset=utf-8", w.Header().Get("Content-Type"))
	text := w.Body.String()
	for _, line := range []string{
		`padjig_runs_total{product="VC-4",verdict="pass",simulated="true"} 20.0`, `padjig_runs_total{product="VC-4",verdict="fail",simulated="true"} 5.0`,
		`padjig_cycle_seconds_count 25`, `padjig_tokens_refused_total{why="missing"} 1.0`, `padjig_requests_total{class="4xx"} 2.0`,
		`padjig_sign_ins_total{outcome="wrong"} 0.0`,
	} {
		assert.Contains(t, text, line+"\n")
	}
	read := parsedBy(t, "prometheus_client.openmetrics.parser", text)
	for _, f := range read {
		for _, name := range f.Labels {
			assert.Contains(t, []string{"product", "verdict", "simulated", "lane", "padjig_lane_state", "class", "outcome", "why", "version", "le"}, name)
		}
	}
	for _, no := range []string{"26-0000", "J-1", "J-2", "Ann", "engineer", p.store.Path()} {
		assert.NotContains(t, text, no)
	}
	plain := p.ask(p.tokens["metrics"], "/metrics")
	assert.Equal(t, "text/plain; version=0.0.4; charset=utf-8", plain.Header().Get("Content-Type"))
	assert.NotEmpty(t, parsedBy(t, "prometheus_client.parser", plain.Body.String()))

	// The next look counts only what is new, and where it was said so nobody needs a token.
	_, err := p.store.Runs.Save(t.Context(), answerstest.Vents, answerstest.Run(answerstest.Vents, answerstest.Serial(99), time.Now(), 70, 71))
	require.NoError(t, err)
	again := p.ask(p.tokens["metrics"], "/metrics").Body.String()
	assert.Contains(t, again, "padjig_cycle_seconds_count 26\n")
	p.serve(web.Config{MetricsOpen: true, Metrics: []metrics.Source{func(context.Context) ([]metrics.Family, error) {
		return []metrics.Family{{Name: "padjig_test_things", Kind: metrics.Gauge, Help: "a \"test\" \\ of\nwords", Labels: []string{"of"},
			Points: []metrics.Point{{Labels: []string{"a \"b\" \\ \n\xff"}, Value: 0.5}}}}, nil
	}}})
	odd := p.ask("", "/metrics", "Accept", "application/openmetrics-text").Body.String()
	assert.Contains(t, odd, `padjig_test_things{of="a \"b\" \\ \n�"} 0.5`)
	parsedBy(t, "prometheus_client.openmetrics.parser", odd)
	assert.Equal(t, 200, p.ask("", "/metrics").Code)
	page, err := os.ReadFile("../../../docs/api.md")
	require.NoError(t, err)
	for _, f := range read {
		assert.Contains(t, string(page), "`"+f.Name+"`", "docs/api.md lists every family")
	}
}

type parsedFamily struct {
	Name   string
	Labels []string
}

// parsedBy reads metrics by a parser of prometheus_client (Debian: python3-prometheus-client), which OpenMetrics
// calls its reference.
func parsedBy(t *testing.T, module, text string) (families []parsedFamily) {
	t.Helper()
	c := exec.CommandContext(t.Context(), "/usr/bin/python3", "-c", `
import json, sys
from `+module+` import text_string_to_metric_families as read
print(json.dumps([{"Name": f.name, "Labels": sorted({l for s in f.samples for l in s.labels})} for f in read(sys.stdin.read())]))`)
	c.Stdin = strings.NewReader(text)
	var said bytes.Buffer
	c.Stderr = &said
	out, err := c.Output()
	require.NoError(t, err, said.String())
	require.NoError(t, json.Unmarshal(out, &families))
	return families
}

// What a list of runs cannot say is refused where it is asked for, and [store.ErrNotFound] never passes for no runs.
func TestCursorOfAnotherStore(t *testing.T) {
	p, q := programsAt(t), programsAt(t)
	id, err := q.store.Runs.Save(t.Context(), answerstest.Vents, answerstest.Run(answerstest.Vents, answerstest.Serial(99), time.Now(), 70, 71))
	require.NoError(t, err)
	_, err = p.store.Runs.Run(t.Context(), id)
	require.ErrorIs(t, err, store.ErrNotFound)
	assert.Equal(t, "no such run", p.problem(p.ask(p.tokens["units"], fmt.Sprintf("/api/v1/runs?after=%s", id)), 404))
	assert.Equal(t, "token unknown", p.problem(p.ask(q.tokens["units"], "/api/v1/runs"), 401))
}
