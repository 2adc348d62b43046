package main

import (
	"bytes"
	"errors"
	"fmt"
	"go/ast"
	"go/build"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a room may be. A type or package that outgrows this is cut where its data
// part; a package whose matter does not part is listed in DEVELOPERS.md with its
// reason, under "Rooms above 3,000 lines".
const (
	mostMethods = 30
	mostLines   = 3000
)

func TestRoomsHaveFewMethods(t *testing.T) {
	t.Parallel()
	var above []string
	for _, p := range rooms(t) {
		methods := map[string]int{}
		for _, file := range p.files {
			for _, decl := range file.Decls {
				if f, ok := decl.(*ast.FuncDecl); ok && f.Recv != nil {
					methods[p.path+"."+receiver(f)]++
				}
			}
		}
		for name, n := range methods {
			if n > mostMethods {
				above = append(above, name)
			}
		}
	}
	assert.Empty(t, above, "has more than 30 methods: give what it does to small types that own their data")
}

func TestRoomsAreSmall(t *testing.T) {
	t.Parallel()
	page, err := os.ReadFile(root + "/DEVELOPERS.md")
	require.NoError(t, err)
	_, section, _ := strings.Cut(string(page), "\n## Rooms above 3,000 lines\n")
	section, _, _ = strings.Cut(section, "\n## ")
	var listed, above []string
	for _, row := range regexp.MustCompile("(?m)^- `([^`]+)`: .+").FindAllStringSubmatch(section, -1) {
		listed = append(listed, row[1])
	}
	for _, p := range rooms(t) {
		if p.lines > mostLines {
			above = append(above, p.path)
			t.Logf("%s: %d lines", p.path, p.lines)
		}
	}
	slices.Sort(listed)
	assert.Equal(t, listed, above, "those with more than 3,000 lines, and those of the section in DEVELOPERS.md: part it, or give the reason there")
}

// What a package remembers belongs to a value that somebody makes, not to the
// package: else two jigs, stores or tests in one process share it.
func TestRoomsKeepNoStateOfTheirOwn(t *testing.T) {
	t.Parallel()
	declared, changed := map[string]bool{}, map[string]bool{}
	for _, p := range rooms(t) {
		for _, file := range p.files {
			for name, state := range variables(file) {
				declared[p.path+"."+name] = true
				if state {
					changed[p.path+"."+name] = true
				}
			}
		}
		maps.Copy(changed, assigned(p))
	}
	maps.DeleteFunc(changed, func(name string, _ bool) bool { return !declared[name] }) // those of tests live and end with them
	assert.Empty(t, changed, "is a variable of a package and is changed: give it to whom it belongs")
}

// Whoever sends on a channel while it holds a lock waits for a reader who may be
// waiting for the lock.
func TestRoomsSendNothingUnderALock(t *testing.T) {
	t.Parallel()
	found := map[string]bool{}
	for _, p := range rooms(t) {
		for _, file := range p.files {
			for _, name := range sendsUnderLock(file) {
				found[p.path+"."+name] = true
			}
		}
	}
	assert.Empty(t, found, "sends on a channel between Lock and Unlock: send after it, or use a sync.Cond")
}

// What a value is made with it keeps: a setter lets anybody who has it change what
// others already go by. Give it to who makes the value, or make a new one.
func TestRoomsHaveNoSetters(t *testing.T) {
	for _, p := range rooms(t) {
		for _, file := range p.files {
			for _, decl := range file.Decls {
				if f, ok := decl.(*ast.FuncDecl); ok && setter(f) {
					assert.Contains(t, demandedSetters, p.path+"."+receiver(f)+"."+f.Name.Name, "is a setter")
				}
			}
		}
	}
}

// demandedSetters are those that a library demands, and those that set nothing of
// their value that was set before.
var demandedSetters = []string{
	"cmd/padjig/web/page.Visit.SetCookie",              // as net/http names it: a header of the answer
	"cmd/padjig/web/webtest.wireless.SetWriteDeadline", // net/http.ResponseController
	"results/store.Entry.Set",                          // adds the next column of a row that is being written
}

// setter reports a method named Set or SetSomething, which is given something; that of
// a flag's value, which pflag demands, is none.
func setter(f *ast.FuncDecl) bool {
	named := f.Recv != nil && regexp.MustCompile(`^Set([A-Z]|$)`).MatchString(f.Name.Name) && len(f.Type.Params.List) > 0
	ofFlag := f.Name.Name == "Set" && regexp.MustCompile(`^func\((\w+ )?string\) error$`).MatchString(types.ExprString(f.Type))
	return named && !ofFlag
}

// room is one package as it is written.
type room struct {
	path       string
	fset       *token.FileSet
	lines      int         // without those of tests
	files, all []*ast.File // without and with tests
}

// rooms reads every package of the module, as it is built here.
func rooms(t *testing.T) []*room {
	t.Helper()
	found := map[string]*room{}
	fset := token.NewFileSet()
	for _, file := range goFiles(t) {
		dir, name := path.Split(filepath.ToSlash(file))
		here, err := build.Default.MatchFile(filepath.Join(root, dir), name)
		require.NoError(t, err)
		text, err := os.ReadFile(filepath.Join(root, file))
		require.NoError(t, err)
		p := found[path.Clean(dir)]
		if p == nil {
			p = &room{path: path.Clean(dir), fset: fset}
			found[p.path] = p
		}
		isTest := strings.HasSuffix(name, "_test.go")
		if !isTest {
			p.lines += bytes.Count(text, []byte("\n"))
		}
		if !here {
			continue
		}
		parsed, err := parser.ParseFile(fset, file, text, parser.SkipObjectResolution)
		require.NoError(t, err)
		if p.all = append(p.all, parsed); !isTest {
			p.files = append(p.files, parsed)
		}
	}
	require.Greater(t, len(found), 20, "the walk found the packages")
	return slices.SortedFunc(maps.Values(found), func(a, b *room) int { return strings.Compare(a.path, b.path) })
}

func receiver(f *ast.FuncDecl) string {
	expr := f.Recv.List[0].Type
	for {
		switch e := expr.(type) {
		case *ast.StarExpr:
			expr = e.X
		case *ast.IndexExpr:
			expr = e.X
		case *ast.IndexListExpr:
			expr = e.X
		case *ast.Ident:
			return e.Name
		default:
			return fmt.Sprint(e)
		}
	}
}

// noImports lets a package be checked by itself: what its own names stand for is
// known without what it imports.
type noImports struct{}

func (noImports) Import(string) (*types.Package, error) { return nil, errors.New("not looked at") }

// assigned lists the variables of packages that a package and its tests change.
func assigned(p *room) map[string]bool {
	found := map[string]bool{}
	byName := map[string][]*ast.File{} // tests may be a package of their own
	for _, f := range p.all {
		byName[f.Name.Name] = append(byName[f.Name.Name], f)
	}
	for _, files := range byName {
		info := &types.Info{Uses: map[*ast.Ident]types.Object{}}
		config := types.Config{Importer: noImports{}, Error: func(error) {}}
		checked, _ := config.Check(p.path, p.fset, files, info) // errors are of what was not looked at
		note := func(target ast.Expr) {
			if name := packageVar(checked, info, target); name != "" {
				found[name] = true
			}
		}
		for _, f := range files {
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.AssignStmt:
					if n.Tok != token.DEFINE {
						for _, target := range n.Lhs {
							note(target)
						}
					}
				case *ast.IncDecStmt:
					note(n.X)
				case *ast.RangeStmt:
					if n.Tok == token.ASSIGN {
						note(n.Key)
						note(n.Value)
					}
				case *ast.CallExpr:
					if f, ok := n.Fun.(*ast.Ident); ok && (f.Name == "delete" || f.Name == "clear") {
						note(n.Args[0])
					}
				}
				return true
			})
		}
	}
	return found
}

// packageVar names the variable of a package that an expression changes a part of, if
// it does.
func packageVar(checked *types.Package, info *types.Info, target ast.Expr) string {
	for {
		switch e := target.(type) {
		case *ast.Ident:
			v, ok := info.Uses[e].(*types.Var)
			if !ok || v.Parent() != checked.Scope() {
				return ""
			}
			return checked.Path() + "." + e.Name
		case *ast.SelectorExpr:
			if x, ok := e.X.(*ast.Ident); ok {
				if p, ok := info.Uses[x].(*types.PkgName); ok {
					own, ours := strings.CutPrefix(p.Imported().Path(), "padjig/")
					if !ours {
						return ""
					}
					return own + "." + e.Sel.Name
				}
			}
			target = e.X
		case *ast.IndexExpr:
			target = e.X
		case *ast.ParenExpr:
			target = e.X
		default: // through a pointer, or of a value that was called for
			return ""
		}
	}
}

// variables lists those of a package that a file declares, and whether their types are
// there to be changed.
func variables(file *ast.File) map[string]bool {
	found := map[string]bool{}
	for _, decl := range file.Decls {
		general, ok := decl.(*ast.GenDecl)
		if !ok || general.Tok != token.VAR {
			continue
		}
		for _, spec := range general.Specs {
			v := spec.(*ast.ValueSpec)
			for _, name := range v.Names {
				found[name.Name] = holdsState(v.Type) || slices.ContainsFunc(v.Values, holdsState)
			}
		}
	}
	return found
}

// stateless are the parts of package sync that remember nothing anybody could tell:
// what is worked out once, and memory that is used again.
var stateless = regexp.MustCompile(`^(Pool|Once.*)$`)

// holdsState reports whether a type, or a value with its type, has a lock or
// something like it in it.
func holdsState(of ast.Expr) (state bool) {
	if of == nil {
		return false
	}
	ast.Inspect(of, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := s.X.(*ast.Ident); ok && (x.Name == "atomic" || x.Name == "sync") && !stateless.MatchString(s.Sel.Name) {
				state = true
			}
		}
		_, function := n.(*ast.FuncLit)
		return !function
	})
	return state
}

// sendsUnderLock lists the functions of a file that send on a channel between Lock
// and Unlock. What a function calls is not followed.
func sendsUnderLock(file *ast.File) (names []string) {
	for _, decl := range file.Decls {
		f, ok := decl.(*ast.FuncDecl)
		if !ok || f.Body == nil {
			continue
		}
		name := f.Name.Name
		if f.Recv != nil {
			name = receiver(f) + "." + name
		}
		w := lockWalk{bodies: []*ast.BlockStmt{f.Body}}
		for len(w.bodies) > 0 {
			body := w.bodies[0]
			w.bodies = w.bodies[1:]
			w.block(body.List, 0)
		}
		if w.sends {
			names = append(names, name)
		}
	}
	return names
}

// lockWalk goes through the statements of a function and counts the locks held.
type lockWalk struct {
	sends  bool
	bodies []*ast.BlockStmt // of functions within it, which hold nothing when they begin
}

func (w *lockWalk) block(list []ast.Stmt, held int) int {
	for _, s := range list {
		held = w.statement(s, held)
	}
	return held
}

func (w *lockWalk) statement(s ast.Stmt, held int) int {
	var branches []ast.Stmt
	switch s := s.(type) {
	case *ast.BlockStmt:
		return w.block(s.List, held)
	case *ast.LabeledStmt:
		return w.statement(s.Stmt, held)
	case *ast.IfStmt:
		held = w.simple(s.Init, w.simple(s.Cond, held))
		branches = append(branches, s.Body, s.Else)
	case *ast.ForStmt:
		held = w.simple(s.Init, w.simple(s.Cond, held))
		branches = append(branches, s.Body)
	case *ast.RangeStmt:
		held = w.simple(s.X, held)
		branches = append(branches, s.Body)
	case *ast.SwitchStmt:
		held = w.simple(s.Init, w.simple(s.Tag, held))
		branches = s.Body.List
	case *ast.TypeSwitchStmt:
		branches = s.Body.List
	case *ast.SelectStmt:
		branches = s.Body.List
	default:
		return w.simple(s, held)
	}
	after := held
	for _, branch := range branches {
		list := clause(branch)
		end := w.block(list, held)
		if n := len(list); n > 0 {
			switch list[n-1].(type) {
			case *ast.ReturnStmt, *ast.BranchStmt: // what it let go of is held where it goes on
				continue
			}
		}
		after = end
	}
	return after
}

// clause gives the statements of a branch, with the send or receive of a case.
func clause(branch ast.Stmt) []ast.Stmt {
	switch c := branch.(type) {
	case *ast.BlockStmt:
		return c.List
	case *ast.CaseClause:
		return c.Body
	case *ast.CommClause:
		if c.Comm != nil {
			return append([]ast.Stmt{c.Comm}, c.Body...)
		}
		return c.Body
	case nil:
		return nil
	}
	return []ast.Stmt{branch}
}

// simple deals with what has no statements in it but those of functions.
func (w *lockWalk) simple(n ast.Node, held int) int {
	if n == nil {
		return held
	}
	ast.Inspect(n, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncLit:
			w.bodies = append(w.bodies, n.Body)
			return false
		case *ast.DeferStmt: // an Unlock at the end
			if f, ok := n.Call.Fun.(*ast.FuncLit); ok {
				w.bodies = append(w.bodies, f.Body)
			}
			return false
		case *ast.CallExpr:
			if f, ok := n.Fun.(*ast.SelectorExpr); ok && len(n.Args) == 0 {
				switch f.Sel.Name {
				case "Lock", "RLock":
					held++
				case "Unlock", "RUnlock":
					held = max(0, held-1)
				}
			}
		case *ast.SendStmt:
			w.sends = w.sends || held > 0
		}
		return true
	})
	return held
}

// What the rules look for is found, and what looks like it is not.
func TestRoomsFindWhatTheyLookFor(t *testing.T) {
	parse := func(text string) *room {
		r := &room{path: "p", fset: token.NewFileSet()}
		file, err := parser.ParseFile(r.fset, "x.go", "package x\n"+text, parser.SkipObjectResolution)
		require.NoError(t, err)
		r.all = append(r.all, file)
		return r
	}
	for body, sends := range map[string]bool{
		"mu.Lock(); c <- 1; mu.Unlock()":                                           true,
		"mu.Lock(); defer mu.Unlock(); if a { c <- 1 }":                            true,
		"mu.RLock(); defer mu.RUnlock(); for { c <- 1 }":                           true,
		"mu.Lock(); defer mu.Unlock(); select { case c <- 1: default: }":           true,
		"mu.Lock(); if a { mu.Unlock(); return }; c <- 1; mu.Unlock()":             true,
		"defer func() { mu.Lock(); c <- 1; mu.Unlock() }()":                        true,
		"mu.Lock(); switch a { case 1: mu.Unlock(); return; default: c <- 1 }":     true,
		"mu.Lock(); mu.Unlock(); c <- 1":                                           false,
		"mu.Lock(); if a { mu.Unlock(); c <- 1; return }; mu.Unlock()":             false,
		"mu.Lock(); go func() { c <- 1 }(); mu.Unlock()":                           false,
		"c <- 1; mu.Lock(); close(c); mu.Unlock()":                                 false,
		"mu.Lock(); defer mu.Unlock(); select { case v := <-c: use(v); default: }": false,
	} {
		found := sendsUnderLock(parse("func f() { " + body + " }").all[0])
		assert.Equal(t, sends, len(found) > 0, body)
	}
	for text, want := range map[string][]string{
		"var v int; func f() { v = 1 }":                               {"p.v"},
		"var v int; func f() { v++ }":                                 {"p.v"},
		"var v []int; func f() { v[0] += 1 }":                         {"p.v"},
		"var v struct{ a struct{ b int } }; func f() { v.a.b = 1 }":   {"p.v"},
		"var v map[int]int; func f() { delete(v, 1) }":                {"p.v"},
		"var v int; func f() { for v = range 3 { } }":                 {"p.v"},
		`import "padjig/sequence"; func f() { sequence.Plain = nil }`: {"sequence.Plain"},
		"var v = 3; func f() int { return v }":                        nil,
		"var v int; func f() { v := 1; v = 2; _ = v }":                nil,
		"var v int; func f(v int) { v = 2 }":                          nil,
		"var w int; func f(v *int) { *v = w }":                        nil,
	} {
		found := assigned(parse(text))
		assert.ElementsMatch(t, want, slices.Collect(maps.Keys(found)), text)
	}
	for text, want := range map[string]bool{
		"func (v *T) SetZero(n int) {}": true, "func (v *T) Set(name string, n any) {}": true, "func (v T[E]) SetIt(E) E {}": true,
		"func (v *T) Set(text string) error {}": false, "func (v *T) Set(string) error {}": false, "func (v *T) Settled(int) {}": false,
		"func (v *T) Set() Set {}": false, "func SetZero(n int) {}": false,
	} {
		assert.Equal(t, want, setter(parse(text).all[0].Decls[0].(*ast.FuncDecl)), text)
	}
	for text, want := range map[string]bool{
		"var v sync.Mutex": true, "var v struct { sync.Mutex; n int }": true, "var v atomic.Int64": true, "var v sync.Map": true,
		"var v = struct { mu sync.Mutex }{}": true, "var v = new(sync.RWMutex)": true,
		"var v = sync.OnceValue(read)": false, "var v = sync.Pool{New: new}": false, "var v = map[string]int{}": false,
		"var v = func() { var mu sync.Mutex; mu.Lock() }": false,
	} {
		assert.Equal(t, map[string]bool{"v": want}, variables(parse(text).all[0]), text)
	}
}

// The page for developers names files and folders that are there: a map of what was
// is worse than none.
func TestDevelopersFindWhatThePageNames(t *testing.T) {
	t.Parallel()
	page, err := os.ReadFile(root + "/DEVELOPERS.md")
	require.NoError(t, err)
	var all []string
	for _, file := range everyFile(t) {
		all = append(all, "/"+file)
	}
	there := func(name string) bool {
		return slices.ContainsFunc(all, func(file string) bool { return strings.HasSuffix(file, "/"+name) })
	}
	named := regexp.MustCompile("`([a-z_/]+\\.(?:go|sql|json|c|h|html|md))`").FindAllStringSubmatch(string(page), -1)
	require.Greater(t, len(named), 80)
	for _, m := range named {
		assert.True(t, there(m[1]), "%s is not there", m[1])
	}
	_, house, _ := strings.Cut(string(page), "\n```\n")
	house, _, found := strings.Cut(house, "\n```\n")
	require.True(t, found)
	top := ""
	for line := range strings.Lines(house) {
		for _, folder := range regexp.MustCompile(`^(?:  )?((?:[a-z]+/)+)(?: |$)|^  (?:[a-z/]+/ )+`).FindAllString(line, 1) {
			for name := range strings.FieldsSeq(folder) {
				if !strings.HasPrefix(line, " ") {
					top = name
					name = ""
				}
				assert.True(t, slices.ContainsFunc(all, func(file string) bool { return strings.HasPrefix(file, "/"+top+name) }),
					"%s%s is no folder", top, name)
			}
		}
	}
}

// everyFile lists the files of the repository that may be named.
func everyFile(t *testing.T) (files []string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
		if err == nil && entry.IsDir() && strings.HasPrefix(entry.Name(), ".") && entry.Name() != ".." {
			return filepath.SkipDir
		}
		if err == nil && !entry.IsDir() {
			name, _ := filepath.Rel(root, path)
			files = append(files, filepath.ToSlash(name))
		}
		return err
	}))
	return files
}
