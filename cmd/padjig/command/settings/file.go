package settings

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"padjig/cmd/padjig/command"
	"padjig/sequence/fields"
)

// largestFile is the largest file of settings, in bytes.
const largestFile = 64 << 10

var format = fields.Format{Sentences: map[fields.Code]string{
	"file.large":  "this is larger than %d KiB, which no settings need; is it the right file?",
	"file.empty":  "nothing in this file",
	"file.second": `a second document begins here; delete the "---"`,
	"yaml.anchor": "anchors (&) and aliases (*) are not used in settings; write the value out",
	"yaml.tag":    "type tags (!) are not used in settings; put a value that begins with ! in quotes",
	"yaml.deep":   "take brackets and indentation out: settings are a section for each command, with its flags in it",

	"setting.once":     "%q says something of one time only and is no setting; say it each time: padjig %s --%[1]s",
	"setting.one":      "%q takes one value, not a list",
	"setting.relative": "%s %q depends on where padjig is started; write it from the root, such as %q",
	"setting.bool":     "%s cannot be %q; write true or false",
	"setting.time":     "%s cannot be %q; write a time with its unit, such as 10m or 1h30m",
	"setting.number":   "%s cannot be %q; write a number",
	"setting.value":    "%s cannot be %q: %v",
}}

// contents are what a file sets, section by section, and what is wrong with it; the mistakes that concern every
// command are those of no section.
type contents struct {
	path     string // empty: there is no file
	set      map[string][]setting
	mistakes map[string]fields.Mistakes
}

// all are the mistakes that concern one of the sections, or everybody, in the order of the file.
func (c contents) wrong(sections ...string) (all fields.Mistakes) {
	for _, section := range append(sections, "") {
		all = append(all, c.mistakes[section]...)
	}
	return all.Sorted()
}

// load reads the file at path. One that need not be there may be missing.
func load(scratch *cobra.Command, path string, needed bool) (contents, error) {
	c := contents{}
	text, err := take(path)
	switch {
	case err == nil:
		return parse(scratch, path, text), nil
	case errors.Is(err, fs.ErrNotExist) && !needed:
		return c, nil
	case errors.Is(err, syscall.EISDIR):
		return c, command.Fail(command.Wrong, fmt.Errorf("read the settings %s: it is a folder", path), "the path of a file in it")
	case errors.Is(err, errOthersWrite):
		return c, command.Fail(command.Wrong, fmt.Errorf("read the settings %s: %w", path, err), "chmod o-w "+path)
	case errors.Is(err, fs.ErrPermission):
		return c, command.Fail(command.Wrong, fmt.Errorf("read the settings: %w", err), "chmod a+r "+path+"; secrets lie in files of their own")
	}
	return c, command.Fail(command.Wrong, fmt.Errorf("read the settings: %w", err), "the path of a file of settings, or without --"+configFlag)
}

var errOthersWrite = errors.New("anybody may write to it, and it decides what padjig does")

// take reads a file as far as it may go, and a byte more of one that is too large.
func take(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	const others = 0o002
	if info.Mode().IsRegular() && info.Mode().Perm()&others != 0 && runtime.GOOS != "windows" {
		return nil, errOthersWrite
	}
	return command.ReadAtMost(path, largestFile)
}

// parse reads a file's text. Values are tried on the flags of scratch, commands that nobody runs.
func parse(scratch *cobra.Command, path string, text []byte) contents {
	c := contents{path: path, set: map[string][]setting{}, mistakes: map[string]fields.Mistakes{}}
	s := fields.New(path, text[:min(len(text), largestFile)], format, false)
	top := fields.Place{Line: 1, Column: 1}
	switch {
	case len(text) > largestFile:
		s.Wrong(top, "file.large", largestFile>>10)
	case bytes.IndexByte(text, 0) >= 0: // UTF-16, most likely
		s.Wrong(top, "file.encoding")
	case onlyComments(text):
	default:
		if root, ok := s.Root(); ok {
			c.read(scratch, root)
		}
	}
	c.mistakes[""] = append(c.mistakes[""], s.Found...)
	return c
}

func onlyComments(text []byte) bool {
	for line := range bytes.Lines(bytes.TrimPrefix(text, []byte("\ufeff"))) {
		if line = bytes.TrimSpace(line); len(line) > 0 && line[0] != '#' {
			return false
		}
	}
	return true
}

// read reads the sections. What is wrong in one is kept with it.
func (c *contents) read(scratch *cobra.Command, root fields.Field) {
	top := root.Object("the settings", sections(scratch)...)
	for _, section := range top.Fields {
		if section.IsText() && section.Value.Value == "" { // all of it is comments
			continue
		}
		before := len(root.Found)
		known := sharedNames(scratch)
		if cmd := commands(scratch)[section.Name.Text]; cmd != nil {
			known = names(cmd)
		}
		for _, f := range section.Object(section.Name.Text, known...).Fields {
			c.one(scratch, section.Name.Text, f)
		}
		c.mistakes[section.Name.Text] = slices.Clone(root.Found[before:])
		root.Found = root.Found[:before]
	}
}

// one reads one setting.
func (c *contents) one(scratch *cobra.Command, section string, f fields.Field) {
	flag := f.Name.Text
	cmd := holder(scratch, section, flag)
	if refusedIn(cmd, flag) {
		f.Wrong(f.Name.Place, "setting.once", flag, section)
		return
	}
	s := setting{section: section, flag: flag, list: !f.IsText(), from: origin{file: c.path, line: f.At().Line, column: f.At().Column}}
	found := len(f.Found)
	items := []fields.Field{f}
	if s.list {
		items = f.Items()
	}
	for _, item := range items {
		if w, ok := item.As(flag).Line(flag); ok {
			s.values = append(s.values, w.Text)
			held(cmd.Flag(flag), w, item)
		}
	}
	if len(f.Found) > found {
		return
	}
	_, many := cmd.Flag(flag).Value.(pflag.SliceValue)
	switch {
	case s.list && (!many || f.IsSet()):
		f.Wrong(f.At(), "setting.one", flag)
	default:
		if err := s.give(cmd.Flags()); err != nil {
			code, args := refused(cmd.Flag(flag), s.said(), err)
			f.Wrong(f.At(), code, args...)
			return
		}
		c.set[section] = append(c.set[section], s)
	}
}

// held refuses the path of a file that is another one wherever padjig is started.
func held(flag *pflag.Flag, w fields.Word, item fields.Field) {
	what, _ := pflag.UnquoteUsage(flag)
	if paths := []string{"FILE", "FOLDER", "DIR"}; !slices.Contains(paths, what) || filepath.IsAbs(w.Text) || w.Text == "-" ||
		flag.Name == "store" && command.AtPlant(w.Text) {
		return
	}
	item.Wrong(w.Place, "setting.relative", flag.Name, w.Text, filepath.Join(filepath.Dir(usualPath()), w.Text))
}

// refused is what a flag's own parser says of a value, in words for who wrote a file.
func refused(flag *pflag.Flag, value string, err error) (fields.Code, []any) {
	switch kind := flag.Value.Type(); {
	case kind == "bool":
		return "setting.bool", []any{flag.Name, value}
	case kind == "duration":
		return "setting.time", []any{flag.Name, value}
	case strings.HasPrefix(kind, "int"), strings.HasPrefix(kind, "uint"), strings.HasPrefix(kind, "float"):
		return "setting.number", []any{flag.Name, value}
	}
	if inner := errors.Unwrap(err); inner != nil { // without pflag's own words around it
		err = inner
	}
	return "setting.value", []any{flag.Name, value, err}
}
