package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// importMap is the architecture: which of our packages each may import. It is
// policy. A build that fails here is mended by moving code, not by adding an
// arrow; a new package needs a line of its own.
var importMap = map[string][]string{
	"fixture/quantity":    {},
	"fixture/wire":        {},
	"fixture/circuit":     {"fixture/quantity"},
	"fixture/link":        {"fixture/wire"},
	"fixture":             {"fixture/link", "fixture/quantity", "fixture/wire"},
	"fixture/jigsim":      {"fixture/circuit", "fixture/quantity", "fixture/wire"},
	"fixture/simport":     {"fixture", "fixture/jigsim", "fixture/link", "fixture/wire"},
	"fixture/firmware":    {"fixture/jigsim", "fixture/wire"},
	"fixture/jigtest":     {"fixture", "fixture/link", "fixture/quantity", "fixture/wire"},
	"sequence/decide":     {},
	"sequence/product":    {"fixture/circuit", "fixture/quantity", "sequence/decide"},
	"sequence/refbox":     {"fixture/quantity"},
	"sequence/devicetree": {"fixture/quantity", "sequence/product"},
	"sequence/margin":     {"fixture/circuit", "fixture/quantity", "sequence/product"},
	"sequence/diagnose":   {"fixture/circuit", "fixture/quantity", "sequence/product"},
	"sequence": {"fixture", "fixture/circuit", "fixture/quantity", "sequence/decide", "sequence/diagnose",
		"sequence/product", "sequence/refbox"},
	"sequence/wording":   {"sequence"},
	"results":            {"fixture", "fixture/quantity", "sequence", "sequence/product"},
	"results/linesim":    {"fixture", "fixture/quantity", "results", "sequence", "sequence/product"},
	"cmd/padjig/station": {"fixture", "fixture/link", "results", "sequence", "sequence/product", "sequence/wording"},
	"cmd/padjig":         {"*"},

	"results/answers":      {"results", "results/stats", "sequence", "sequence/decide"},
	"results/report":       {"results", "results/answers", "results/report/chart"},
	"results/report/chart": {},
	"results/report/returned": {"fixture", "fixture/quantity", "results", "sequence", "sequence/decide", "sequence/diagnose",
		"sequence/product", "sequence/wording"},
	"results/stats":      {},
	"cmd/padjig/account": {},
	"cmd/padjig/web": {"cmd/padjig/account", "cmd/padjig/station", "fixture", "fixture/circuit", "fixture/link",
		"fixture/quantity", "results", "results/answers", "results/report", "results/report/chart", "results/report/returned", "sequence",
		"sequence/decide", "sequence/diagnose", "sequence/product", "sequence/wording"},

	"fixture/firmware/drawings": {},
	"fixture/firmware/figures":  {"fixture/firmware"},
}

// soleImporter names the one package that may import a library which must
// stay replaceable, or one of ours that only one may reckon with.
var soleImporter = map[string]string{
	"go.bug.st/serial":                 "fixture/link",
	"github.com/mattn/go-sqlite3":      "results",
	"github.com/parquet-go/parquet-go": "results/report",
	"padjig/results/stats":             "results/answers", // else a surface reckons for itself, and differently
}

const root = "../.."

func TestImportsFollowTheMap(t *testing.T) {
	found := map[string]bool{}
	for _, file := range sources(t) {
		pkg := filepath.ToSlash(filepath.Dir(file))
		found[pkg] = true
		allowed, known := importMap[pkg]
		if !assert.True(t, known, "%s has no line in the import map", pkg) {
			continue
		}
		for _, path := range imports(t, file) {
			if own, ok := strings.CutPrefix(path, "padjig/"); ok {
				assert.True(t, slices.Contains(allowed, own) || slices.Contains(allowed, "*"), "%s may not import %s (%s)", pkg, own, file)
			}
			for library, sole := range soleImporter {
				if path == library || strings.HasPrefix(path, library+"/") {
					assert.Equal(t, sole, pkg, "only %s may import %s", sole, library)
				}
			}
		}
	}
	require.Greater(t, len(found), 5, "the walk found the packages")
}

// The order of a test stands once: nobody else among the commands and pages claims
// a unit or runs a plan. A stage or a study that did would need its own order.
func TestTheOrderOfATestStandsOnce(t *testing.T) {
	found := 0
	for _, file := range sources(t) {
		if !strings.HasPrefix(filepath.ToSlash(file), "cmd/") {
			continue
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, file), nil, 0)
		require.NoError(t, err)
		ast.Inspect(parsed, func(n ast.Node) bool {
			call, is := n.(*ast.CallExpr)
			if !is || len(call.Args) != 4 {
				return true
			}
			if of, is := call.Fun.(*ast.SelectorExpr); is && (of.Sel.Name == "Begin" || of.Sel.Name == "Run") {
				found++
				assert.Equal(t, "cmd/padjig/station/order.go", filepath.ToSlash(file), "%s", of.Sel.Name)
			}
			return true
		})
	}
	assert.Equal(t, 2, found, "the claim and the run")
}

// sources lists the Go files that are not tests, relative to the root.
func sources(t *testing.T) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != root:
			return fs.SkipDir
		case strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go"):
			rel, err := filepath.Rel(root, path)
			out = append(out, rel)
			return err
		}
		return nil
	})
	require.NoError(t, err)
	return out
}

func imports(t *testing.T, file string) []string {
	t.Helper()
	parsed, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, file), nil, parser.ImportsOnly)
	require.NoError(t, err)
	var out []string
	for _, spec := range parsed.Imports {
		path, err := strconv.Unquote(spec.Path.Value)
		require.NoError(t, err)
		out = append(out, path)
	}
	return out
}
