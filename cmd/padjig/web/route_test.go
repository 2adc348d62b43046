package web_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/webtest"
)

// answering are the names by which Go code can take a request or give an answer itself.
var answering = []string{"Handle", "HandleFunc", "Handler", "HandlerFunc", "ServeMux", "NewServeMux", "DefaultServeMux", "Server",
	"ListenAndServe", "ListenAndServeTLS", "Serve", "ServeTLS", "ServeHTTP", "ServeContent", "ServeFile", "FileServer", "FileServerFS",
	"ResponseWriter", "NewResponseController", "Redirect", "Error", "NotFoundHandler", "Hijack", "Hijacker"}

// No package of the program but this one takes requests or writes answers, and this one
// registers routes in one place: whatever a subject brings passes the guards, the bounds
// and the roles. (The two that page needs are the visit's and the stream's.)
func TestNoRouteGoesRoundTheSite(t *testing.T) {
	allowed := map[string][]string{
		"page/visit.go":  {"ResponseWriter"},
		"page/events.go": {"ResponseWriter", "NewResponseController"},
	}
	registered, seen := []string{}, map[string]bool{}
	err := filepath.WalkDir("..", func(whole string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(whole, ".go") || strings.HasSuffix(whole, "_test.go") || strings.Contains(whole, "/webtest/") {
			return err
		}
		path, web := strings.CutPrefix(filepath.ToSlash(whole), "../web/")
		seen[filepath.Dir(path)] = true
		file, err := parser.ParseFile(token.NewFileSet(), whole, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		subject := web && strings.Contains(path, "/")
		for _, one := range file.Imports {
			for _, no := range []string{"/pprof", "expvar", "net/rpc", "net/http/httputil", "unsafe", "plugin"} {
				assert.False(t, strings.HasSuffix(one.Path.Value, no+`"`), "%s imports %s", path, one.Path.Value)
			}
			if subject && one.Path.Value == `"net/http"` {
				assert.Nil(t, one.Name, "%s hides net/http behind a name", path)
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			s, is := n.(*ast.SelectorExpr)
			if !is {
				return true
			}
			if s.Sel.Name == "Handle" || s.Sel.Name == "HandleFunc" {
				registered = append(registered, path)
			}
			if of, is := s.X.(*ast.Ident); is && of.Name == "http" && subject && slices.Contains(answering, s.Sel.Name) {
				assert.Contains(t, allowed[path], s.Sel.Name, "%s answers by itself: http.%s", path, s.Sel.Name)
			}
			return true
		})
		return nil
	})
	require.NoError(t, err)
	assert.Equal(t, []string{"body.go"}, registered, "routes are registered by Site.handle alone")
	assert.Greater(t, len(seen), 10, "the walk found the packages")
}

// Every subject's pages, actions and streams are known by their list and answered by the
// pattern of the list, for whom it says: nobody gets in where somebody is asked for.
func TestEverySubjectPassesTheRoles(t *testing.T) {
	h, site, _ := webtest.Door(t)
	all := site.All()
	var routes []string
	ask := func(method, path string, open bool) {
		routes = append(routes, method+" "+path)
		w := webtest.Fetch(t, h, webtest.Ask{Method: method, Path: filled(strings.TrimSuffix(path, "{$}"))})
		if !open {
			assert.Equal(t, http.StatusSeeOther, w.Code, "%s %s", method, path)
			assert.Contains(t, w.Header().Get("Location"), "/door?next=", "%s %s", method, path)
		}
	}
	for _, p := range all.Pages {
		ask(http.MethodGet, p.Path, p.Who == nil)
	}
	for _, a := range all.Actions {
		ask(http.MethodPost, a.Path, a.Who == nil)
	}
	for _, s := range all.Streams {
		ask(http.MethodGet, s.Path, s.Who == nil)
	}
	for _, route := range routes {
		method, path, _ := strings.Cut(route, " ")
		r, err := http.NewRequest(method, filled(strings.TrimSuffix(path, "{$}")), nil)
		require.NoError(t, err)
		assert.Equal(t, route, site.Handled(r))
	}
	var open []string
	for _, p := range all.Pages {
		if p.Who == nil {
			open = append(open, "GET "+p.Path)
		}
	}
	for _, a := range all.Actions {
		if a.Who == nil {
			open = append(open, "POST "+a.Path)
		}
	}
	assert.ElementsMatch(t, []string{"GET /door", "POST /door", "POST /leave", "POST /language", "POST /look", "POST /scan"}, open, "what nobody needs to be somebody for")
	for _, s := range all.Streams {
		assert.NotEmpty(t, s.Who, s.Path)
	}
	assert.Greater(t, len(routes), 50)
}
