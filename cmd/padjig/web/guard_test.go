package web_test

import (
	"compress/gzip"
	"io"
	"io/fs"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/webtest"
)

// Hosts, other sites' pages, sessions and roles are looked at in this order.
func TestGuards(t *testing.T) {
	foreign := map[string]string{"Sec-Fetch-Site": "cross-site"}
	token := url.Values{"token": {door.FormToken("token of engineer")}}
	for name, c := range map[string]struct {
		ask    webtest.Ask
		status int
	}{
		"our name":                    {webtest.Ask{Path: "/door"}, 200},
		"another of our names":        {webtest.Ask{Path: "/door", Host: "line2.PLANT.example.:8317"}, 200},
		"a name that ends like ours":  {webtest.Ask{Path: "/door", Host: "evil.127.0.0.1:8317"}, 421},
		"a name that begins like it":  {webtest.Ask{Path: "/door", Host: "127.0.0.1.evil.example:8317"}, 421},
		"another port":                {webtest.Ask{Path: "/door", Host: "127.0.0.1:9"}, 421},
		"no port":                     {webtest.Ask{Path: "/door", Host: "127.0.0.1"}, 421},
		"static under another name":   {webtest.Ask{Path: "/static/station.css", Host: "evil.example"}, 421},
		"another site's form":         {webtest.Ask{Method: "POST", Path: "/leave", Role: "engineer", Header: foreign, Form: token}, 403},
		"another origin":              {webtest.Ask{Method: "POST", Path: "/leave", Role: "engineer", Header: map[string]string{"Origin": "http://127.0.0.1:9"}, Form: token}, 403},
		"a page nobody logged in":     {webtest.Ask{Path: "/jigs"}, 303},
		"a page a role may not see":   {webtest.Ask{Path: "/jigs", Role: "operator"}, 403},
		"a page it may":               {webtest.Ask{Path: "/jigs", Role: "engineer"}, 200},
		"a session that is none":      {webtest.Ask{Path: "/jigs", Role: "nobody"}, 303},
		"a form without its token":    {webtest.Ask{Method: "POST", Path: "/leave", Role: "engineer", Form: url.Values{}}, 403},
		"a form with another's token": {webtest.Ask{Method: "POST", Path: "/leave", Role: "engineer", Form: url.Values{"token": {door.FormToken("token of operator")}}}, 403},
		"a form with its token":       {webtest.Ask{Method: "POST", Path: "/leave", Role: "engineer", Form: token}, 303},
		"nothing there":               {webtest.Ask{Path: "/x/y", Role: "engineer"}, 404},
		"a get of an action":          {webtest.Ask{Path: "/leave", Role: "engineer"}, 404},
	} {
		t.Run(name, func(t *testing.T) {
			h, _, _ := webtest.Door(t)
			w := webtest.Fetch(t, h, c.ask)
			assert.Equal(t, c.status, w.Code, w.Body.String())
			assert.Equal(t, web.Policy, w.Header().Get("Content-Security-Policy"))
			assert.Equal(t, "nosniff", w.Header().Get("X-Content-Type-Options"))
		})
	}
}

// No page may load or run what is not ours, and none needs to.
func TestPolicyHasNoHoles(t *testing.T) {
	assert.NotContains(t, web.Policy, "unsafe")
	assert.NotContains(t, web.Policy, "*")
	assert.NotContains(t, web.Policy, "http")
	for name, text := range templateTexts(t) {
		assert.NotContains(t, text, " style=", name)
		assert.NotContains(t, text, "<style", name)
		assert.NotRegexp(t, `<script[^>]*>[^<]`, text, name)
		assert.NotRegexp(t, ` on[a-z]+="`, text, name)
	}
}

// Every embedded file is served, with its kind, and may be kept.
func TestEveryStaticFile(t *testing.T) {
	h, site, _ := webtest.Door(t)
	served := 0
	err := fs.WalkDir(web.Assets, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		served++
		path := strings.TrimPrefix(name, "static/")
		w := webtest.Fetch(t, h, webtest.Ask{Path: site.StaticAddress(path)})
		assert.Equal(t, 200, w.Code, name)
		assert.Contains(t, w.Header().Get("Cache-Control"), "immutable", name)
		assert.NotEmpty(t, w.Body.String(), name)
		again := webtest.Fetch(t, h, webtest.Ask{Path: "/static/" + path, Header: map[string]string{"If-None-Match": w.Header().Get("ETag")}})
		assert.Equal(t, 304, again.Code, name)
		small := webtest.Fetch(t, h, webtest.Ask{Path: site.StaticAddress(path), Header: map[string]string{"Accept-Encoding": "gzip, br"}})
		assert.NotEqual(t, w.Header().Get("ETag"), small.Header().Get("ETag"), "%s: two forms, two marks", name)
		assert.Less(t, small.Body.Len(), w.Body.Len(), name)
		whole, err := gzip.NewReader(small.Body)
		require.NoError(t, err, name)
		body, err := io.ReadAll(whole)
		require.NoError(t, err, name)
		assert.Equal(t, w.Body.String(), string(body), name)
		for _, other := range regexp.MustCompile(`from '([^']+)'`).FindAllStringSubmatch(w.Body.String(), -1) {
			kept := webtest.Fetch(t, h, webtest.Ask{Path: other[1]})
			assert.Equal(t, 200, kept.Code, other[1])
			assert.Contains(t, kept.Header().Get("Cache-Control"), "immutable", "%s asks for %s anew on every page", name, other[1])
		}
		return nil
	})
	require.NoError(t, err)
	assert.Greater(t, served, 5)
	w := webtest.Fetch(t, h, webtest.Ask{Path: "/static/none.css"})
	assert.Equal(t, 404, w.Code)
	assert.Equal(t, "no-store", w.Header().Get("Cache-Control"), "that it is missing is not kept")
}

// The same view comes as HTML and as JSON.
func TestViewsAsJSON(t *testing.T) {
	h, _, _ := webtest.Door(t)
	w := webtest.Fetch(t, h, webtest.Ask{Path: "/jigs", Role: "engineer", Header: map[string]string{"Accept": "application/json"}})
	assert.Equal(t, "application/json", w.Header().Get("Content-Type"))
	assert.JSONEq(t, `{"jigs": []}`, w.Body.String())
	w = webtest.Fetch(t, h, webtest.Ask{Path: "/jigs", Header: map[string]string{"Accept": "application/json"}})
	assert.Equal(t, 401, w.Code)
}
