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

// mostOfPictures is how many bytes the pictures of the manual may take: they are in every copy of the source.
const mostOfPictures = 6 << 20

// The manual has the pictures that the Makefile names, each at every size in both themes, none
// beside them, and shows no other; a test reaches each.
func TestPicturesOfTheManual(t *testing.T) {
	makefile, err := os.ReadFile(filepath.Join(root, "Makefile"))
	require.NoError(t, err)
	var want []string
	for _, list := range regexp.MustCompile(`(?m)^SCREENS \+?:?= ((?:.*\\\n)*.*)$`).FindAllStringSubmatch(string(makefile), -1) {
		for _, name := range strings.Fields(strings.ReplaceAll(list[1], "\\", " ")) {
			for _, size := range pictureSizes {
				for _, theme := range pictureThemes {
					want = append(want, name+"-"+size+"-"+theme+".png")
				}
			}
		}
	}
	require.Greater(t, len(want), 100)
	var have []string
	total := int64(0)
	files, err := os.ReadDir(filepath.Join(root, "docs", "screens"))
	require.NoError(t, err)
	for _, f := range files {
		info, err := f.Info()
		require.NoError(t, err)
		have, total = append(have, f.Name()), total+info.Size()
	}
	assert.ElementsMatch(t, want, have, "make screens takes them anew")
	assert.Less(t, total, int64(mostOfPictures), "fewer names in SCREENS")
	pages, err := filepath.Glob(filepath.Join(root, "docs", "*.md"))
	require.NoError(t, err)
	for _, page := range pages {
		text, err := os.ReadFile(page)
		require.NoError(t, err)
		for _, shown := range regexp.MustCompile(`screens/([a-z-]+\.png)`).FindAllSubmatch(text, -1) {
			assert.Contains(t, want, string(shown[1]), page)
		}
	}
}
