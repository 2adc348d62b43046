package web_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web/webtest"
)

// elementsOf are those of a kind below a node.
func elementsOf(n *html.Node, kinds ...atom.Atom) (out []*html.Node) {
	for d := range n.Descendants() {
		for _, kind := range kinds {
			if d.DataAtom == kind {
				out = append(out, d)
			}
		}
	}
	return out
}

func wordsOf(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data + " ")
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// On the first day there is no product, no jig, no unit: every page says so in a sentence, to
// every role, and leads on; no table is empty without a word.
func TestNoPageIsADeadEndOnTheFirstDay(t *testing.T) {
	h, site, _ := webtest.Door(t)
	sentence := regexp.MustCompile(`\pL{2,}[^.:]*[.:]`)
	for _, p := range site.All().Pages {
		path := strings.TrimSuffix(p.Path, "{$}")
		if strings.Contains(path, "{") {
			continue
		}
		for _, role := range account.Roles {
			w := webtest.Fetch(t, h, webtest.Ask{Path: path, Role: string(role)})
			if w.Code != http.StatusOK {
				assert.Less(t, w.Code, 500, path)
				continue
			}
			webtest.Fetch(t, h, webtest.Ask{Path: path, Role: string(role), Header: map[string]string{"Accept": "application/json"}}) // no time of year 1
			doc, err := html.Parse(w.Body)
			require.NoError(t, err)
			main := first(doc, atom.Main)
			require.NotNil(t, main, path)
			for _, table := range elementsOf(main, atom.Tbody) {
				assert.NotEmpty(t, elementsOf(table, atom.Tr), "%s as %s: an empty table", path, role)
			}
			for _, choice := range elementsOf(main, atom.Select) {
				assert.NotEmpty(t, elementsOf(choice, atom.Option), "%s as %s: nothing to choose", path, role)
			}
			assert.Regexp(t, sentence, wordsOf(main), "%s as %s: no sentence", path, role)
			assert.NotEmpty(t, elementsOf(main, atom.A, atom.Form), "%s as %s: no way on: %s", path, role, wordsOf(main))
		}
	}
}
