package main

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every term stands in the glossary once, in the order of the alphabet, with where it is from.
func TestGlossary(t *testing.T) {
	page, err := os.ReadFile("../../docs/glossary.md")
	require.NoError(t, err)
	marks, terms, found := strings.Cut(string(page), "\n## Terms\n")
	require.True(t, found)
	terms, _, _ = strings.Cut(terms, "\n## ")
	row := regexp.MustCompile(`(?m)^\| ([^|]+) \| ([^|]+) (?:\| ([^|]+) )?\|$`)
	known := map[string]bool{}
	for _, m := range row.FindAllStringSubmatch(marks, -1) {
		known[m[1]] = true
	}
	var names []string
	for _, m := range row.FindAllStringSubmatch(terms, -1)[1:] {
		names = append(names, strings.ToLower(m[1]))
		mark, reason, _ := strings.Cut(m[3], ": ")
		assert.True(t, known[mark], "%s has the mark %q", m[1], m[3])
		assert.Equal(t, mark == "own", reason != "", "%s: a word of our own has its reason, and no other", m[1])
	}
	require.Greater(t, len(names), 40)
	assert.True(t, slices.IsSorted(names), "the terms are in order")
	assert.Len(t, slices.Compact(names), len(names), "each once")
}

// What has another name is nowhere offered under the old one: the glossary lists
// those words, and neither help, nor pages, nor sentences, nor documents use them.
func TestWordsThatAreNotUsed(t *testing.T) {
	t.Parallel()
	glossary, err := os.ReadFile("../../docs/glossary.md")
	require.NoError(t, err)
	used, unused, found := strings.Cut(string(glossary), "\n## Words that are not used\n")
	require.True(t, found)
	unused, _, found = strings.Cut(unused, "\n## Names that are gone from the code\n")
	require.True(t, found)
	var words []string
	for _, row := range regexp.MustCompile(`(?m)^\| ([^|]+) \| [^|]+ \|$`).FindAllStringSubmatch(unused, -1)[1:] {
		if row[1] == "least, middle, most" {
			words = append(words, regexp.QuoteMeta(row[1]))
			continue
		}
		for word := range strings.SplitSeq(row[1], ", ") {
			words = append(words, regexp.QuoteMeta(word))
		}
	}
	require.Greater(t, len(words), 25)
	// A line of prose may break within a phrase.
	old := regexp.MustCompile(`(?i)(^|[\s"'(\[>` + "`" + `])(` + strings.ReplaceAll(strings.Join(words, "|"), " ", `\s+`) + `)([^a-z-]|$)`)
	require.Regexp(t, old, "the closed\nresistance of key 7")
	require.Regexp(t, old, "--press hand")

	texts := map[string]string{"docs/glossary.md": used}
	for _, folder := range []string{"../../docs", "../../README.md", ".", "../../results", "../../sequence"} {
		require.NoError(t, filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
			switch filepath.Ext(path) {
			case ".md", ".html", ".json":
				if err == nil && !entry.IsDir() && !strings.Contains(path, "testdata") && !strings.Contains(path, "stats/reference") && entry.Name() != "glossary.md" {
					var text []byte
					text, err = os.ReadFile(path)
					texts[path] = string(text)
				}
			}
			return err
		}))
	}
	require.Greater(t, len(texts), 60)
	var help func(*cobra.Command)
	help = func(cmd *cobra.Command) {
		var said bytes.Buffer
		cmd.SetOut(&said)
		require.NoError(t, cmd.Help())
		texts[cmd.CommandPath()] = said.String()
		for _, sub := range cmd.Commands() {
			help(sub)
		}
	}
	help(newRoot())
	require.Greater(t, len(texts), 110)
	for name, text := range texts {
		assert.Empty(t, old.FindAllString(text, -1), name)
	}
}

// A name that the field has a word for does not come back into the code: the
// glossary lists those, and no identifier is one of them.
func TestNamesThatAreGone(t *testing.T) {
	glossary, err := os.ReadFile("../../docs/glossary.md")
	require.NoError(t, err)
	_, rows, found := strings.Cut(string(glossary), "\n## Names that are gone from the code\n")
	require.True(t, found)
	gone := map[string]string{} // what is used in its place
	for _, row := range regexp.MustCompile(`(?m)^\| ([^|]+) \| ([^|]+) \|$`).FindAllStringSubmatch(rows, -1)[1:] {
		for name := range strings.SplitSeq(row[1], ", ") {
			gone[name] = row[2]
		}
	}
	require.Greater(t, len(gone), 30)
	files := token.NewFileSet()
	for _, path := range sources(t) {
		file, err := parser.ParseFile(files, filepath.Join(root, path), nil, 0)
		require.NoError(t, err)
		ast.Inspect(file, func(n ast.Node) bool {
			if name, is := n.(*ast.Ident); is && gone[name.Name] != "" {
				t.Errorf("%s: %s: the glossary has %s", files.Position(name.Pos()), name.Name, gone[name.Name])
			}
			return true
		})
	}
}
