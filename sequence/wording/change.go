package wording

import (
	"fmt"
	"strings"

	"padjig/sequence"
	"padjig/sequence/revise"
)

// fewKeys are named one by one.
const fewKeys = 4

// Change says one change of a product in a line: of which keys, what, from and to.
func (w Words) Change(c revise.Change) string {
	from, to, keys := c.From, c.To, strings.Join(c.Keys, ", ")
	if c.Code == revise.Unclassed {
		from, keys = strings.TrimSpace(keys+" "+from), ""
	}
	if strings.Contains(w.say("change."+string(c.Code)), "→") {
		from, to = orNone(w, from), orNone(w, to)
	}
	text := w.said("change.", sequence.Fact(c.Code, from, to))
	switch n := len(c.Keys); {
	case keys == "":
		return text
	case n == 1:
		return w.say("change.key", keys, text)
	case n == c.Of && n > fewKeys:
		return w.say("change.all", fmt.Sprint(n), text)
	case n > fewKeys:
		return w.say("change.many", fmt.Sprint(n), text)
	}
	return w.say("change.keys", keys, text)
}

func orNone(w Words, text string) string {
	if text == "" {
		return w.say("change.none")
	}
	return text
}

// Class says which way a change goes.
func (w Words) Class(c revise.Class) string { return w.say("change.class." + string(c)) }

// Release says why a proposal or an approval is refused.
func (w Words) Release(code string, args []string) string {
	return w.said("release.", sequence.Said{Code: sequence.Code(code), Args: args})
}
