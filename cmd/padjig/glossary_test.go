package main

import (
	"bytes"
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

// What was renamed is nowhere offered under its old name: neither in help, nor on
// pages, nor in documents. What the line is doing has words of its own.
func TestOldNamesAreGone(t *testing.T) {
	texts := map[string]string{}
	for _, pattern := range []string{"../../docs/*.md", "../../README.md", "web/text/en.json", "web/text/fixture.en.json",
		"web/text/returns.en.json", "testdata/script/returns.txtar"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		require.NotEmpty(t, files)
		for _, file := range files {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			texts[file] = string(text)
		}
	}
	delete(texts, "../../docs/quality.md")
	delete(texts, "../../docs/statistics.md")
	var help func(*cobra.Command)
	help = func(cmd *cobra.Command) {
		if cmd.Name() == "quality" {
			return
		}
		var said bytes.Buffer
		cmd.SetOut(&said)
		require.NoError(t, cmd.Help())
		texts[cmd.CommandPath()] = said.String()
		for _, sub := range cmd.Commands() {
			help(sub)
		}
	}
	help(newRoot())
	require.Greater(t, len(texts), 40)
	old := regexp.MustCompile(`(?i)closed resistance|rest resistance|ms on (make|break)|--press\b[^e]|--by\b|returns gentle|` +
		`test nonetheless|": "(jig \{0\}: )?not there"|the file holds"`)
	for name, text := range texts {
		assert.Empty(t, old.FindAllString(text, -1), name)
	}
}
