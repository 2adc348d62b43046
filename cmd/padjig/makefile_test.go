package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What runs without the race detector is named in the Makefile, and skipped by that
// name in every package: a name that two tests have would take one of them away, and
// one that was changed would be nowhere.
func TestWhatOnlyCountsRunsOnce(t *testing.T) {
	makefile, err := os.ReadFile(filepath.Join(root, "Makefile"))
	require.NoError(t, err)
	_, rest, found := strings.Cut(string(makefile), "\nCOUNTS := ")
	require.True(t, found)
	list, rest, found := strings.Cut(rest, "\nCOUNTING := ")
	require.True(t, found)
	counting, _, _ := strings.Cut(rest, "\n")
	packages := append(strings.Fields(strings.ReplaceAll(counting, "./", "")), "cmd/padjig")
	where := map[string][]string{}
	require.NoError(t, filepath.WalkDir(root, func(path string, _ os.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range regexp.MustCompile(`(?m)^func (Test\w+)\(`).FindAllSubmatch(text, -1) {
			folder := filepath.ToSlash(strings.TrimPrefix(filepath.Dir(path), root+"/"))
			where[string(m[1])] = append(where[string(m[1])], folder)
		}
		return err
	}))
	names := strings.Fields(strings.ReplaceAll(list, "\\", " "))
	require.Greater(t, len(names), 3)
	for _, name := range names {
		if assert.Len(t, where[name], 1, name) {
			assert.Contains(t, packages, where[name][0], name)
		}
	}
}
