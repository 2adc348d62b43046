package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/webtest"
)

// needs is how many needs docs/needs.md answers.
const needs = 70

// Every need says what serves it, by commands, pages and tests that are there, or
// honestly that nothing does, or what is missing.
func TestNeedsAreServedByWhatIsThere(t *testing.T) {
	text, err := os.ReadFile("../../docs/needs.md")
	require.NoError(t, err)
	served := whatThereIs(t, string(text))
	rows := regexp.MustCompile(`(?m)^\| (\d+) \|(.*)\|$`).FindAllStringSubmatch(string(text), -1)
	require.Len(t, rows, needs)
	ticked := regexp.MustCompile("`([^`]+)`")
	for n, row := range rows {
		assert.Equal(t, strconv.Itoa(n+1), row[1], "the needs are in order, each once")
		cells := strings.Split(row[2], "|")
		if !assert.Len(t, cells, 5, "need %s: need, commands, pages, tests, what is not there", row[1]) {
			continue
		}
		count := 0
		for i, of := range []map[string]bool{served.commands, served.pages, served.tests} {
			for _, name := range ticked.FindAllStringSubmatch(cells[i+1], -1) {
				assert.True(t, of[name[1]], "need %s names `%s`, which is not there", row[1], name[1])
				count++
			}
		}
		missing := strings.Trim(cells[4], " ")
		switch tests := ticked.FindAllString(cells[3], -1); {
		case count == 0:
			assert.NotEmpty(t, missing, "need %s: nothing serves it, and nothing says so", row[1])
		case missing == "":
			assert.NotEmpty(t, tests, "need %s: no test shows that it is served", row[1])
		}
	}
}

type there struct{ commands, pages, tests map[string]bool }

// whatThereIs lists commands with their flags, those pages of a text that a station has, tests and scripts.
func whatThereIs(t *testing.T, text string) there {
	t.Helper()
	is := there{map[string]bool{}, map[string]bool{}, map[string]bool{}}
	var visit func(*cobra.Command)
	visit = func(cmd *cobra.Command) {
		is.commands[cmd.CommandPath()] = true
		cmd.Flags().VisitAll(func(f *pflag.Flag) { is.commands[cmd.CommandPath()+" --"+f.Name] = true })
		for _, sub := range cmd.Commands() {
			visit(sub)
		}
	}
	visit(newRoot())
	site, _, _ := webtest.Door(t)
	for _, path := range regexp.MustCompile("`(/[^`]*)`").FindAllStringSubmatch(text, -1) {
		of := regexp.MustCompile(`\{\w+\}`).ReplaceAllString(path[1], "1")
		answer := webtest.Fetch(t, site, webtest.Ask{Method: "GET", Path: of, Role: "engineer"}).Body.String()
		is.pages[path[1]] = !strings.Contains(answer, "There is no such page.")
	}
	test := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz|Benchmark)\w+)\(`)
	require.NoError(t, filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case strings.HasSuffix(path, ".txtar"):
			is.tests[filepath.Base(path)] = true
		case strings.HasSuffix(path, "_test.go"):
			text, err := os.ReadFile(path)
			for _, name := range test.FindAllSubmatch(text, -1) {
				is.tests[string(name[1])] = true
			}
			return err
		}
		return nil
	}))
	return is
}
