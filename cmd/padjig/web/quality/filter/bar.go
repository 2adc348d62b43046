// Package filter is the bar above the pages of the quality engineer: what is chosen as
// chips, each with a link that takes it off, and what else can be chosen as links that
// put it on. The address is the choice, and nothing here needs a script.
package filter

import (
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers/choice"
	"padjig/results/floor"
	"padjig/results/lines"
)

// Bar is what a page shows of a choice.
type Bar struct {
	Said   string // the choice in one sentence
	Chips  []Chip
	Groups []Group       // what can be put on
	Fields []page.Option // hidden fields of forms on the page: Value is the name, Text the value
	Times  *Times        // days of one's own; nil where the page has times of its own
	Page   string        // its path
	Own    []page.Option // its own parameters, for forms of the bar
}

// Chip is one thing that is chosen.
type Chip struct {
	Name, Value string
	Off         string // address without it; empty: it cannot be without
}

// Group is a part of a choice with all its values.
type Group struct {
	Name, Label string
	Options     []Option
}

// Option is a value, on or not, and the address where it is the other.
type Option struct {
	Text, Link string
	On         bool
}

// Times are the days chosen, for fields of dates.
type Times struct{ From, To string }

// Kind is that of their fields: dates, unless a time of day was given.
func (t Times) Kind() string {
	for _, text := range []string{t.From, t.To} {
		if _, err := time.Parse("2006-01-02", text); text != "" && err != nil {
			return "text"
		}
	}
	return "date"
}

// At is a page that shows a bar.
type At struct {
	page.Words
	Path   string
	Own    url.Values // its own parameters
	Chosen choice.Chosen
	There  lines.Facets
	Of     choice.Of
}

// Link is the address of a page about the same runs, with some parameters besides.
func (a At) Link(path string, more url.Values) string { return address(path, a.Chosen.Said, more) }

func address(path string, said choice.Asked, more url.Values) string {
	v := said.Values()
	for name, values := range more {
		v[name] = values
	}
	if len(v) == 0 {
		return path
	}
	return path + "?" + v.Encode()
}

// Bar makes the bar.
func (a At) Bar() Bar {
	b := Bar{Said: a.said(), Page: a.Path, Fields: hidden(a.Chosen.Said.Values()), Own: hidden(a.Own)}
	b.runs(a)
	b.part(a, "product", []string{a.Chosen.Said.Filter.Product}, a.There.Products, true)
	b.part(a, "revision", a.Chosen.Said.Filter.Revisions, a.There.Revisions, false)
	if !a.Of.OwnTimes {
		b.times(a)
	}
	for _, one := range []struct {
		name  string
		there []string
	}{{"lot", a.There.Lots}, {"jig", a.There.Jigs}, {"shift", a.There.Shifts}, {"operator", a.There.Operators}, {"station", a.There.Stations}} {
		if one.name == "shift" && a.Of.OwnTimes {
			continue
		}
		b.part(a, one.name, list(&a.Chosen.Said, one.name), one.there, false)
	}
	if how := a.Chosen.Said.Filter.Actuation; how != "" {
		b.Chips = append(b.Chips, Chip{a.Say("ask.actuation"), string(how), a.with(func(s *choice.Asked) { s.Filter.Actuation = "" })})
	}
	return b
}

func hidden(v url.Values) (out []page.Option) {
	for _, name := range slices.Sorted(keys(v)) {
		for _, value := range v[name] {
			out = append(out, page.Option{Value: name, Text: value})
		}
	}
	return out
}

func keys(v url.Values) func(func(string) bool) {
	return func(yield func(string) bool) {
		for name := range v {
			if !yield(name) {
				return
			}
		}
	}
}

// with is the address of this page where something is chosen otherwise.
func (a At) with(change func(*choice.Asked)) string {
	said := a.Chosen.Said
	said.Open = slices.Clone(said.Open)
	change(&said)
	return address(a.Path, said, a.Own)
}

// list is what is said of a part that takes several values.
func list(said *choice.Asked, name string) []string {
	for _, l := range said.Filter.Lists() {
		if l.Name == name {
			return *l.Values
		}
	}
	return nil
}

func set(said *choice.Asked, name string, values []string) {
	said.Open = slices.DeleteFunc(said.Open, func(o string) bool { return o == name })
	if name == "product" {
		said.Filter.Product = ""
		if len(values) > 0 {
			said.Filter.Product = values[0]
		}
		said.Filter.Revisions = nil // those of the other one
		said.Open = slices.DeleteFunc(said.Open, func(o string) bool { return o == "revision" })
	}
	for _, l := range said.Filter.Lists() {
		if l.Name == name {
			*l.Values = values
		}
	}
	if len(values) == 0 && (name == "product" || name == "revision") {
		said.Open = append(said.Open, name)
	}
}

// runs tells real and simulated ones apart, where there are both.
func (b *Bar) runs(a At) {
	simulated := a.Chosen.Filter.Simulated
	other := a.with(func(s *choice.Asked) {
		s.Simulated, s.Filter.Simulated = true, !simulated
		set(s, "product", nil)
		s.Open = nil
	})
	if simulated {
		chip := Chip{Value: a.Say("ask.simulated.1")}
		if !a.Chosen.NoReal {
			chip.Off = other
		}
		b.Chips = append(b.Chips, chip)
		return
	}
	b.Groups = append(b.Groups, Group{"simulated", a.Say("ask.simulated"), []Option{
		{Text: a.Say("ask.simulated.0"), On: true, Link: other}, {Text: a.Say("ask.simulated.1"), Link: other}}})
}

// part shows what is chosen of a part, and what can be.
func (b *Bar) part(a At, name string, values, there []string, one bool) {
	values = slices.DeleteFunc(slices.Clone(values), func(v string) bool { return v == "" })
	for _, v := range values {
		chip := Chip{Name: a.Say("ask." + name), Value: v}
		if !one || len(there) > 1 {
			chip.Off = a.with(func(s *choice.Asked) { set(s, name, without(values, v)) })
		}
		b.Chips = append(b.Chips, chip)
		if !slices.Contains(there, v) {
			there = append(slices.Clone(there), v)
		}
	}
	if len(there) < 2 && len(values) == len(there) || len(there) == 0 {
		return
	}
	g := Group{Name: name, Label: a.Say("ask." + name)}
	for _, v := range there {
		o := Option{Text: v, On: slices.Contains(values, v)}
		next := append(slices.Clone(values), v)
		if one {
			next = []string{v}
		}
		if o.On {
			next = without(values, v)
		}
		o.Link = a.with(func(s *choice.Asked) { set(s, name, next) })
		g.Options = append(g.Options, o)
	}
	b.Groups = append(b.Groups, g)
}

func without(values []string, v string) []string {
	return slices.DeleteFunc(slices.Clone(values), func(o string) bool { return o == v })
}

// times shows the span, or days of one's own.
func (b *Bar) times(a At) {
	said := a.Chosen.Said
	to := func(span choice.Span) string {
		return a.with(func(s *choice.Asked) { s.Span, s.From, s.To = span, "", "" })
	}
	b.Times = &Times{said.From, said.To}
	switch {
	case said.From != "" || said.To != "":
		b.Chips = append(b.Chips, Chip{a.Say("ask.times"), a.days(), to(choice.Ever)})
	case said.Span != "" && said.Span != choice.Ever:
		b.Chips = append(b.Chips, Chip{a.Say("ask.times"), a.span(said.Span), to(choice.Ever)})
	}
	g := Group{Name: choice.Since, Label: a.Say("ask.times")}
	for _, span := range choice.Spans {
		if span == choice.ThisShift && len(a.There.Shifts) == 0 || span == choice.ThisLot && len(a.There.Lots) == 0 {
			continue
		}
		g.Options = append(g.Options, Option{a.span(span), to(span), said.Span == span})
	}
	b.Groups = append(b.Groups, g)
}

// span names a span.
func (a At) span(s choice.Span) string {
	if days := s.Days(); days > 0 {
		return a.Say("span.days", days)
	}
	return a.Say("span." + string(s))
}

// days are those of one's own.
func (a At) days() string {
	said := a.Chosen.Said
	switch {
	case said.To == "":
		return a.Say("span.from", said.From)
	case said.From == "":
		return a.Say("span.to", said.To)
	case said.From == said.To:
		return said.From
	}
	return a.Say("span.between", said.From, said.To)
}

// said is the choice in one sentence.
func (a At) said() string {
	var parts []string
	add := func(name string, values ...string) {
		if len(values) > 0 && values[0] != "" {
			parts = append(parts, a.Say("ask."+name)+" "+strings.Join(values, " + "))
		}
	}
	said := a.Chosen.Said
	add("product", said.Filter.Product)
	for _, l := range said.Filter.Lists() {
		if l.Name != "shift" || !a.Of.OwnTimes {
			add(l.Name, *l.Values...)
		}
	}
	switch {
	case a.Of.OwnTimes:
	case said.From != "" || said.To != "":
		parts = append(parts, a.zoned(a.days()))
	case said.Span != "" && said.Span != choice.Ever && !a.Chosen.Filter.From.IsZero():
		parts = append(parts, a.zoned(a.Say("span.since", a.span(said.Span), a.moment(a.Chosen.Filter.From), a.until())))
	case said.Span == choice.Ever:
		parts = append(parts, a.Say("span.all"))
	}
	if len(parts) == 0 {
		return a.Say("study.all")
	}
	return strings.Join(parts, " · ")
}

// until is the day with which a span that goes on to now ends: today.
func (a At) until() string {
	end := time.Now()
	if to := a.Chosen.Filter.To; !to.IsZero() {
		end = to
	}
	return a.clocked(end).Format(time.DateOnly)
}

// zoned says by whose clock days are told.
func (a At) zoned(days string) string {
	zone := a.Chosen.Filter.Zone
	if zone == nil {
		return days
	}
	name := zone.String()
	if zone == time.Local { // it has no name of its own
		name = time.Now().Format("MST")
	}
	return a.Say("span.zone", days, name)
}

// clocked is a time by the plant's clock.
func (a At) clocked(t time.Time) time.Time {
	if zone := a.Chosen.Filter.Zone; zone != nil {
		return t.In(zone)
	}
	return t
}

// moment is a time of the plant's clock, midnight by its day.
func (a At) moment(t time.Time) string {
	if t = a.clocked(t); t.Hour() == 0 && t.Minute() == 0 {
		return t.Format("2006-01-02")
	}
	return t.Format(floor.MinuteForm)
}
