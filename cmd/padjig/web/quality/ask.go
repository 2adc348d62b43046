package quality

import (
	"cmp"
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/web/page"
)

// ask is a field of the form above a study.
type ask struct {
	Name, Label string
	Kind        string // "pick" of several, "one" of several, "text", "number", "date"
	Value       string
	Options     []page.Option
}

// Chosen is how many options are.
func (a ask) Chosen() (n int) {
	for _, o := range a.Options {
		if o.Chosen {
			n++
		}
	}
	return n
}

// asking makes fields, with what the address says of them.
type asking struct {
	page.Words
	form url.Values
}

// param is a parameter of the page's own.
func (s asking) param(name, otherwise string) string {
	return cmp.Or(strings.TrimSpace(s.form.Get(name)), otherwise)
}

// ask makes the form above a study: what can be chosen among the runs there are.
func (s *study) ask() {
	f := s.filter
	s.Asks = []ask{
		s.one("simulated", bit(s.Simulated), "0", "1"),
		s.all("product", f.Product, s.there.Products),
		s.pick("revision", f.Revisions, s.there.Revisions),
		s.pick("lot", f.Lots, s.there.Lots),
		s.pick("jig", f.Jigs, s.there.Jigs),
		s.pick("shift", f.Shifts, s.there.Shifts),
		s.pick("operator", f.Operators, s.there.Operators),
		s.day("from", f.From), s.day("to", f.To),
	}
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

// all is named with a first option that stands for everything.
func (s asking) all(name, value string, values []string) ask {
	a := s.named(name, value, values)
	a.Options = append([]page.Option{{Value: "", Text: s.Say("ask.all"), Chosen: value == ""}}, a.Options...)
	return a
}

// pick asks for any of some values; none stands for all.
func (s asking) pick(name string, chosen, values []string) ask {
	a := ask{Name: name, Label: s.Say("ask." + name), Kind: "pick", Value: s.Say("ask.all")}
	for _, v := range chosen {
		if !slices.Contains(values, v) {
			values = append(slices.Clone(values), v)
		}
	}
	for _, v := range values {
		a.Options = append(a.Options, page.Option{Value: v, Text: v, Chosen: slices.Contains(chosen, v)})
	}
	if len(chosen) > 0 {
		a.Value = strings.Join(chosen, ", ")
	}
	return a
}

func (s asking) text(name, value string) ask {
	return ask{Name: name, Label: s.Say("ask." + name), Kind: "text", Value: value}
}

func (s asking) number(name, value string) ask {
	return ask{Name: name, Label: s.Say("ask." + name), Kind: "number", Value: value}
}

// day asks for a date; a moment that was given otherwise is kept as it is.
func (s asking) day(name string, at time.Time) ask {
	a := ask{Name: name, Label: s.Say("ask." + name), Kind: "date", Value: s.form.Get(name)}
	if _, err := time.Parse("2006-01-02", a.Value); a.Value != "" && err != nil {
		a.Kind = "text"
	}
	return a
}

// selection says what is chosen.
func (s *study) selection() string {
	var parts []string
	add := func(name string, list ...string) {
		if len(list) > 0 && list[0] != "" {
			parts = append(parts, s.Say("ask."+name)+" "+strings.Join(list, " + "))
		}
	}
	f := s.filter
	add("product", f.Product)
	for _, l := range f.Lists() {
		add(l.Name, *l.Values...)
	}
	if !f.From.IsZero() {
		add("from", s.moment(f.From))
	}
	if !f.To.IsZero() {
		parts = append(parts, s.Say("study.before", s.moment(f.To)))
	}
	if len(parts) == 0 {
		return s.Say("study.all")
	}
	return strings.Join(parts, " · ")
}

func (s *study) moment(t time.Time) string { return t.In(s.zone).Format("2006-01-02 15:04") }
