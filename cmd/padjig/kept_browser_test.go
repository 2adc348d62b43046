package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
)

// loaded is a file of a page as the browser tells of it.
type loaded struct {
	Name                                           string
	TransferSize, EncodedBodySize, DecodedBodySize int
}

// files are those that the page that is shown was made with.
func (t *tab) files() (page loaded, files []loaded) {
	t.Helper()
	var all []loaded
	require.NoError(t, json.Unmarshal([]byte(t.eval(`JSON.stringify([...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]
		.map(e => ({Name: e.name, TransferSize: e.transferSize, EncodedBodySize: e.encodedBodySize, DecodedBodySize: e.decodedBodySize})))`)), &all))
	for _, one := range all[1:] {
		if strings.Contains(one.Name, "/static/") {
			files = append(files, one)
		}
	}
	return all[0], files
}

// A page and its files come compressed, and a second page asks for none of the files that it shares with the first: neither
// its scripts, nor what these import, nor its styles.
func TestSecondPageAsksForNoFile(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	tab := b.as(account.Engineer, "laptop", "/jigs")
	tab.await("document.readyState === 'complete'")
	first, had := tab.files()
	require.Greater(t, len(had), 4)
	assert.Less(t, first.EncodedBodySize, first.DecodedBodySize, "%s on the wire", first.Name)
	asked := map[string]bool{}
	for _, f := range had {
		asked[f.Name] = true
	}
	for _, path := range []string{"/lane/1", "/jigs", "/products", "/quality/yield", "/lane/1", "/jigs"} {
		tab.visit(path)
		tab.await("document.readyState === 'complete'")
		_, files := tab.files()
		require.NotEmpty(t, files, path)
		for _, f := range files {
			if asked[f.Name] {
				assert.Zero(t, f.TransferSize, "%s asks for %s again", path, f.Name)
			}
			asked[f.Name] = true
			assert.Contains(t, f.Name, "?", "%s: the mark of what is in it", path)
		}
	}
}
