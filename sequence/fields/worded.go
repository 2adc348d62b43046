package fields

import (
	"fmt"
	"maps"
	"strings"
)

// Sentences are those of the mistakes that every kind of file can hold.
func Sentences() map[Code]string { return maps.Clone(sentences) }

// Worded says a mistake in other sentences than its own, by their codes. One that has none
// there, or came from elsewhere, stays as it is.
func Worded(m Mistake, other func(Code) (sentence string, is bool)) string {
	sentence, is := other(m.Code)
	if !is {
		return m.Message
	}
	say := func(code Code) string {
		if sentence, is := other(code); is {
			return sentence
		}
		return sentences[code]
	}
	args := make([]any, len(m.Args))
	for i, arg := range m.Args {
		args[i] = arg
		if a, is := arg.(worded); is {
			args[i] = a.worded(say)
		}
	}
	if m.Code == "yaml" || m.Code == "yaml.begun" {
		reason, _ := m.Args[0].(string)
		args[len(args)-1] = strings.ReplaceAll(say(remedy(reason)), "%%", "%")
	}
	return fmt.Sprintf(sentence, args...)
}

// worded is an argument that is words itself.
type worded interface {
	worded(say func(Code) string) string
}

func english(code Code) string { return sentences[code] }
