package web_test

import (
	"compress/gzip"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/webtest"
)

// fetched asks with what a client takes, and gives the answer and what its body is when it is unpacked.
func fetched(t *testing.T, h http.Handler, a webtest.Ask, takes string) (*httptest.ResponseRecorder, string) {
	t.Helper()
	header := map[string]string{}
	for name, value := range a.Header {
		header[name] = value
	}
	if takes != "" {
		header["Accept-Encoding"] = takes
	}
	a.Header = header
	w := webtest.Fetch(t, h, a)
	assert.Equal(t, fmt.Sprint(w.Body.Len()), w.Header().Get("Content-Length"), a.Path)
	if w.Header().Get("Content-Encoding") == "" {
		return w, w.Body.String()
	}
	require.Equal(t, "gzip", w.Header().Get("Content-Encoding"))
	z, err := gzip.NewReader(w.Body)
	require.NoError(t, err)
	body, err := io.ReadAll(z)
	require.NoError(t, err)
	return w, string(body)
}

var formToken = regexp.MustCompile(`(?:name="token" value|data-token)="([^"]*)"`)

// The same answer comes compressed to who takes it so, and says that it depends on that: pages, views, tables, drawings,
// and what is refused; a page that is short, and one that is none of these kinds, comes as it is.
func TestAnswersAreCompressed(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		json := map[string]string{"Accept": "application/json"}
		for name, ask := range map[string]webtest.Ask{
			"a page":                 {Path: "/jigs", Role: "engineer"},
			"a view":                 {Path: "/quality/yield?simulated=1", Role: "quality", Header: json},
			"a page with a form":     {Path: "/products/GCC-20", Role: "engineer"},
			"a page that is nowhere": {Path: "/nowhere", Role: "engineer"},
			"a page of nobody":       {Path: "/door"},
			"for programs":           {Path: "/api/v1/openapi.json"},
		} {
			plain, whole := fetched(h.T, h.Handler, ask, "")
			assert.Empty(h, plain.Header().Get("Content-Encoding"), name)
			small, unpacked := fetched(h.T, h.Handler, ask, "gzip, deflate, br, zstd")
			require.Equal(h, "gzip", small.Header().Get("Content-Encoding"), name)
			assert.Equal(h, plain.Code, small.Code, name)
			assert.Equal(h, formToken.ReplaceAllString(whole, ""), formToken.ReplaceAllString(unpacked, ""), name)
			for _, w := range []*httptest.ResponseRecorder{plain, small} {
				assert.Contains(h, w.Header().Get("Vary"), "Accept-Encoding", name)
				assert.Equal(h, 1, strings.Count(w.Header().Get("Vary"), "Accept-Encoding"), name)
			}
		}
		short, _ := fetched(h.T, h.Handler, webtest.Ask{Path: "/healthz"}, "gzip")
		assert.Empty(h, short.Header().Get("Content-Encoding"))
		assert.Equal(h, "ok\n", short.Body.String())
	})
}

// The token of forms is in no two answers the same, and each of them is taken: nothing that stays the same can be found out
// by how short an answer gets.
func TestTokensOfFormsLookDifferent(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		seen := map[string]bool{}
		for range 5 {
			seen[formToken.FindStringSubmatch(h.Page("engineer", "/jigs/1"))[1]] = true
		}
		require.Len(h, seen, 5)
		for token := range seen {
			w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Method: "POST", Path: "/look", Role: "engineer", Form: map[string][]string{"token": {token}, "theme": {"dark"}}})
			assert.Less(h, w.Code, 400, w.Body)
			for name, wrong := range map[string]string{"the mask alone": token[:len(token)/2], "cut off": token[1:], "longer": token + "A", "another": "A" + token[1:], "nothing": ""} {
				w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Method: "POST", Path: "/look", Role: "engineer", Form: map[string][]string{"token": {wrong}, "theme": {"dark"}}})
				if wrong == token { // it begins with A
					continue
				}
				assert.Equal(h, http.StatusForbidden, w.Code, name)
			}
		}
	})
}

// What a client says it takes is read as RFC 9110, 12.5.3, has it.
func TestWhoTakesCompressedAnswers(t *testing.T) {
	h, _, _ := webtest.Door(t)
	for takes, want := range map[string]string{
		"gzip": "gzip", "GZIP": "gzip", "x-gzip": "gzip", "br, gzip;q=0.5": "gzip", "gzip;q=1.000": "gzip", "*": "gzip", "br, *;q=0.1": "gzip",
		"": "", "br": "", "gzip;q=0": "", "gzip; q=0.0": "", "gzip;q=0.000": "", "*;q=0": "", "gzip;q=0, *": "", "identity": "", "gzipped": "", "gzip;q=x": "",
	} {
		w, body := fetched(t, h, webtest.Ask{Path: "/door"}, takes)
		assert.Equal(t, want, w.Header().Get("Content-Encoding"), takes)
		assert.Contains(t, body, "</html>", takes)
	}
}

// A part of a file is a part of the form that was asked for, and each form has a mark of its own.
func TestPartsOfAFile(t *testing.T) {
	h, site, _ := webtest.Door(t)
	for _, takes := range []string{"", "gzip"} {
		ask := webtest.Ask{Path: site.StaticAddress("station.css"), Header: map[string]string{"Accept-Encoding": takes}}
		whole := webtest.Fetch(t, h, ask)
		ask.Header["Range"], ask.Header["If-Range"] = "bytes=10-29", whole.Header().Get("ETag")
		part := webtest.Fetch(t, h, ask)
		require.Equal(t, http.StatusPartialContent, part.Code, takes)
		assert.Equal(t, whole.Body.String()[10:30], part.Body.String(), takes)
		assert.Equal(t, takes, part.Header().Get("Content-Encoding"))
		ask.Header["If-Range"] = `"another"`
		assert.Equal(t, http.StatusOK, webtest.Fetch(t, h, ask).Code, "%s: it has changed, and comes whole", takes)
	}
}
