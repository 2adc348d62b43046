package fields

import (
	"fmt"
	"strings"
)

// Code names what is wrong with a file; its arguments are those that the sentence shows, in
// this order unless it numbers them. Nothing decides anything by a sentence.
type Code string

// Say words a code.
func (c *Collector) Say(code Code, args ...any) string {
	for _, table := range c.sentences {
		if sentence, ok := table[code]; ok {
			return fmt.Sprintf(sentence, args...)
		}
	}
	return fmt.Sprint(append([]any{code}, args...)...)
}

// sentences words the mistakes that every kind of file can hold: what is wrong, and what to
// write instead.
var sentences = map[Code]string{
	"file.encoding":    "not UTF-8 text; save the file as UTF-8",
	"file.binary":      "this is no text; name a file that an editor has written",
	"file.break":       "line break %U; end lines with a plain line feed",
	"file.control":     "control character %U; delete it",
	"yaml":             "not YAML: %s; %s",
	"yaml.begun":       "not YAML: %s %s begun at line %d, column %d; %s",
	"yaml.other":       "not YAML: %v",
	"text.not":         "%s must be plain text, not a list or a set of fields",
	"text.empty":       "%s is empty; write a value, in quotes if it begins with #, or take the field out",
	"line.control":     "%s holds the control character %U; delete it",
	"list.not":         "%s must be names with spaces between them, not a set of fields",
	"choice":           "%s cannot be %q; write %s",
	"fields.not":       "%s must be a set of fields%s",
	"field.twice":      "%q stands twice in %s (first on line %d); keep one of them",
	"field.unknown":    "unknown field %q in %s%s",
	"list.empty":       "%s is an empty list; fill it, or take the field out",
	"field.missing":    "no %s; add %q",
	"value":            "%s: %v",
	"value.negative":   "%s cannot be negative; write a positive value",
	"value.odd":        "%s: %s is not plausible (%s to %s); correct its unit",
	"bounds":           `%s cannot be %q; write "at most" and a value, or two values with "to" between them`,
	"bounds.least":     `%s cannot be %q; write "at least" and a value`,
	"bounds.most":      `%s cannot be %q; write "at most" and a value`,
	"bounds.backwards": "%s runs backwards; write the smaller value first",
	"whole":            "%s cannot be %q; write a whole number from %d to %d",
	"numbers":          "%s needs %d number(s) without unit; write them like %q",
	"number":           "%s cannot be %q; write a number from %v to %v, without unit",

	"suggest":     "; did you mean %s?",
	"suggest.or":  " or ",
	"suggest.any": "; write one of: %s",
	"fields.any":  `, each written as "NAME: value"`,

	"yaml.mapping": `check the indentation, and put text that holds ": " in quotes`,
	"yaml.names":   `indent with spaces, and put names that begin with * & @ %% or a quote in quotes: "*"`,
	"yaml.dash":    `put text that begins with "- " in quotes`,
	"yaml.quote":   "close the quote",
	"yaml.bracket": "close the bracket",
	"yaml.near":    "check indentation, quotes and brackets just before",
}

// remedy is what to do about a reason of the YAML library.
func remedy(reason string) Code {
	for _, r := range []struct {
		in   string
		code Code
	}{
		{"mapping values", "yaml.mapping"}, {"cannot start any token", "yaml.names"}, {"alphabetic", "yaml.names"},
		{"block sequence entries", "yaml.dash"}, {"max depth", "yaml.deep"}, {"end of stream", "yaml.quote"},
		{"',' or", "yaml.bracket"},
	} {
		if strings.Contains(reason, r.in) {
			return r.code
		}
	}
	return "yaml.near"
}

// String ends a message about an unknown name: with the nearest known one,
// or, when none is near, with all of them if they are few.
func (m Suggestion) String() string { return m.worded(english) }

func (m Suggestion) worded(say func(Code) string) string {
	if near := m.Nearest(); len(near) > 0 {
		return fmt.Sprintf(say("suggest"), strings.Join(near, say("suggest.or")))
	}
	if len(m.known) == 0 || len(m.known) > 14 {
		return ""
	}
	return fmt.Sprintf(say("suggest.any"), strings.Join(m.known, ", "))
}

// fieldList ends a message about something that is no set of fields.
type fieldList []string

func (known fieldList) String() string { return known.worded(english) }

func (known fieldList) worded(say func(Code) string) string {
	if len(known) == 0 {
		return say("fields.any")
	}
	return ": " + strings.Join(known, ", ")
}
