package web_test

import (
	"flag"
	"fmt"
	"net/url"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/webtest"
	"padjig/sequence/wording"
)

var update = flag.Bool("update", false, "write docs/pages.md anew")

// Every page has a paragraph that says what it is for, in every language; its help shows that,
// and so does the manual, which is made from it.
func TestEveryPageHasHelp(t *testing.T) {
	h, site, _ := webtest.Door(t)
	c := texts(t)
	var manual strings.Builder
	manual.WriteString("# Pages of the station\n\nWhat each page is for, in the words of its help (the `?` key on the page). " +
		"Made from the catalogue of the pages:\n`go test ./cmd/padjig/web -run Help -update`.\n")
	seen := map[string]bool{"error": true}
	for _, p := range site.All().Pages {
		if seen[p.Name] {
			continue
		}
		seen[p.Name] = true
		for _, lang := range wording.Languages {
			assert.NotEmpty(t, c[lang]["help."+p.Name], "%s: page %s has no help", lang, p.Name)
		}
		fmt.Fprintf(&manual, "\n**%s** (`%s`). %s\n", c["en"]["title."+p.Name], p.Path, c["en"]["help."+p.Name])
	}
	const path = "../../../docs/pages.md"
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(manual.String()), 0o644))
	}
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, manual.String(), string(kept), "go test ./cmd/padjig/web -run Help -update")
	shown := webtest.Fetch(t, h, webtest.Ask{Path: "/jigs", Role: "engineer"}).Body.String()
	assert.Contains(t, shown, c["en"]["help.jigs"])
	assert.Contains(t, shown, "<kbd>/</kbd>")
	all := webtest.Fetch(t, h, webtest.Ask{Path: "/help", Role: "operator"}).Body.String()
	assert.Contains(t, all, `id="help-lane"`)
	assert.NotContains(t, all, `id="help-jigs"`, "of a page that an operator may not see")
}

// The first visit to a group of pages is explained, once to each person, until they say that
// they have read it; a lane's page is left alone.
func TestFirstVisit(t *testing.T) {
	h, _, _ := webtest.Door(t)
	c := texts(t)["en"]
	look := func(role, path, cookie string) string {
		return webtest.Fetch(t, h, webtest.Ask{Path: path, Role: role, Header: map[string]string{"Cookie": cookie}}).Body.String()
	}
	first := `<aside class="first`
	assert.Contains(t, look("engineer", "/jigs", ""), first)
	assert.NotContains(t, look("", "/door", ""), first)
	w := webtest.Fetch(t, h, webtest.Ask{Method: "POST", Path: "/met", Role: "engineer", Form: url.Values{
		"token": {door.FormToken("token of engineer")}, "group": {"jigs"}, "next": {"/jigs"},
	}})
	assert.Equal(t, "/jigs", w.Header().Get("Location"))
	kept, _, _ := strings.Cut(w.Header().Get("Set-Cookie"), ";")
	require.True(t, strings.HasPrefix(kept, "met="), kept)
	assert.NotContains(t, kept, "engineer")
	assert.NotContains(t, look("engineer", "/jigs", kept), first)
	assert.Contains(t, look("engineer", "/products", kept), c["help.products"], "another group")
	webtest.At(t, 1, "", func(h *webtest.House) {
		assert.NotContains(h, h.Page("operator", "/lane/1"), first)
		assert.Contains(h, h.Page("operator", "/fails"), first)
	})
}

// What is in a cookie that somebody changed is taken for nothing, and it never grows beyond its bound.
func TestMetCookieIsBounded(t *testing.T) {
	h, _, _ := webtest.Door(t)
	cookie := "met=" + strings.Repeat("x.", 3000)
	for _, group := range []string{"jigs", "", strings.Repeat("g", 5000)} {
		w := webtest.Fetch(t, h, webtest.Ask{Method: "POST", Path: "/met", Role: "engineer", Header: map[string]string{"Cookie": cookie}, Form: url.Values{
			"token": {door.FormToken("token of engineer")}, "group": {group},
		}})
		assert.Less(t, len(w.Header().Get("Set-Cookie")), 1000)
	}
}
