package product

import (
	"slices"
	"strconv"
	"strings"

	yaml "go.yaml.in/yaml/v4"
)

// object is a set of named fields.
type object struct {
	*source
	at     place
	fields []field // as written, without the ones refused
}

type field struct {
	*source
	name  word
	value *yaml.Node
}

func (f field) at() place { return placeOf(f.value) }

// get gives the field of that name.
func (o object) get(name string) (field, bool) {
	for _, f := range o.fields {
		if f.name.text == name {
			return f, true
		}
	}
	return field{}, false
}

func (o object) has(name string) bool {
	_, ok := o.get(name)
	return ok
}

// object reads a set of fields. Names other than the known ones are mistakes,
// unless none are given, when any name will do.
func (s *source) object(n *yaml.Node, what string, known ...string) object {
	o := object{source: s, at: placeOf(n)}
	if n.Kind != yaml.MappingNode {
		s.wrong(o.at, "fields.not", what, fieldList(known))
		return o
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		name, ok := s.text(n.Content[i], "the name of a field")
		if !ok {
			continue
		}
		f := field{s, name, n.Content[i+1]}
		f.name.text = s.renamed(f, what, known)
		first, twice := o.get(f.name.text)
		switch {
		case twice:
			s.wrong(name.place, "field.twice", name.text, what, first.name.line)
		case len(known) > 0 && f.name.text == "":
			s.wrong(name.place, "field.unknown", name.text, what, meant{name.text, known})
		default:
			o.fields = append(o.fields, f)
		}
	}
	return o
}

// formerActuator is what the field "actuator number" was when it counted from 0.
const formerActuator = "actuator"

// renamed gives the name under which a field is read, "" for one that is not known. A name of
// before is refused with the one of now, save in a text that was kept. What the field says is
// read either way, and one whose value changed its meaning keeps its old name, so that no file
// of before means another thing now.
func (s *source) renamed(f field, what string, known []string) string {
	was := f.name.text
	if len(known) == 0 || slices.Contains(known, was) {
		return was
	}
	now, is := map[string]string{formerActuator: "actuator number"}[was]
	if !is || !slices.Contains(known, now) {
		return ""
	}
	if !s.kept {
		kind, name, _ := strings.Cut(what, " ")
		number := "N"
		if n, err := strconv.Atoi(f.value.Value); err == nil && n >= 0 {
			number = strconv.Itoa(n + 1)
		}
		s.wrong(f.name.place, "renamed.counted", was, kind, name, now, number)
	}
	return was
}

// section reads the field as an object, empty when it is absent or no object.
func (o object) section(name string, known ...string) (object, bool) {
	f, ok := o.get(name)
	if !ok {
		return object{source: o.source, at: o.at}, false
	}
	return f.object(name, known...), f.value.Kind == yaml.MappingNode
}

func (f field) object(what string, known ...string) object {
	return f.source.object(f.value, what, known...)
}

// words splits the text of a field at white space. A list stands for its items with spaces
// between them.
func (f field) words() (all []word) {
	if f.value.Kind != yaml.SequenceNode {
		return f.split(f.value, f.name.text)
	}
	for _, item := range f.value.Content {
		all = append(all, f.split(item, "an item of "+f.name.text)...)
	}
	return all
}

// line is the text of a field that must be one line of printable characters.
func (o object) line(name string) (word, bool) {
	f, ok := o.get(name)
	if !ok {
		return word{}, false
	}
	w, ok := f.text(f.value, name)
	if !ok {
		return w, false
	}
	if r, odd := unprintable(w.text, true); odd {
		f.wrong(w.place, "line.control", name, r)
		return w, false
	}
	return w, true
}

// choice reads a field that has one of a few values; it gives the first of
// them when the field is absent or wrong.
func (o object) choice(name string, values ...string) string {
	w, ok := o.line(name)
	if !ok {
		return values[0]
	}
	if !slices.Contains(values, w.text) {
		o.wrong(w.place, "choice", name, w.text, strings.Join(values, " or "))
		return values[0]
	}
	return w.text
}

// list reads a field as words, nil when it is absent.
func (o object) list(name string) []word {
	f, ok := o.get(name)
	if !ok {
		return nil
	}
	if f.value.Kind == yaml.MappingNode {
		f.wrong(f.at(), "list.not", name)
		return nil
	}
	return f.words()
}

// missing reports a field that cannot be left out.
func (o object) missing(name, example string) bool {
	if o.has(name) {
		return false
	}
	o.wrong(o.at, "field.missing", name, example)
	return true
}
