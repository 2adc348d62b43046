package wording

import (
	"fmt"
	"regexp"
	"strings"

	"padjig/sequence"
	"padjig/sequence/revise"
)

// measured is a number with its unit.
var measured = regexp.MustCompile(`^([0-9.]+) (\S+)$`)

// fewKeys are named one by one.
const fewKeys = 4

// Change says one change of a product in a line: of which keys, what, from and to.
func (w Words) Change(c revise.Change) string {
	from, to, keys := c.From, c.To, strings.Join(c.Keys, ", ")
	if c.Code == revise.Unclassed {
		from, keys = strings.TrimSpace(keys+" "+from), ""
	}
	if strings.Contains(w.Say("change."+string(c.Code)), "→") {
		from, to = orNone(w, from), orNone(w, to)
	}
	if x, y := measured.FindStringSubmatch(from), measured.FindStringSubmatch(to); x != nil && y != nil && x[2] == y[2] {
		from = x[1] // the unit is said once
	}
	text := w.said("change.", sequence.Fact(c.Code, from, to))
	switch n := len(c.Keys); {
	case keys == "":
		return text
	case n == 1:
		return w.Say("change.key", keys, text)
	case n == c.Of && n > fewKeys:
		return w.Say("change.all", fmt.Sprint(n), text)
	case n > fewKeys:
		return w.Say("change.many", fmt.Sprint(n), text)
	}
	return w.Say("change.keys", keys, text)
}

func orNone(w Words, text string) string {
	if text == "" {
		return w.Say("change.none")
	}
	return text
}

// Class says which way a change goes.
func (w Words) Class(c revise.Class) string { return w.Say("change.class." + string(c)) }

// Does says what changes of a class do.
func (w Words) Does(c revise.Class) string { return w.Say("change.does." + string(c)) }

// Release says why a proposal or an approval is refused.
func (w Words) Release(code string, args []string) string {
	return w.said("release.", sequence.Said{Code: sequence.Code(code), Args: args})
}
