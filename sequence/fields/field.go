package fields

import (
	"slices"
	"strconv"
	"strings"

	yaml "go.yaml.in/yaml/v4"
)

// Object is a set of named fields.
type Object struct {
	*Source
	At     Place
	Fields []Field // as written, without the ones refused
}

// Field is one of them.
type Field struct {
	*Source
	Name  Word
	Value *yaml.Node
}

// At is where the value begins.
func (f Field) At() Place { return placeOf(f.Value) }

// IsSet reports whether the value is a set of fields.
func (f Field) IsSet() bool { return f.Value.Kind == yaml.MappingNode }

// IsText reports whether the value is plain text.
func (f Field) IsText() bool { return f.Value.Kind == yaml.ScalarNode }

// Get gives the field of that name.
func (o Object) Get(name string) (Field, bool) {
	for _, f := range o.Fields {
		if f.Name.Text == name {
			return f, true
		}
	}
	return Field{}, false
}

// Has reports whether there is a field of that name.
func (o Object) Has(name string) bool {
	_, ok := o.Get(name)
	return ok
}

// Object reads a set of fields. Names other than the known ones are mistakes,
// unless none are given, when any name will do.
func (s *Source) Object(n *yaml.Node, what string, known ...string) Object {
	o := Object{Source: s, At: placeOf(n)}
	if n.Kind != yaml.MappingNode {
		s.Wrong(o.At, "fields.not", what, fieldList(known))
		return o
	}
	s.Sets = append(s.Sets, Set{o.At, known})
	for i := 0; i+1 < len(n.Content); i += 2 {
		name, ok := s.scalar(n.Content[i], "the name of a field")
		if !ok {
			continue
		}
		f := Field{s, name, n.Content[i+1]}
		f.Name.Text = f.readAs(what, known)
		first, twice := o.Get(f.Name.Text)
		switch {
		case twice:
			s.Wrong(name.Place, "field.twice", name.Text, what, first.Name.Line)
		case len(known) > 0 && f.Name.Text == "":
			s.Wrong(name.Place, "field.unknown", name.Text, what, Suggest(name.Text, known))
		case f.Value.Kind == yaml.SequenceNode && len(f.Value.Content) == 0:
			s.Wrong(f.At(), "list.empty", name.Text)
		default:
			o.Fields = append(o.Fields, f)
		}
	}
	return o
}

// Renaming is a field that has another name now. It is refused, save in a text that was kept;
// what it says is read either way.
type Renaming struct {
	Was, Now string
	// Refused is the code of the refusal. Its arguments are the old name, kind and name of the
	// object, the new name, the value and, of a number that counted from 0, the one from 1.
	Refused Code
	// Separate fields are read under their old name: their value changed its meaning, and no
	// file of before may mean another thing now.
	Separate bool
}

// readAs gives the name under which a field is read, "" for one that is not known.
func (f Field) readAs(what string, known []string) string {
	if len(known) == 0 || slices.Contains(known, f.Name.Text) {
		return f.Name.Text
	}
	for _, r := range f.renamed {
		if r.Was != f.Name.Text || !slices.Contains(known, r.Now) {
			continue
		}
		if !f.Kept {
			kind, name, _ := strings.Cut(what, " ")
			number := "N"
			if n, err := strconv.Atoi(f.Value.Value); err == nil && n >= 0 {
				number = strconv.Itoa(n + 1)
			}
			f.Wrong(f.Name.Place, r.Refused, r.Was, kind, name, r.Now, f.Value.Value, number)
		}
		if r.Separate {
			return r.Was
		}
		return r.Now
	}
	return ""
}

// Section reads the field as an object, empty when it is absent or no object.
func (o Object) Section(name string, known ...string) (Object, bool) {
	f, ok := o.Get(name)
	if !ok {
		return Object{Source: o.Source, At: o.At}, false
	}
	return f.Object(name, known...), f.IsSet()
}

// Object reads the field as a set of fields.
func (f Field) Object(what string, known ...string) Object {
	return f.Source.Object(f.Value, what, known...)
}

// As is a set of one field, of that name, with the value of f.
func (f Field) As(name string) Object {
	return Object{Source: f.Source, Fields: []Field{{f.Source, Word{name, f.At()}, f.Value}}}
}

// Items are the members of a list, each as a field of that name; none of what is no list.
func (f Field) Items() (all []Field) {
	if f.Value.Kind == yaml.SequenceNode {
		for _, item := range f.Value.Content {
			all = append(all, Field{f.Source, f.Name, item})
		}
	}
	return all
}

// Words splits the text of a field at white space. A list stands for its items with spaces
// between them.
func (f Field) Words() (all []Word) {
	if f.Value.Kind != yaml.SequenceNode {
		return f.split(f.Value, f.Name.Text)
	}
	for _, item := range f.Value.Content {
		all = append(all, f.split(item, "an item of "+f.Name.Text)...)
	}
	return all
}

// Line is the text of a field that must be one line of printable characters.
func (o Object) Line(name string) (Word, bool) {
	f, ok := o.Get(name)
	if !ok {
		return Word{}, false
	}
	w, ok := f.scalar(f.Value, name)
	if !ok {
		return w, false
	}
	if r, odd := Unprintable(w.Text, true); odd {
		f.Wrong(w.Place, "line.control", name, r)
		return w, false
	}
	return w, true
}

// Choice reads a field that has one of a few values; it gives the first of
// them when the field is absent or wrong.
func (o Object) Choice(name string, values ...string) string {
	w, ok := o.Line(name)
	if !ok {
		return values[0]
	}
	if !slices.Contains(values, w.Text) {
		o.Wrong(w.Place, "choice", name, w.Text, strings.Join(values, " or "))
		return values[0]
	}
	return w.Text
}

// List reads a field as words, nil when it is absent.
func (o Object) List(name string) []Word {
	f, ok := o.Get(name)
	if !ok {
		return nil
	}
	if f.IsSet() {
		f.Wrong(f.At(), "list.not", name)
		return nil
	}
	return f.Words()
}

// Missing reports a field that cannot be left out.
func (o Object) Missing(name, example string) bool {
	if o.Has(name) {
		return false
	}
	o.Wrong(o.At, "field.missing", name, example)
	return true
}
