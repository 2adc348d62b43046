package main

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const root = "../.."

const printed = `goos: linux
cpu: A processor
BenchmarkSave-2         	     500	   1000000 append-ns	   2500000 save-ns	         2.500 save/append	         2.600 save/append-high	         2.400 save/append-low	       500.0 save/append-pairs
BenchmarkOther-2        	     500	   1000000 append-ns
BenchmarkSave/of_two/latency=1ms-16         	station at http://127.0.0.1:1/
       7	      90 append-ns	         0.0120 save/append	         0.0900 save/append-high	         0.0020 save/append-low	       7.0 save/append-pairs	 	  3 save-ns
--- BENCH: BenchmarkSave/of_two-2
    save_test.go:9: 3 of 4 pairs
BenchmarkSave/alone     	       7	   5000 ns/op	   5000 save-ns
PASS
`

// What a benchmark prints is read whatever else the program prints between, and that of others is not taken for its own.
func TestFiguresAreReadFromWhatIsPrinted(t *testing.T) {
	subs := parse(strings.NewReader(printed), "BenchmarkSave")
	require.Len(t, subs, 3)
	assert.Equal(t, "", subs[0].name)
	assert.Equal(t, "of_two/latency=1ms", subs[1].name)
	assert.Equal(t, "alone", subs[2].name)
	assert.Equal(t, map[string]float64{"append-ns": 1e6, "save-ns": 2.5e6, "save/append": 2.5, "save/append-high": 2.6, "save/append-low": 2.4, "save/append-pairs": 500}, subs[0].metrics)
	assert.Equal(t, 7.0, subs[1].metrics["save/append-pairs"])
}

// A page with a line of every kind: measured, scattering, compared with nothing, failed, not run.
func TestLayoutOfThePage(t *testing.T) {
	of := &benchmark{folder: "results", name: "BenchmarkSave"}
	l := line{what: "saving {}", against: "a row", ours: "save", theirs: "append", of: of}
	all := []part{{"Records", rows(l, measured{subs: parse(strings.NewReader(printed), "BenchmarkSave")})}, {"Others", slices.Concat(
		rows(l, measured{not: missingStore}), rows(l, measured{err: errors.New("it broke")}), rows(line{what: "it", against: "a row", ours: "a", theirs: "b", of: of}, measured{}))}}
	assert.Equal(t, `2026-11-30 on a machine

  what                        ratio     95 % interval    pairs  against                               takes    beside   benchmark

Records
  saving                      2.50      2.40 to 2.60     500    a row                                 2.50 ms  1.00 ms  BenchmarkSave in results
  saving of two, latency 1ms  scatters  1/500 to 1/11.1  7      a row                                 3 ns     90 ns    BenchmarkSave in results
  saving alone                none                              nothing that could be asked the same  5.00 us           BenchmarkSave in results

Others
  saving ...                  NOT MEASURED: make line first     a row                                                   BenchmarkSave in results
  saving ...                  NOT MEASURED: the benchmark failed  a row                                                 BenchmarkSave in results
  it                          NOT MEASURED: the benchmark does not tell it  a row                                       BenchmarkSave in results
`, text("2026-11-30 on a machine", all))
	assert.Equal(t, `2026-11-30 on a machine

## Records

| what | ratio | 95 % interval | pairs | against | takes | beside | benchmark |
|---|---:|---|---:|---|---:|---:|---|
| saving | 2.50 | 2.40 to 2.60 | 500 | a row | 2.50 ms | 1.00 ms | 'BenchmarkSave' in 'results' |
| saving of two, latency 1ms | scatters | 1/500 to 1/11.1 | 7 | a row | 3 ns | 90 ns | 'BenchmarkSave' in 'results' |
| saving alone | none |  |  | nothing that could be asked the same | 5.00 us |  | 'BenchmarkSave' in 'results' |

## Others

| what | ratio | 95 % interval | pairs | against | takes | beside | benchmark |
|---|---:|---|---:|---|---:|---:|---|
| saving ... | **NOT MEASURED: make line first** |  |  | a row |  |  | 'BenchmarkSave' in 'results' |
| saving ... | **NOT MEASURED: the benchmark failed** |  |  | a row |  |  | 'BenchmarkSave' in 'results' |
| it | **NOT MEASURED: the benchmark does not tell it** |  |  | a row |  |  | 'BenchmarkSave' in 'results' |
`, strings.ReplaceAll(markdown("2026-11-30 on a machine", all), "`", "'"))
}

// Three digits, whatever the size.
func TestNumbersHaveThreeDigits(t *testing.T) {
	for v, want := range map[float64]string{1: "1.00", 1.004: "1.00", 0.5: "0.500", 0.1: "0.100", 0.0123: "1/81.3", 0.0001: "1/10000", 12.34: "12.3", 1234.5: "1234", 0: "0"} {
		assert.Equal(t, want, number(v))
	}
}

// Every line of the page has its benchmark, in a file that reports just that ratio.
func TestEveryLineHasItsBenchmark(t *testing.T) {
	reported := map[string][]string{} // ratios, by folder and benchmark
	for _, s := range page() {
		for _, l := range s.lines {
			if _, read := reported[l.of.folder]; !read {
				reported[l.of.folder] = nil
				readReports(t, l.of.folder, reported)
			}
			assert.Contains(t, reported[l.of.folder+"."+l.of.name], l.ours+"/"+l.theirs, "%s in %s", l.of.name, l.of.folder)
		}
	}
	assert.Greater(t, len(reported), 15)
}

// readReports adds the ratios that are reported in files with benchmarks.
func readReports(t *testing.T, folder string, reported map[string][]string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(root, folder, "*_test.go"))
	require.NoError(t, err)
	for _, path := range files {
		file, is := benchmarksIn(t, token.NewFileSet(), path)
		if !is {
			continue
		}
		var told []string
		ast.Inspect(file, func(n ast.Node) bool {
			if call, is := n.(*ast.CallExpr); is && calls(call, `\.Report$`) && len(call.Args) == 3 {
				told = append(told, literal(call.Args[1])+"/"+literal(call.Args[2]))
			}
			return true
		})
		for _, decl := range file.Decls {
			if benchmarks(decl) {
				key := folder + "." + decl.(*ast.FuncDecl).Name.Name
				reported[key] = append(reported[key], told...)
			}
		}
	}
}

// benchmarksIn reads a file of tests, where it has a benchmark.
func benchmarksIn(t *testing.T, fset *token.FileSet, path string) (file *ast.File, is bool) {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	if !strings.Contains(string(text), "\nfunc Benchmark") {
		return nil, false
	}
	file, err = parser.ParseFile(fset, path, text, 0)
	require.NoError(t, err)
	return file, true
}

func literal(e ast.Expr) string {
	if l, is := e.(*ast.BasicLit); is {
		text, _ := strconv.Unquote(l.Value)
		return text
	}
	return ""
}

// The page of the docs has a row for every line, by its benchmark, and no row that no line makes.
func TestEveryFigureOfTheDocsIsMeasured(t *testing.T) {
	content, err := os.ReadFile(filepath.Join(root, "docs/figures.md"))
	require.NoError(t, err)
	_, part, begun := strings.Cut(string(content), begins)
	part, _, ended := strings.Cut(part, ends)
	require.True(t, begun && ended, "docs/figures.md has no measured part")
	assert.Regexp(t, `^\d{4}-\d\d-\d\d, in .+, on .+ cores, .+ GiB, .+, go\d.+; processors asked for .+\n`, part, "when, on what, and how busy it was")
	lines := map[string]bool{} // how its rows look, and whether there is one
	for _, s := range page() {
		for _, l := range s.lines {
			what := strings.ReplaceAll(regexp.QuoteMeta(l.what), `\{\}`, ".+")
			by := regexp.QuoteMeta("`" + l.of.name + "` in `" + l.of.folder + "`")
			lines["^"+s.name+` \| `+what+` \| .+ \| (`+regexp.QuoteMeta(l.against)+`|nothing that could be asked the same)(, \d+ runs)? \| .* \| `+by+"$"] = false
		}
	}
	section, count := "", 0
	for line := range strings.Lines(part) {
		row, is := strings.CutPrefix(strings.TrimSuffix(line, " |\n"), "| ")
		if name, heads := strings.CutPrefix(line, "## "); heads {
			section = strings.TrimSpace(name)
		}
		if !is || strings.HasPrefix(row, "what |") {
			continue
		}
		count++
		assert.Len(t, strings.Split(row, " | "), len(head.cells()), row)
		made := false
		for pattern := range lines {
			if regexp.MustCompile(pattern).MatchString(section + " | " + row) {
				made, lines[pattern] = true, true
			}
		}
		assert.True(t, made, "no line makes this: %s", row)
	}
	for pattern, there := range lines {
		assert.True(t, there, "it has no row, make bench writes one: %s", pattern)
	}
	assert.GreaterOrEqual(t, count, len(lines))
}

func TestMeasuredPartIsWrittenAnew(t *testing.T) {
	path := filepath.Join(t.TempDir(), "figures.md")
	require.NoError(t, os.WriteFile(path, []byte("# Figures\n\nby hand\n\n"+begins+"old\n"+ends+"\n\nby hand too\n"), 0o600))
	require.NoError(t, rewrite(path, "new\n"))
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "# Figures\n\nby hand\n\n"+begins+"new\n"+ends+"\n\nby hand too\n", string(content))
	require.NoError(t, os.WriteFile(path, []byte("# Figures\n"), 0o600))
	assert.ErrorContains(t, rewrite(path, "new\n"), "has no place for figures")
	content, err = os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "# Figures\n", string(content))
}

// A store that make line did not make yet is said where its figures would stand, and nothing is run.
func TestMissingStoreIsSaid(t *testing.T) {
	r, err := newRunner("")
	require.NoError(t, err)
	defer r.close()
	of := &benchmark{folder: "nowhere", name: "BenchmarkNone", line: true}
	got := rows(line{what: "{}", against: "another", of: of}, r.measured(t.Context(), of))
	require.Len(t, got, 1)
	assert.Equal(t, "NOT MEASURED: make line first", got[0].cells()[1])
}

// A benchmark that fails, gives nothing or is skipped is not left out: what it gave stands there, and that it failed.
func TestBenchmarksThatFailAreSaid(t *testing.T) {
	r, err := newRunner("")
	require.NoError(t, err)
	defer r.close()
	for name, c := range map[string]struct{ script, lines string }{
		"fails in the middle": {"echo 'BenchmarkIt/one-2 9 5 a-ns 5 b-ns 1 a/b 1 a/b-low 1 a/b-high 9 a/b-pairs'; echo '--- FAIL: BenchmarkIt/two'; exit 1", "one: 1.00; ...: NOT MEASURED: the benchmark failed"},
		"gives nothing":       {"echo PASS", "...: NOT MEASURED: the benchmark failed"},
		"gives another ratio": {"echo 'BenchmarkIt-2 9 5 ns/op'", ": NOT MEASURED: the benchmark does not tell it"},
		"gives what it was asked for": {`echo "BenchmarkIt/$(echo $@ | tr ' /' '__')-2 9 5 a-ns"`,
			"-test.run ^$ -test.bench ^BenchmarkIt$ ^x$ -test.benchtime 9x -test.timeout 1h -verdicts 5: none"},
	} {
		t.Run(name, func(t *testing.T) {
			of := &benchmark{folder: ".", name: "BenchmarkIt", pick: "^x$", times: "9x", flags: []string{"-verdicts", "5"}}
			r.built[of.folder] = nil
			require.NoError(t, os.WriteFile(r.program(of.folder), []byte("#!/bin/sh\n"+c.script+"\n"), 0o700))
			var said []string
			for _, row := range rows(line{what: "{}", ours: "a", theirs: "b", of: of}, r.measured(t.Context(), of)) {
				said = append(said, row.what+": "+row.cells()[1])
			}
			assert.Equal(t, c.lines, strings.Join(said, "; "))
		})
	}
}

// How long something took on this machine decides nothing: what was timed (time.Since, Elapsed) is asserted nowhere in a file that has
// a benchmark. In fake time (synctest) it is exact, and may be.
func TestNothingThatIsTimedIsAsserted(t *testing.T) {
	looked := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		fset := token.NewFileSet()
		file, is := benchmarksIn(t, fset, path)
		if !is {
			return nil
		}
		for _, decl := range file.Decls {
			if f, is := decl.(*ast.FuncDecl); is && f.Body != nil {
				looked++
				for _, at := range asserted(f) {
					t.Errorf("%s: %s asserts how long something took", fset.Position(at), f.Name.Name)
				}
			}
		}
		return nil
	})
	require.NoError(t, err)
	assert.Greater(t, looked, 100)
}

func benchmarks(d ast.Decl) bool {
	f, is := d.(*ast.FuncDecl)
	return is && f.Recv == nil && strings.HasPrefix(f.Name.Name, "Benchmark")
}

func TestTimedAssertionsAreSeen(t *testing.T) {
	seen := func(body string) int {
		file, err := parser.ParseFile(token.NewFileSet(), "a_test.go", "package a\nfunc f(t *testing.T) {\n"+body+"\n}", 0)
		require.NoError(t, err)
		return len(asserted(file.Decls[0].(*ast.FuncDecl)))
	}
	assert.Equal(t, 1, seen(`took := time.Since(began); assert.Less(t, took, time.Second)`))
	assert.Equal(t, 1, seen(`require.LessOrEqual(t, time.Since(began).Seconds(), 2.0)`))
	assert.Equal(t, 1, seen(`a := time.Since(began); b := time.Since(then); if a > 2*b { t.Errorf("slow") }`))
	assert.Equal(t, 1, seen(`if b.Elapsed() > time.Second { b.Fatal("slow") }`))
	assert.Equal(t, 0, seen(`took := time.Since(began); t.Log(took); assert.Less(t, n, 3)`))
	assert.Equal(t, 0, seen(`synctest.Test(t, func(t *testing.T) { assert.Equal(t, time.Second, time.Since(began)) })`))
}

var (
	comparing = regexp.MustCompile(`^(Less|LessOrEqual|Greater|GreaterOrEqual|InDelta|InEpsilon|Equal|WithinDuration|WithinRange)f?$`)
	failing   = regexp.MustCompile(`^(Error|Errorf|Fatal|Fatalf|Fail|FailNow)$`)
)

// asserted are the places where a function makes a test depend on what it timed.
func asserted(f *ast.FuncDecl) (at []token.Pos) {
	timed, fake := map[string]bool{}, false
	isTimed := func(e ast.Node) (is bool) {
		ast.Inspect(e, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CallExpr:
				is = is || calls(n, `^time\.Since$|\.Elapsed$`)
			case *ast.Ident:
				is = is || timed[n.Name]
			case *ast.FuncLit:
				return false
			}
			return !is
		})
		return is
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			for i, to := range n.Lhs {
				if name, is := to.(*ast.Ident); is && len(n.Rhs) == len(n.Lhs) && isTimed(n.Rhs[i]) {
					timed[name.Name] = true
				}
			}
		case *ast.CallExpr:
			fake = fake || calls(n, `^synctest\.Test$`)
			if of, is := n.Fun.(*ast.SelectorExpr); is && comparing.MatchString(of.Sel.Name) && calls(n, `^(assert|require)\.`) {
				if slices.ContainsFunc(n.Args[min(1, len(n.Args)):], func(e ast.Expr) bool { return isTimed(e) }) {
					at = append(at, n.Pos())
				}
			}
		case *ast.IfStmt:
			if compare, is := n.Cond.(*ast.BinaryExpr); is && slices.Contains([]token.Token{token.LSS, token.GTR, token.LEQ, token.GEQ}, compare.Op) &&
				isTimed(compare) && fails(n.Body) {
				at = append(at, n.Pos())
			}
		}
		return true
	})
	if fake {
		return nil
	}
	return at
}

// calls reports whether a call is of a function that is written like this.
func calls(call *ast.CallExpr, pattern string) bool {
	of, is := call.Fun.(*ast.SelectorExpr)
	if !is {
		return false
	}
	name := "." + of.Sel.Name
	if x, is := of.X.(*ast.Ident); is {
		name = x.Name + name
	}
	return regexp.MustCompile(pattern).MatchString(name)
}

func fails(body *ast.BlockStmt) (does bool) {
	ast.Inspect(body, func(n ast.Node) bool {
		if call, is := n.(*ast.CallExpr); is {
			if of, is := call.Fun.(*ast.SelectorExpr); is {
				does = does || failing.MatchString(of.Sel.Name)
			}
		}
		return !does
	})
	return does
}
