package main

import (
	"go/ast"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What runs without the race detector is named in the Makefile, and skipped by that
// name in every package: a name that two tests have would take one of them away, and
// one that was changed would be nowhere.
func TestWhatOnlyCountsRunsOnce(t *testing.T) {
	packages := append(listed(t, "COUNTING"), "cmd/padjig")
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
	names := listed(t, "COUNTS")
	require.Greater(t, len(names), 3)
	for _, name := range names {
		if assert.Len(t, where[name], 1, name) {
			assert.Contains(t, packages, where[name][0], name)
		}
	}
}

// listed is what a variable of the Makefile lists; of folders without the dot before them.
func listed(t *testing.T, variable string) []string {
	t.Helper()
	makefile, err := os.ReadFile(filepath.Join(root, "Makefile"))
	require.NoError(t, err)
	list := regexp.MustCompile(`(?m)^` + variable + ` :=((?:.*\\\n)*.*)$`).FindStringSubmatch(string(makefile))
	require.NotNil(t, list, "the Makefile has no %s", variable)
	return strings.Fields(strings.NewReplacer("\\", " ", "./", "").Replace(list[1]))
}

// Whole packages go without the race detector where it has nothing to find: neither they nor
// their tests start a goroutine, nor does anything of ours that they are made of. Only who
// opens a port of a jig has one (fixture/link), and they open none.
func TestWhatReckonsIsAlone(t *testing.T) {
	const port = "fixture/link"
	tested, starts, uses, ofTests := map[string]bool{}, map[string]string{}, map[string][]string{}, map[string][]string{}
	for _, p := range rooms(t) {
		for _, file := range p.all {
			isTest := strings.HasSuffix(p.fset.Position(file.Package).Filename, "_test.go")
			of := map[bool]map[string][]string{false: uses, true: ofTests}[isTest]
			for _, spec := range file.Imports {
				if path, ours := strings.CutPrefix(strings.Trim(spec.Path.Value, `"`), "padjig/"); ours {
					of[p.path] = append(of[p.path], path)
				}
			}
			name := p.path
			if isTest {
				tested[p.path] = true
				name += " in tests"
			}
			if at := besideItself(file); at != nil {
				starts[name] = p.fset.Position(at.Pos()).String()
			}
		}
	}
	require.Greater(t, len(starts), 20, "they are found")
	require.Contains(t, starts, port)
	reckoning := listed(t, "RECKONING")
	require.Greater(t, len(reckoning), 20)
	for _, path := range reckoning {
		assert.Empty(t, starts[path+" in tests"], "the tests of %s start a goroutine", path)
		assert.True(t, tested[path], "%s has no tests, or is not there", path)
		assert.NotContains(t, slices.Concat(uses[path], ofTests[path]), port, "%s may open a port", path)
		seen := map[string]bool{port: true}
		for queue := append(ofTests[path], path); len(queue) > 0; queue = queue[1:] {
			if at := queue[0]; !seen[at] {
				seen[at] = true
				assert.Empty(t, starts[at], "%s is made of %s, which starts a goroutine", path, at)
				queue = append(queue, uses[at]...)
			}
		}
	}
}

// besideItself is the first place where a file has something done beside what it does itself.
func besideItself(file *ast.File) (found ast.Node) {
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			found = n
		case *ast.CallExpr:
			f, _ := n.Fun.(*ast.SelectorExpr)
			if f == nil {
				break
			}
			of, _ := f.X.(*ast.Ident)
			if slices.Contains([]string{"Go", "AfterFunc", "Parallel", "RunParallel"}, f.Sel.Name) || of != nil && of.Name == "synctest" {
				found = n
			}
		}
		return found == nil
	})
	return found
}

// mostOfPictures is how many bytes the pictures of the manual may take: they are in every copy of the source.
const mostOfPictures = 8 << 20

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
