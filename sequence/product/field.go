package product

import (
	"fmt"
	"slices"
	"strings"

	yaml "go.yaml.in/yaml/v4"
)

// object is a set of named fields.
type object struct {
	at     place
	fields []field // as written, without the ones refused
}

type field struct {
	name  word
	value *yaml.Node
}

func (f field) at() place { return place{f.value.Line, f.value.Column} }

// get gives the field of that name.
func (o object) get(name string) (field, bool) {
	for _, f := range o.fields {
		if f.name.text == name {
			return f, true
		}
	}
	return field{}, false
}

// object reads a set of fields. Names other than the known ones are mistakes,
// unless none are given, when any name will do.
func (s *source) object(n *yaml.Node, what string, known ...string) object {
	o := object{at: place{n.Line, n.Column}}
	if n.Kind != yaml.MappingNode {
		s.wrong(o.at, "%s must be a set of fields%s", what, exampleOf(known))
		return o
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		name, ok := s.text(n.Content[i], "the name of a field")
		if !ok {
			continue
		}
		first, twice := o.get(name.text)
		switch {
		case twice:
			s.wrong(name.place, "%q stands twice in %s (first on line %d); keep one of them",
				name.text, what, first.name.line)
		case len(known) > 0 && !contains(known, name.text):
			s.wrong(name.place, "unknown field %q in %s%s", name.text, what, didYouMean(name.text, proposed(known)))
		default:
			o.fields = append(o.fields, field{name, n.Content[i+1]})
		}
	}
	return o
}

func exampleOf(known []string) string {
	if len(known) == 0 {
		return `, each written as "NAME: value"`
	}
	return ": " + strings.Join(proposed(known), ", ")
}

// proposed are the names to write: not the one that is read only in kept texts.
func proposed(known []string) []string { return without(slices.Clone(known), formerActuator) }

func contains(all []string, one string) bool {
	for _, s := range all {
		if s == one {
			return true
		}
	}
	return false
}

// section reads the field as an object, empty when it is absent or no object.
func (s *source) section(o object, name string, known ...string) (object, bool) {
	f, ok := o.get(name)
	if !ok {
		return object{at: o.at}, false
	}
	return s.object(f.value, name, known...), f.value.Kind == yaml.MappingNode
}

// line is the text of a field that must be one line of printable characters.
func (s *source) line(o object, name string) (word, bool) {
	f, ok := o.get(name)
	if !ok {
		return word{}, false
	}
	w, ok := s.text(f.value, name)
	if !ok {
		return w, false
	}
	if r, odd := unprintable(w.text, true); odd {
		s.wrong(w.place, "%s holds the control character %U; delete it", name, r)
		return w, false
	}
	return w, true
}

// choice reads a field that has one of a few values; it gives the first of
// them when the field is absent or wrong.
func (s *source) choice(o object, name string, values ...string) string {
	w, ok := s.line(o, name)
	if !ok {
		return values[0]
	}
	if !contains(values, w.text) {
		s.wrong(w.place, "%s cannot be %q; write %s", name, w.text, strings.Join(values, " or "))
		return values[0]
	}
	return w.text
}

// list reads a field as words, nil when it is absent.
func (s *source) list(o object, name string) []word {
	f, ok := o.get(name)
	if !ok {
		return nil
	}
	if f.value.Kind == yaml.MappingNode {
		s.wrong(f.at(), "%s must be names with spaces between them, not a set of fields", name)
		return nil
	}
	return s.words(f)
}

// missing reports a field that cannot be left out.
func (s *source) missing(o object, name, example string) bool {
	for _, f := range o.fields {
		if f.name.text == name {
			return false
		}
	}
	s.wrong(o.at, "no %s; add %s", name, fmt.Sprintf("%q", example))
	return true
}
