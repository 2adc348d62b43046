package main

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web"
	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/tokens"
)

// What a program gets over the network is what --json prints of the same records, byte for byte.
func TestAPISaysWhatTheCommandLineSays(t *testing.T) {
	entries := []results.Entry{{At: answerstest.Begin.Add(-time.Hour), Shifts: &answerstest.Shifts}}
	for i := range 20 {
		run := answerstest.Run(answerstest.Vents, answerstest.Serial(i), answerstest.Begin.Add(time.Duration(i)*4*time.Minute), 70, 71)
		if i%6 == 5 {
			run = answerstest.Failed(run, "key open", 0)
		}
		entries = append(entries, answerstest.Of(answerstest.Vents, run))
	}
	store := answerstest.Store(t, entries...)
	text, hash := account.NewToken()
	require.NoError(t, store.Tokens.Add(t.Context(), hash, tokens.Token{
		Name: "MES", Scopes: tokens.Scopes, Until: time.Now().Add(time.Hour), By: "test",
	}))
	site, err := web.New(web.Config{Store: store, Hosts: []string{parityHost}})
	require.NoError(t, err)
	ask := func(path string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodGet, "http://"+parityHost+path, nil)
		r.Header.Set("Authorization", "Bearer "+text)
		w := httptest.NewRecorder()
		site.Handler().ServeHTTP(w, r)
		return w
	}
	for path, args := range map[string]string{
		"yields":                             "quality yield",
		"yields?simulated=1&by=jig&span=all": "quality yield --simulated --by jig --span all",
		"yields?by=jig&by=hour&zone=UTC":     "quality yield --by jig,hour --zone UTC",
		"yields?from=2026-03-02&to=2026-03-02&interval=exact&confidence=0.9":  "quality yield --from 2026-03-02 --to 2026-03-02 --interval exact --confidence 0.9",
		"yields?target=0.98&last=10&least=0.9&same=2&product=VC-4&revision=C": "quality yield --target 0.98 --last 10 --least 0.9 --same 2 --product VC-4 --revision C",
		"units/" + answerstest.Serial(5):                                      "unit " + answerstest.Serial(5),
		"jigs":                                                                "jig due",
	} {
		printed := runHere(t, append(strings.Fields(args), "--json", "--store", store.Path())...)
		require.Zero(t, printed.status, printed.stderr)
		got := ask("/api/v1/" + path)
		require.Equal(t, 200, got.Code, "%s: %s", path, got.Body)
		assert.Equal(t, printed.stdout, got.Body.String(), path)
	}
	for path, args := range map[string]string{ // what the one refuses, the other does
		"yields?by=colour": "quality yield --by colour", "yields?span=week": "quality yield --span week", "yields?zone=Mars": "quality yield --zone Mars",
		"yields?confidence=1": "quality yield --confidence 1", "yields?least=2": "quality yield --least 2", "yields?from=2026-05-01": "quality yield --from 2026-05-01",
		"units/nobody": "unit nobody",
	} {
		printed := runHere(t, append(strings.Fields(args), "--json", "--store", store.Path())...)
		assert.Equal(t, 2, printed.status, printed.stderr)
		got := ask("/api/v1/" + path)
		assert.True(t, got.Code >= 400 && got.Code < 500, "%s: %d %s", path, got.Code, got.Body)
		assert.Contains(t, got.Body.String(), `"remedy"`, path)
	}
}
