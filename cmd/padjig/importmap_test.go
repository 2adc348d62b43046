package main

import (
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
	"sequence/wording": {"sequence"},
	"cmd/padjig/bench": {"fixture", "fixture/link", "results", "results/care", "results/returns", "results/runs", "results/store",
		"sequence", "sequence/product", "sequence/wording"},
	"cmd/padjig": {"*"},

	"results/store":    {},
	"results/runs":     {"fixture", "fixture/quantity", "results/store", "sequence", "sequence/product"},
	"results/floor":    {"results/store"},
	"results/hourly":   {"results/floor", "results/runs", "results/store"},
	"results/lines":    {"results/floor", "results/hourly", "results/store", "sequence", "sequence/product"},
	"results/gauge":    {"results/lines", "results/runs", "results/store", "sequence"},
	"results/care":     {"fixture", "fixture/quantity", "results/hourly", "results/runs", "results/store", "sequence"},
	"results/returns":  {"fixture/quantity", "results/care", "results/floor", "results/runs", "results/store", "sequence"},
	"results/accounts": {"results/store"},
	"results": {"results/accounts", "results/care", "results/floor", "results/gauge", "results/hourly", "results/lines",
		"results/returns", "results/runs", "results/store", "sequence"},
	"results/runs/runstest": {"fixture", "fixture/quantity", "results/runs", "sequence"},
	"results/linesim": {"fixture", "fixture/quantity", "results", "results/care", "results/floor", "results/runs", "sequence",
		"sequence/product"},
	"results/answers": {"results", "results/care", "results/floor", "results/gauge", "results/hourly", "results/lines",
		"results/stats", "sequence", "sequence/decide"},
	"results/report": {"results/answers", "results/care", "results/floor", "results/gauge", "results/lines",
		"results/report/chart"},
	"results/report/chart": {},
	"results/report/returned": {"fixture", "fixture/quantity", "results", "results/floor", "results/returns", "results/runs", "results/store",
		"sequence", "sequence/decide", "sequence/diagnose", "sequence/product", "sequence/wording"},
	"results/stats":      {},
	"cmd/padjig/account": {},
	"cmd/padjig/web": {"cmd/padjig/account", "cmd/padjig/bench", "fixture", "fixture/circuit", "fixture/link",
		"fixture/quantity", "results", "results/accounts", "results/answers", "results/care", "results/floor", "results/gauge",
		"results/lines", "results/report", "results/report/chart", "results/report/returned", "results/returns", "results/runs", "results/store", "sequence",
		"sequence/decide", "sequence/diagnose", "sequence/product", "sequence/wording"},

	"fixture/firmware/drawings": {},
	"fixture/firmware/figures":  {"fixture/firmware"},
}

// soleImporter names the one package that may import a library which must
// stay replaceable, or one of ours that only one may reckon with.
var soleImporter = map[string]string{
	"go.bug.st/serial":                 "fixture/link",
	"github.com/mattn/go-sqlite3":      "results/store",
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
