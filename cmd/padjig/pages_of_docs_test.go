package main

import (
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// manualPages is every page that people read, by its path from the top of the clone.
func manualPages(t *testing.T) map[string]string {
	t.Helper()
	pages := map[string]string{}
	for _, at := range []string{"docs", "README.md", "DEVELOPERS.md", "CHANGELOG.md"} {
		require.NoError(t, filepath.WalkDir(filepath.Join(root, at), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || filepath.Ext(path) != ".md" {
				return err
			}
			text, err := os.ReadFile(path)
			name, _ := filepath.Rel(root, path)
			pages[filepath.ToSlash(name)] = string(text)
			return err
		}))
	}
	require.Greater(t, len(pages), 30)
	return pages
}

// typeable is a command line of a page. One that is whole is shown on a line of its own and has all that its command
// needs; within a sentence the name of a command will do.
type typeable struct {
	page  string
	line  int
	words []string
	whole bool
}

func (l typeable) at() string {
	return fmt.Sprintf("%s:%d: %s", l.page, l.line, strings.Join(l.words, " "))
}

var (
	indented = regexp.MustCompile(`^(?:\t| {4})(?:\$ )?((?:\w+=\S+ )*(?:padjig|make|go) .*)$`)
	inFence  = regexp.MustCompile(`^(?:\$ )?((?:\w+=\S*)?(?:padjig|make|go|kill|mkdir) .*)$`)
	ticked   = regexp.MustCompile("`((?:padjig|make|go (?:test|run|install))\\s[^`]*)`")
	goesOn   = regexp.MustCompile(`[ \t]*\\\n\s*`)
)

// typeables finds the command lines of a page: indented, fenced, and within sentences.
func typeables(page, text string) (found []typeable) {
	inside, prose := false, make([]string, 0, strings.Count(text, "\n"))
	lines := strings.Split(text, "\n")
	for n := 0; n < len(lines); n++ {
		at, l := n+1, lines[n]
		for strings.HasSuffix(l, `\`) && n+1 < len(lines) { // a line that goes on
			n++
			l = goesOn.ReplaceAllString(l+"\n"+lines[n], " ")
			prose = append(prose, "")
		}
		fence := strings.HasPrefix(l, "```")
		inside = inside != fence
		of := indented
		if inside {
			of = inFence
		}
		if m := of.FindStringSubmatch(l); m != nil {
			for _, words := range commands(m[1]) {
				found = append(found, typeable{page, at, words, true})
			}
			l = ""
		}
		if inside || fence {
			l = ""
		}
		prose = append(prose, l)
	}
	text = strings.Join(prose, "\n")
	for _, m := range ticked.FindAllStringSubmatchIndex(text, -1) {
		for _, words := range commands(strings.ReplaceAll(text[m[2]:m[3]], "\n", " ")) {
			found = append(found, typeable{page, 1 + strings.Count(text[:m[0]], "\n"), words, false})
		}
	}
	return found
}

// commands takes a line apart as a shell does, as far as pages go: the words of each of its commands that are ours. What
// stands behind two spaces is a remark.
func commands(line string) (all [][]string) {
	word := regexp.MustCompile(`^(?:"[^"]*"|'[^']*'|[^\s"'|;&()#>])+`)
	into := regexp.MustCompile(`^>+ *[^\s;|&]+`) // a file, which is no word of the command
	var words []string
	next := func() {
		if len(words) > 0 && slices.Contains([]string{"padjig", "make", "go"}, words[0]) {
			all = append(all, words)
		}
		words = nil
	}
	defer func() { next() }()
	for line != "" {
		switch m := word.FindString(line); {
		case into.MatchString(line):
			line = line[len(into.FindString(line)):]
		case m != "":
			plain := strings.NewReplacer(`"`, "", `'`, "").Replace(m)
			if len(words) > 0 || !strings.HasPrefix(plain, "REPORTS=") {
				words = append(words, plain)
			}
			line = line[len(m):]
		case line[0] == '#' || strings.HasPrefix(line, "  ") && len(words) > 0:
			next()
			return all
		default:
			if strings.ContainsRune("|;&()", rune(line[0])) {
				next()
			}
			line = line[1:]
		}
	}
	next()
	return all
}

// TestCommandLinesOfThePages takes every command line of every page for one that somebody types: the command is there,
// and its flags, with values that they take; shown on a line of its own it has all that it needs.
func TestCommandLinesOfThePages(t *testing.T) {
	count := map[string]int{}
	for page, text := range manualPages(t) {
		for _, l := range typeables(page, text) {
			count[l.words[0]]++
			err := map[string]func(typeable) error{"padjig": understood, "make": made, "go": tried}[l.words[0]](l)
			if page != "CHANGELOG.md" { // which names what there was
				assert.NoError(t, err, l.at())
			}
		}
	}
	assert.Greater(t, count["padjig"], 300)
	assert.Greater(t, count["make"], 20)
	assert.Greater(t, count["go"], 30)
}

// understood asks the program's own tree of commands, as far as reading its line.
func understood(l typeable) error {
	words := slices.DeleteFunc(slices.Clone(l.words[1:]), func(w string) bool { return strings.ContainsAny(w[:1], "[><") })
	tree := newRoot()
	tree.InitDefaultHelpCmd()
	tree.InitDefaultCompletionCmd(words...)
	cmd, rest, err := tree.Find(words)
	if err != nil {
		return err
	}
	cmd.InitDefaultHelpFlag()
	if n := len(rest); !l.whole && n > 0 && strings.HasPrefix(rest[n-1], "--") {
		if cmd.Flag(strings.TrimPrefix(rest[n-1], "--")) != nil { // named by the way, without its value
			rest = rest[:n-1]
		}
	}
	for i, w := range rest { // what stands for a value of one's own
		if f := cmd.Flag(strings.TrimPrefix(w, "--")); strings.HasPrefix(w, "--") && f != nil && i+1 < len(rest) {
			rest[i+1] = standIn(f, rest[i+1])
		}
	}
	if err := cmd.ParseFlags(rest); err != nil {
		if strings.HasSuffix(err.Error(), "help requested") {
			return nil
		}
		return err
	}
	switch args := cmd.Flags().Args(); {
	case len(args) > 0 && cmd.HasSubCommands() && !slices.Contains([]string{"unit", "station"}, cmd.Name()):
		return fmt.Errorf("%s has no command %q", cmd.CommandPath(), args[0])
	case l.whole:
		if err := cmd.ValidateRequiredFlags(); err != nil {
			return err
		}
		return cmd.ValidateArgs(args)
	case len(args) > 0:
		return cmd.ValidateArgs(args)
	}
	return nil
}

// standIn is a value for a word in capitals, which a page writes for one of the reader's own.
func standIn(f *pflag.Flag, word string) string {
	if strings.ToUpper(word) != word || !regexp.MustCompile(`^[A-Z]{2,}$`).MatchString(word) {
		return word
	}
	switch f.Value.Type() {
	case "int", "int64", "uint64", "float64", "uint", "uint8":
		return "1"
	case "duration":
		return "1s"
	}
	return word
}

// made asks make itself, which does nothing, for the targets.
func made(l typeable) error {
	said, err := exec.Command("make", append([]string{"-n", "-C", root}, l.words[1:]...)...).CombinedOutput()
	if strings.Contains(string(said), "No rule to make target") {
		return fmt.Errorf("%w: %s", err, said)
	}
	return nil
}

// tried looks for the packages of a go command, and for tests of the names, and with the flags, that a go test has.
func tried(l typeable) error {
	var folders []string
	asked, own := map[string]string{}, []string{}
	for i := 2; i < len(l.words); i++ {
		w := l.words[i]
		name, value, given := strings.Cut(strings.TrimLeft(w, "-"), "=")
		take := func() string {
			if !given && i+1 < len(l.words) {
				i++
				value = l.words[i]
			}
			return value
		}
		switch {
		case strings.HasPrefix(w, "./"):
			folders = append(folders, w)
		case l.words[1] != "test" || !strings.HasPrefix(w, "-"):
		case slices.Contains([]string{"run", "bench", "fuzz"}, name):
			asked[name] = take()
		case slices.Contains([]string{"count", "timeout", "benchtime", "fuzztime", "o"}, name):
			take()
		case slices.Contains([]string{"v", "race", "c"}, name):
		default:
			own = append(own, name)
		}
	}
	for _, folder := range folders {
		if info, err := os.Stat(filepath.Join(root, strings.TrimSuffix(folder, "..."))); err != nil || !info.IsDir() {
			return fmt.Errorf("no package %s", folder)
		}
		if l.words[1] != "test" || strings.HasSuffix(folder, "...") {
			continue
		}
		tests, _ := filepath.Glob(filepath.Join(root, folder, "*_test.go"))
		var text strings.Builder
		for _, file := range tests {
			read, err := os.ReadFile(file)
			if err != nil {
				return err
			}
			text.Write(read)
		}
		for kind, of := range map[string]string{"run": "Test", "bench": "Benchmark", "fuzz": "Fuzz"} {
			want, is := asked[kind]
			if !is || want == "none" || want == "^$" {
				continue
			}
			named, err := regexp.Compile(want)
			if err != nil {
				return err
			}
			names := regexp.MustCompile(`(?m)^func (`+of+`\w+)\(`).FindAllStringSubmatch(text.String(), -1)
			if !slices.ContainsFunc(names, func(m []string) bool { return named.MatchString(m[1]) }) {
				return fmt.Errorf("%s has no %s of %s", folder, of, want)
			}
		}
		for _, name := range own {
			if !regexp.MustCompile(`flag\.\w+\("` + name + `"`).MatchString(text.String()) {
				return fmt.Errorf("the tests of %s have no flag -%s", folder, name)
			}
		}
	}
	return nil
}

// TestFilesThatThePagesName finds every file that stands in a page by the end of its path; what is in capitals, and a
// star, stands for any name.
func TestFilesThatThePagesName(t *testing.T) {
	listed, err := exec.Command("git", "-C", root, "ls-files", "--cached", "--others", "--exclude-standard").Output()
	require.NoError(t, err)
	files := "\n/" + strings.ReplaceAll(string(listed), "\n", "\n/")
	named := regexp.MustCompile("`([\\w*./{}-]+\\.(?:go|c|h|S|sql|html|css|js|mjs|txtar|md|json|yaml|dts))`")
	// What is the reader's own, the kernel's, the computer's, or made while the station runs or the package is made.
	own := regexp.MustCompile(`^(?:/.*|[a-z]|my-pad|bench-4|board|gcc-20|linux/.*|screen|product\.schema|padjig\.spdx|padjig-backup|0000.*)\.\w+$`)
	count := 0
	for page, text := range manualPages(t) {
		if page == "CHANGELOG.md" {
			continue
		}
		for _, m := range named.FindAllStringSubmatch(text, -1) {
			name := path.Clean(strings.TrimPrefix(m[1], "../"))
			if own.MatchString(name) {
				continue
			}
			count++
			pattern := regexp.QuoteMeta(name)
			pattern = strings.ReplaceAll(pattern, `\*`, `[^/\n]*`)
			pattern = regexp.MustCompile(`[A-Z]{4,}`).ReplaceAllString(pattern, `[^/\n]+`)
			assert.Regexp(t, `(?m)/`+pattern+`$`, files, "%s names %s", page, m[1])
		}
	}
	assert.Greater(t, count, 100)
}

// A line that would not work is found, wherever it stands in a page.
func TestCommandLinesThatDoNotWorkAreFound(t *testing.T) {
	for _, wrong := range []string{
		"    padjig prodcut check a.yaml\n", "    padjig product check\n", "```\n$ padjig unit\n```\n",
		"    padjig test --serial X\n", "    padjig test --product F --jig J --seral X\n", "see `padjig jig lst`\n",
		"see `padjig\nquality chart --reading make`\n", "    padjig jig list | padjig unit\n", "```sh\npadjig demo twice\n```\n",
		"    padjig jig \\\n        conform --jigs x\n", "    make tset\n", "see `make -C fixture/firmware hexx`\n",
		"see `go test ./cmd/nowhere`\n", "see `go test ./cmd/padjig -run NoSuchTest`\n", "see `go test ./fixture -wholesale 7`\n",
		"    padjig quality sampling --lot many  # a remark\n", "x=$(padjig unit tg S)\n",
	} {
		if strings.HasPrefix(wrong, "x=") {
			wrong = "```\n$ " + wrong + "```\n"
		}
		found := typeables("page", wrong)
		if assert.NotEmpty(t, found, wrong) {
			l := found[len(found)-1]
			assert.Error(t, map[string]func(typeable) error{"padjig": understood, "make": made, "go": tried}[l.words[0]](l), wrong)
		}
	}
}

// Decisions stand on a page of their own, each under its subject with its time and a name that no other has. The map
// has none.
func TestDecisionsStandOnOnePage(t *testing.T) {
	pages := manualPages(t)
	assert.NotRegexp(t, `(?m)^- \d{4}-\d\d-\d\d `, pages["DEVELOPERS.md"], "a decision goes to docs/decisions.md")
	_, subjects, found := strings.Cut(pages["docs/decisions.md"], "\n## ")
	require.True(t, found)
	items := regexp.MustCompile(`(?m)^- .*$`).FindAllString(subjects, -1)
	require.Greater(t, len(items), 180)
	named := map[string]bool{}
	for _, item := range items {
		m := regexp.MustCompile(`^- \d{4}-\d\d-\d\d(?: \d\d:\d\d)? \*\*([^*]+?)\.?(?:\*\*|$)`).FindStringSubmatch(item)
		if assert.NotNil(t, m, item) {
			assert.False(t, named[m[1]], "%q is there twice", m[1])
			named[m[1]] = true
		}
	}
}

// The changelog has its versions in order, each with its day, the newest first; what is tagged is its newest.
func TestChangelogHasVersionsAndDays(t *testing.T) {
	text := manualPages(t)["CHANGELOG.md"]
	heads := regexp.MustCompile(`(?m)^## (.*)$`).FindAllStringSubmatch(text, -1)
	var versions []string
	before, beforeDay := []int{1 << 30}, "9999"
	for i, head := range heads {
		if head[1] == "Unreleased" {
			assert.Zero(t, i, "what is not released stands first")
			continue
		}
		m := regexp.MustCompile(`^(\d+)\.(\d+)\.(\d+) - (\d{4}-\d\d-\d\d)$`).FindStringSubmatch(head[1])
		if !assert.NotNil(t, m, head[1]) {
			continue
		}
		var version []int
		for _, part := range m[1:4] {
			n, err := strconv.Atoi(part)
			require.NoError(t, err)
			version = append(version, n)
		}
		assert.Negative(t, slices.Compare(version, before), head[1])
		assert.LessOrEqual(t, m[4], beforeDay, head[1])
		before, beforeDay = version, m[4]
		versions = append(versions, strings.Join(m[1:4], "."))
	}
	require.NotEmpty(t, versions)
	tag, err := exec.Command("git", "-C", root, "tag", "--points-at", "HEAD", "--list", "v*").Output()
	require.NoError(t, err)
	if tagged := strings.Fields(string(tag)); len(tagged) > 0 {
		assert.Contains(t, tagged, "v"+versions[0])
		assert.NotContains(t, text, "## Unreleased", "it is released")
	}
	assert.Regexp(t, `(?m)^- (Fix|Change|Feature): `, text)
	assert.NotRegexp(t, `(?m)^- (?:[^FC]|F[^ie])`, text, "each line begins with its kind")
}
