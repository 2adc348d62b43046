package command

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"unicode"
	"unicode/utf8"

	"github.com/rivo/uniseg"

	"padjig/cmd/padjig/command/terminal"
)

// What an error says is put in plain words in one place, where it is printed: what the system
// said of a file, what stands in a word and would act on a terminal, and what is too long.

// Plain is an error in one line for a person.
func Plain(err error) string {
	return Shown(OneLine(inWords(err, err.Error())))
}

// inWords replaces what the system says of files within a text of an error.
func inWords(err error, text string) string {
	if at, found := errors.AsType[*fs.PathError](err); found {
		text = strings.Replace(text, at.Error(), sayFile(at.Path, at.Err), 1)
	}
	if at, found := errors.AsType[*os.LinkError](err); found {
		text = strings.Replace(text, at.Error(), sayFile(at.New, at.Err), 1)
	}
	return text
}

func sayFile(path string, err error) string {
	if path == "" {
		return "the name of a file is empty"
	}
	return path + ": " + reasonOf(err)
}

// reasonOf says why a file cannot be had.
func reasonOf(err error) string {
	for _, r := range []struct {
		is   error
		says string
	}{
		{fs.ErrNotExist, "there is no such file or folder"},
		{fs.ErrExist, "it is there already"},
		{fs.ErrPermission, "this user has no permission"},
		{syscall.EISDIR, "it is a folder, not a file"},
		{syscall.ENOTDIR, "on the way there a file stands where a folder is needed"},
		{syscall.ENOSPC, "the disk is full"},
		{syscall.EROFS, "the disk can only be read"},
		{syscall.ENAMETOOLONG, "the name is too long"},
		{syscall.ELOOP, "links lead round in a circle"},
	} {
		if errors.Is(err, r.is) {
			return r.says
		}
	}
	return err.Error()
}

// longWord is how many characters a word of an error may have, and shortWord what is left
// of a longer one.
const (
	longWord  = 160
	shortWord = 40
)

var (
	quoted = regexp.MustCompile(`"(?:[^"\\]|\\.)*"`)
	word   = regexp.MustCompile(`\S+`)
)

// Shown is a text that a terminal can take: characters that would act on it are written out,
// and what somebody gave that is too long to be read is shortened, with its length.
func Shown(text string) string {
	text = quoted.ReplaceAllStringFunc(harmless(text), func(q string) string {
		if short, cut := shortened(q[1 : len(q)-1]); cut != "" {
			return `"` + short + `"` + cut
		}
		return q
	})
	return word.ReplaceAllStringFunc(text, func(w string) string {
		short, cut := shortened(w)
		return short + cut
	})
}

// harmless writes out what a terminal would obey, and what is no text.
func harmless(text string) string {
	var out strings.Builder
	for rest := text; rest != ""; {
		r, size := utf8.DecodeRuneInString(rest)
		switch {
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&out, `\x%02x`, rest[0])
		case r != '\n' && (unicode.IsControl(r) || unicode.In(r, unicode.Bidi_Control)):
			out.WriteString(strings.Trim(strconv.QuoteToASCII(string(r)), `"`))
		default:
			out.WriteString(rest[:size])
		}
		rest = rest[size:]
	}
	return out.String()
}

// shortened is the beginning of a text that is too long, cut between two characters, and how
// long it is; "" where it is not.
func shortened(text string) (short, cut string) {
	if len(text) <= longWord {
		return text, ""
	}
	characters := uniseg.GraphemeClusterCount(text)
	if characters <= longWord {
		return text, ""
	}
	state := -1
	for rest, n := text, 0; n < shortWord; n++ {
		var one string
		one, rest, _, state = uniseg.FirstGraphemeClusterInString(rest, state)
		short += one
	}
	return short + "...", fmt.Sprintf(" (%d characters)", characters)
}

// folded breaks a line at spaces where a person reads it, and leaves it whole for whoever
// takes it apart.
func folded(t terminal.Terminal, indent int, text string) string {
	if !t.Live {
		return text
	}
	return t.Wrap(indent, text)
}
