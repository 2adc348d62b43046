package main

import (
	"bufio"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What runs without the race detector is named in the Makefile, and skipped by that
// name in every package: a name that two tests have would take one of them away, and
// one that was changed would be nowhere.
func TestWhatOnlyCountsRunsOnce(t *testing.T) {
	packages := slices.Concat(listed(t, "COUNTING"), listed(t, "ASKING"), []string{"cmd/padjig"})
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

// What is compiled without the detector starts nothing that it does not wait for, and has no atomic load that the
// compiler would write itself: what has one is compiled without intrinsics. Nor has it reflect at hand where that may be
// inlined. Of ours, it is what reckons.
func TestWhatIsNotWatchedSharesNothing(t *testing.T) {
	waits := []string{"golang.org/x/crypto/argon2", "gonum.org/v1/gonum/blas/gonum"} // for blocks that lie apart
	inlined := regexp.MustCompile(`\bsync\.Once|\batomic\.[A-Z]|"reflect"`)
	plain, calls := listed(t, "UNWATCHED"), listed(t, "UNWATCHED_CALLS")
	out, err := exec.Command("go", append([]string{"list", "-f", "{{.ImportPath}} {{.Dir}} {{join .GoFiles \" \"}}"},
		slices.Concat(plain, calls)...)...).Output()
	require.NoError(t, err)
	found := map[string]bool{}
	for line := range strings.Lines(string(out)) {
		of := strings.Fields(line)
		path, unseen, starts := of[0], false, false
		found[path] = true
		for _, name := range of[2:] {
			name = filepath.Join(of[1], name)
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			file, err := parser.ParseFile(token.NewFileSet(), name, text, 0)
			require.NoError(t, err)
			unseen = unseen || inlined.Match(text)
			ast.Inspect(file, func(n ast.Node) bool {
				_, is := n.(*ast.GoStmt)
				starts = starts || is
				return true
			})
		}
		assert.Equal(t, slices.Contains(waits, path), starts, "%s starts a goroutine", path)
		if slices.Contains(plain, path) {
			assert.False(t, unseen, "%s has an atomic load, or reflect: to UNWATCHED_CALLS", path)
		}
		if ours, is := strings.CutPrefix(path, "padjig/"); is {
			assert.Contains(t, listed(t, "RECKONING"), ours)
		}
	}
	for _, path := range slices.Concat(plain, calls) {
		assert.True(t, found[path], path)
	}
}

// The detector sees what it saw in a build in which some packages are compiled without it: a value that
// one of these reaches, a buffer that it writes into, a function of one instance for many. And it takes nothing
// for a race that is none.
func TestRacesAreSeenThroughWhatIsNotWatched(t *testing.T) {
	t.Parallel()
	program := filepath.Join(t.TempDir(), "watched")
	out, err := exec.Command("make", "-s", "--no-print-directory", "-C", root, "--eval",
		"watched: ; $(GO) test -c -vet=off $(RACE) -o '$(OUT)' ./cmd/padjig/testdata/watched", "watched", "OUT="+program).CombinedOutput()
	require.NoError(t, err, "%s", out)
	out, err = exec.Command(program, "-test.v", "-test.run", "^TestRace$").CombinedOutput()
	assert.Error(t, err)
	assert.Greater(t, strings.Count(string(out), "--- FAIL: TestRace/"), 5)
	assert.NotContains(t, string(out), "--- PASS: TestRace/", "a race that is not seen")
	out, err = exec.Command(program, "-test.v", "-test.run", "^TestApart$").CombinedOutput()
	assert.NoError(t, err, "%s", out)
	assert.Contains(t, string(out), "--- PASS: TestApart")
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

// Whoever ends the demo with Ctrl-C made no mistake, and make says nothing of one.
func TestMakeDemoEndsWithoutAWordOfErrors(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	text, err := os.ReadFile("../../Makefile")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "Makefile"), text, 0o644))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "bin"), 0o755))
	for name, stub := range map[string]string{
		"stopped before its end": "trap 'exit 3' INT; echo ready; read -r; read -r",
		"at the end":             "trap 'exit 0' INT; echo ready; read -r; read -r",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "bin", "padjig"), []byte("#!/bin/bash\n"+stub+"\n"), 0o755))
		cmd := exec.Command("make", "demo", "GO=true")
		cmd.Dir = dir
		terminal, err := pty.Start(cmd)
		require.NoError(t, err)
		said := bufio.NewReader(terminal)
		for line := ""; !strings.HasPrefix(line, "ready"); {
			line, err = said.ReadString('\n')
			require.NoError(t, err, line)
		}
		_, err = terminal.WriteString("\x03")
		require.NoError(t, err)
		rest, _ := io.ReadAll(said) // a terminal that is hung up ends in an error
		_ = cmd.Wait()              // make ends by the signal, as a shell expects
		// The terminal writes its ^C after the signal: whoever closes it at once leaves no time for it.
		assert.Empty(t, strings.TrimPrefix(strings.TrimSpace(string(rest)), "^C"), name)
		require.NoError(t, terminal.Close())
	}
}
