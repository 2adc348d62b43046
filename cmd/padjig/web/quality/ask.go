package quality

import (
	"cmp"
	"net/url"
	"strings"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/floor"
)

// ask is a field of the form above a study.
type ask struct {
	Name, Label string
	Kind        string // "one" of several, "text", "number", "date", "lines"
	Value       string
	Nth         string // of a form of which there are several
	Options     []page.Option
}

// ID tells fields of one name apart: those of a form of many have its number.
func (a ask) ID() string { return a.Name + a.Nth }

// asking makes fields, with what the address says of them.
type asking struct {
	page.Words
	form url.Values
}

// param is a parameter of the page's own.
func (s asking) param(name, otherwise string) string {
	return cmp.Or(strings.TrimSpace(s.form.Get(name)), otherwise)
}

// bit is a yes or a no in an address.
func bit(is bool) string {
	if is {
		return "1"
	}
	return "0"
}

// texts are words of a kind as text.
func texts[T ~string](words []T) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = string(w)
	}
	return out
}

// one asks for one of some values, each with a text in the catalogue.
func (s asking) one(name, value string, values ...string) ask {
	a := ask{Name: name, Label: s.Say("ask." + name), Kind: "one", Value: value}
	for _, v := range values {
		a.Options = append(a.Options, page.Option{Value: v, Text: s.Say("ask." + name + "." + v), Chosen: v == value})
	}
	return a
}

// named asks for one of some values that are their own text.
func (s asking) named(name, value string, values []string) ask {
	a := ask{Name: name, Label: s.Say("ask." + name), Kind: "one", Value: value}
	for _, v := range values {
		a.Options = append(a.Options, page.Option{Value: v, Text: v, Chosen: v == value})
	}
	return a
}

func (s asking) text(name, value string) ask {
	return ask{Name: name, Label: s.Say("ask." + name), Kind: "text", Value: value}
}

func (s asking) number(name, value string) ask {
	return ask{Name: name, Label: s.Say("ask." + name), Kind: "number", Value: value}
}

func (s *study) moment(t time.Time) string { return floor.ClockOf(s.zone).Minute(t) }
