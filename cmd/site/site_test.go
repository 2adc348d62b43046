package main

import (
	"bytes"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The site has every page, each in one group, with a title; build refuses a link that leads nowhere.
func TestSiteOfTheClone(t *testing.T) {
	s, err := build(os.DirFS("../.."))
	require.NoError(t, err)
	require.Greater(t, len(s.pages), 30)
	var grouped []string
	for _, g := range groups {
		grouped = append(grouped, g.pages...)
	}
	slices.Sort(grouped)
	assert.Len(t, slices.Compact(slices.Clone(grouped)), len(grouped), "each once")
	for _, p := range s.pages {
		assert.Contains(t, grouped, p.source, "a page is in a group of groups.go, or nobody finds it")
		assert.NotEmpty(t, p.title, p.source)
		assert.NotContains(t, string(s.files[p.name]), "⟦", p.source)
	}
}

// Whatever a page of the site links to, or shows, is a file of the site: it can be put anywhere.
func TestSiteIsWhole(t *testing.T) {
	s, err := build(os.DirFS("../.."))
	require.NoError(t, err)
	used := regexp.MustCompile(`(?:href|src|srcset)="([^"]*)"`)
	count := 0
	for name, body := range s.files {
		if filepath.Ext(name) != ".html" {
			continue
		}
		for _, m := range used.FindAllSubmatch(body, -1) {
			to, err := url.Parse(strings.ReplaceAll(string(m[1]), "&amp;", "&"))
			require.NoError(t, err, name)
			if to.IsAbs() || to.Path == "" {
				continue
			}
			count++
			at := filepath.ToSlash(filepath.Join(filepath.Dir(name), to.Path))
			_, file := s.files[at]
			_, folder := s.files[at+"/index.html"]
			assert.True(t, file || folder, "%s links to %s", name, m[1])
		}
		assert.NotContains(t, string(body), "https://cdn", name)
	}
	assert.Greater(t, count, 1000)
}

// A link that leads nowhere is named with its page, whether it is a page, a place in one, a file or a picture.
func TestSiteRefusesWhatLeadsNowhere(t *testing.T) {
	colours := &fstest.MapFile{Data: []byte(":root {\n  --a: #000;\n}\n")}
	for link, refused := range map[string]bool{
		"[a](docs/b.md)": false, "[a](docs/b.md#one-place)": false, "[a](docs/b.md#own)": false, "[a](#top)": false,
		"[a](docs/b.md#one-place-1)": false, "![a](docs/p.svg)": false, "[a](docs)": false, "[a](https://example.org/x.md)": false,
		"[a](docs/gone.md)": true, "[a](docs/b.md#another)": true, "[a](#nowhere)": true, "![a](docs/gone.svg)": true,
		"[a](B.md)": true, "[a](/docs/b.md)": true,
		"<img src=\"docs/p.svg\">": false, "<img src=\"docs/gone.svg\">": true, "text <img src=\"docs/gone.svg\"> text": true,
	} {
		_, err := build(fstest.MapFS{
			"README.md":     {Data: []byte("# Top\n\n" + link + "\n")},
			"DEVELOPERS.md": {Data: []byte("# D\n")}, "CHANGELOG.md": {Data: []byte("# C\n")},
			"docs/b.md":    {Data: []byte("# B\n\n## One place\n\n<a id=\"own\"></a>Text.\n\n## One place\n")},
			"docs/p.svg":   {Data: []byte("<svg/>")},
			stationColours: colours, darkColours: colours,
		})
		assert.Equal(t, refused, err != nil, "%s: %v", link, err)
		if refused {
			assert.ErrorContains(t, err, "README.md: ", link)
		}
	}
}

// A folder that is no site is not thrown away.
func TestSiteReplacesNothingButASite(t *testing.T) {
	s := &site{files: map[string][]byte{"index.html": []byte("new"), "search.js": nil}}
	folder := t.TempDir()
	mine := filepath.Join(folder, "mine.txt")
	require.NoError(t, os.WriteFile(mine, []byte("mine"), 0o644))
	assert.ErrorContains(t, s.write(folder), "give an empty folder")
	assert.FileExists(t, mine)
	other := filepath.Join(folder, "site")
	require.NoError(t, s.write(other))
	require.NoError(t, os.WriteFile(filepath.Join(other, "old.html"), nil, 0o644))
	require.NoError(t, s.write(other))
	assert.NoFileExists(t, filepath.Join(other, "old.html"))
}

// The search finds in a browser, without any server: a page by a word of its heading, and where it stands.
func TestSearchInABrowser(t *testing.T) {
	t.Parallel()
	s, err := build(os.DirFS("../.."))
	require.NoError(t, err)
	folder := filepath.Join(t.TempDir(), "site")
	require.NoError(t, s.write(folder))
	found := func(words string) string {
		browser := exec.CommandContext(t.Context(), "chromium-headless-shell", "--no-sandbox", "--disable-gpu",
			"--user-data-dir="+t.TempDir(), "--dump-dom", "file://"+folder+"/index.html?q="+url.QueryEscape(words))
		var out bytes.Buffer
		browser.Stdout = &out
		require.NoError(t, browser.Run())
		_, rest, is := strings.Cut(out.String(), `<div id="found"`)
		require.True(t, is)
		rest, _, _ = strings.Cut(rest, `<div class="columns">`)
		return rest
	}
	assert.Regexp(t, `(?s)^[^>]*><p>\d+ places</p><ol><li><a href="\./docs/statistics\.html#gauge-studies">`, found("gauge stud"))
	assert.Contains(t, found("xyzzy leak"), "Nothing has all of these words.")
	assert.Contains(t, found("(*"), "Nothing has all", "signs of a pattern are signs")
}
