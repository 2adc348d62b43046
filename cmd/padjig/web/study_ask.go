package web

import (
	"context"
	"slices"
	"strings"
	"time"
)

func (v *visit) ctx() context.Context { return v.r.Context() }

// ask makes the form above a study: what can be chosen among the runs there are.
func (s *study) ask() {
	kind := "0"
	if s.Simulated {
		kind = "1"
	}
	f := s.filter
	s.Asks = []ask{
		s.one("simulated", kind, "0", "1"),
		s.all("product", f.Product, s.there.Products),
		s.pick("revision", f.Revisions, s.there.Revisions),
		s.pick("lot", f.Lots, s.there.Lots),
		s.pick("jig", f.Jigs, s.there.Jigs),
		s.pick("shift", f.Shifts, s.there.Shifts),
		s.pick("operator", f.Operators, s.there.Operators),
		s.day("from", f.From), s.day("to", f.To),
	}
}

// one asks for one of some values, each with a text in the catalogue.
func (s *study) one(name, value string, values ...string) ask {
	a := ask{Name: name, Label: s.say("ask." + name), Kind: "one", Value: value}
	for _, v := range values {
		a.Options = append(a.Options, option{v, s.say("ask." + name + "." + v), v == value})
	}
	return a
}

// named asks for one of some values that are their own text.
func (s *study) named(name, value string, values []string) ask {
	a := ask{Name: name, Label: s.say("ask." + name), Kind: "one", Value: value}
	for _, v := range values {
		a.Options = append(a.Options, option{v, v, v == value})
	}
	return a
}

// all is named with a first option that stands for everything.
func (s *study) all(name, value string, values []string) ask {
	a := s.named(name, value, values)
	a.Options = append([]option{{"", s.say("ask.all"), value == ""}}, a.Options...)
	return a
}

// pick asks for any of some values; none stands for all.
func (s *study) pick(name string, chosen, values []string) ask {
	a := ask{Name: name, Label: s.say("ask." + name), Kind: "pick", Value: s.say("ask.all")}
	for _, v := range chosen {
		if !slices.Contains(values, v) {
			values = append(slices.Clone(values), v)
		}
	}
	for _, v := range values {
		a.Options = append(a.Options, option{v, v, slices.Contains(chosen, v)})
	}
	if len(chosen) > 0 {
		a.Value = strings.Join(chosen, ", ")
	}
	return a
}

func (s *study) number(name, value string) ask {
	return ask{Name: name, Label: s.say("ask." + name), Kind: "number", Value: value}
}

// day asks for a date; a moment that was given otherwise is kept as it is.
func (s *study) day(name string, at time.Time) ask {
	a := ask{Name: name, Label: s.say("ask." + name), Kind: "date", Value: s.r.Form.Get(name)}
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
			parts = append(parts, s.say("ask."+name)+" "+strings.Join(list, " + "))
		}
	}
	f := s.filter
	add("product", f.Product)
	add("revision", f.Revisions...)
	add("lot", f.Lots...)
	add("jig", f.Jigs...)
	add("shift", f.Shifts...)
	add("operator", f.Operators...)
	if !f.From.IsZero() {
		add("from", s.moment(f.From))
	}
	if !f.To.IsZero() {
		parts = append(parts, s.say("study.before", s.moment(f.To)))
	}
	if len(parts) == 0 {
		return s.say("study.all")
	}
	return strings.Join(parts, " · ")
}

func (s *study) moment(t time.Time) string { return t.In(s.zone()).Format("2006-01-02 15:04") }
