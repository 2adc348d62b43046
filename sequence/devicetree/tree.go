package devicetree

import (
	"fmt"
	"slices"
	"strings"

	"padjig/sequence/product"
)

// Tree is a devicetree source as far as it was read.
type Tree struct {
	root    *Node
	orphans []*Node // what &label {} says of nodes that stand in files not read
	opened  int     // nodes, by name or by reference, each as often as it was
	scanner *scanner
}

// Node is a node with everything that the source says of it, wherever it says
// it: a node opened again, directly or by reference, is still one node.
type Node struct {
	Name         string // with the unit address; "/" for the root, "&label" when only known by reference
	Labels       []string
	Parent       *Node
	Children     []*Node
	Properties   []Property
	Line, Column int // where the source names it first, from 1
}

// Property is a property as it was set last.
type Property struct {
	Name         string
	Values       []Value // none for a property without value
	Line, Column int
}

// Value is one of the values between the commas of a property.
type Value struct {
	Text  string // of a string, escapes as written
	Cells []Cell // of < >
	Bits  uint   // of a cell; 0 for a value that is no array of cells
}

// Cell is an integer of an array of cells.
type Cell struct {
	Value        uint32
	Unknown      string // a name without known value that the integer depends on, else ""
	Reference    string // label or path of a reference, else ""
	Key          bool   // written with MATRIX_KEY: row and column of Value hold even with an Unknown code
	Code         string // the key code's name in MATRIX_KEY, "" when it was no single name
	Line, Column int
}

// MaxSize is the largest source, in bytes: one of a large board, all its files put
// together by the preprocessor, takes some hundreds of thousands.
const MaxSize = 1 << 20

// Parse reads a devicetree source; name stands for the file in mistakes. A
// source that is wrong gives an error of type [product.Mistakes].
func Parse(name string, text []byte) (*Tree, error) {
	if len(text) > MaxSize {
		return nil, product.Mistakes{{File: name, Line: 1, Column: 1, Message: fmt.Sprintf(
			"this is larger than %d KiB; is it a devicetree source? Import the file that holds the keymap alone", MaxSize>>10)}}
	}
	t := &Tree{root: &Node{Name: "/", Line: 1, Column: 1}, scanner: newScanner(name, text)}
	s := t.scanner
	for s.blank(); !s.ended(); s.blank() {
		t.item()
	}
	if len(s.mistakes) > 0 {
		return nil, ordered(s.mistakes)
	}
	return t, nil
}

// item reads one thing at the top of the file.
func (t *Tree) item() {
	s := t.scanner
	labels := s.labels()
	at := s.at
	switch {
	case s.rune(0) == '&':
		s.advance(1)
		name := s.target()
		t.reopened(name, labels, at)
	case s.rune(0) == '/' && inWord(s.rune(1)):
		t.topDirective()
	case s.take("/"):
		s.blank()
		t.body(t.root, labels, at)
	default:
		s.wrong(at, "%q where a node is expected; at the top of the file stand / { }; and &label { };", s.rune(0))
		s.advance(1)
		s.recover()
	}
}

// labels takes the labels in front of something.
func (s *scanner) labels() []string {
	var all []string
	for {
		ahead := 0
		for inWord(s.rune(ahead)) {
			ahead++
		}
		if ahead == 0 || s.rune(ahead) != ':' {
			return all
		}
		all = append(all, s.run(inWord))
		s.advance(1)
		s.blank()
	}
}

func (t *Tree) topDirective() {
	s := t.scanner
	at := s.at
	what := s.slashed()
	switch what {
	case "dts-v1", "plugin", "memreserve":
		s.recover()
	case "include":
		s.include(at)
	case "delete-node":
		if s.blank(); s.take("&") {
			t.remove(t.referred(s.target()))
		}
		s.semicolon("/delete-node/ &label")
	case "omit-if-no-ref":
	default:
		s.wrong(at, "/%s/ cannot stand here; take it out", what)
		s.recover()
	}
}

// slashed takes a word between slashes.
func (s *scanner) slashed() string {
	s.advance(1)
	what := s.run(inName)
	s.take("/")
	s.blank()
	return what
}

func (s *scanner) include(at place) {
	s.blank()
	if s.rune(0) != '"' {
		s.wrong(at, `file name expected; write /include/ "board.dtsi"`)
		return
	}
	s.remark(at, "%q is not read; what it holds is not known here", s.quoted())
}

// reopened reads &label { }; which adds to a node named elsewhere.
func (t *Tree) reopened(name string, labels []string, at place) {
	n := t.referred(name)
	if n == nil {
		n = &Node{Name: "&" + name, Line: at.line, Column: at.column}
		if !strings.HasPrefix(name, "/") {
			n.Labels = []string{name}
		}
		t.orphans = append(t.orphans, n)
	}
	t.scanner.blank()
	t.body(n, labels, at)
}

// body reads what stands in the braces of a node.
func (t *Tree) body(n *Node, labels []string, at place) {
	s := t.scanner
	for _, l := range labels {
		if !slices.Contains(n.Labels, l) {
			n.Labels = append(n.Labels, l)
		}
	}
	if !s.take("{") {
		s.wrong(s.at, "{ expected behind %s; write %s { };", n.Name, n.Name)
		s.recover()
		return
	}
	if n.depth() > mostNested {
		t.hostile(at, "nodes nested more than %d deep", mostNested)
		return
	}
	if t.opened++; t.opened > mostNodes {
		t.hostile(at, "more than %d nodes", mostNodes)
		return
	}
	for s.blank(); !s.take("}"); s.blank() {
		if s.ended() {
			s.endless(at, "node %s without an end; add };", n.Name)
			return
		}
		t.member(n)
	}
	s.semicolon("the } of " + n.Name)
}

// hostile gives a source up that no device has.
func (t *Tree) hostile(at place, format string, most int) {
	t.scanner.endless(at, format+"; this is no devicetree of a device", most)
	t.scanner.advance(len(t.scanner.text))
}

func (n *Node) depth() int {
	if n.Parent == nil {
		return 0
	}
	return 1 + n.Parent.depth()
}

// member reads a property or a node within a node.
func (t *Tree) member(n *Node) {
	s := t.scanner
	labels := s.labels()
	at := s.at
	if s.rune(0) == '/' {
		t.memberDirective(n)
		return
	}
	name := s.run(inName)
	s.blank()
	switch {
	case name == "":
		s.wrong(at, "%q where a property or a node is expected; write name = value; or name { };", s.rune(0))
		s.recover()
	case s.rune(0) == '{':
		t.body(n.child(name, at), labels, at)
	case s.rune(0) == '(':
		s.wrong(at, "%s( ) is a macro with arguments, which is not expanded; %s", name, preprocessor)
		s.recover()
	default:
		t.property(n, name, at)
	}
}

func (t *Tree) property(n *Node, name string, at place) {
	s, ok := t.scanner, true
	if len(n.Properties) >= mostProperties {
		t.hostile(at, "more than %d properties in one node", mostProperties)
		return
	}
	p := Property{Name: name, Line: at.line, Column: at.column}
	if s.take("=") {
		p.Values, ok = s.values(name)
	}
	n.set(p)
	if ok {
		s.semicolon("property " + name)
	} else {
		s.recover()
	}
}

func (t *Tree) memberDirective(n *Node) {
	s := t.scanner
	at := s.at
	what := s.slashed()
	switch what {
	case "delete-property":
		name := s.run(inName)
		n.Properties = slices.DeleteFunc(n.Properties, func(p Property) bool { return p.Name == name })
		s.semicolon("/delete-property/ " + name)
	case "delete-node":
		if s.take("&") {
			t.remove(t.referred(s.target()))
		} else {
			t.remove(n.find(s.run(inName)))
		}
		s.semicolon("/delete-node/")
	case "include":
		s.include(at)
	case "omit-if-no-ref":
	default:
		s.wrong(at, "/%s/ cannot stand here; take it out", what)
		s.recover()
	}
}

// semicolon takes the one that must follow.
func (s *scanner) semicolon(after string) {
	s.blank()
	if !s.take(";") {
		s.wrong(s.at, "; expected behind %s", after)
		s.recover()
	}
}

// recover goes on behind the next semicolon, or at the brace that closes the
// node, so that one mistake does not hide the next.
func (s *scanner) recover() {
	open := 0
	for s.blank(); !s.ended(); s.blank() {
		switch s.rune(0) {
		case '"':
			s.quoted()
			continue
		case '{':
			open++
		case '}':
			if open == 0 {
				return
			}
			open--
		case ';':
			if open == 0 {
				s.advance(1)
				return
			}
		}
		s.advance(1)
	}
}

// values reads the values of a property up to its semicolon.
func (s *scanner) values(name string) ([]Value, bool) {
	var all []Value
	for {
		s.blank()
		s.labels()
		v, ok := s.value(name)
		if !ok {
			return all, false
		}
		all = append(all, v)
		s.blank()
		s.labels()
		if !s.take(",") {
			return all, true
		}
	}
}

func (s *scanner) value(name string) (Value, bool) {
	at := s.at
	switch r := s.rune(0); {
	case r == '<':
		s.advance(1)
		return Value{Cells: s.cells(at, 32), Bits: 32}, true
	case r == '"':
		return Value{Text: s.quoted()}, true
	case r == '[':
		if !s.through("]") {
			s.endless(at, "bytes without an end; add the closing ]")
		}
	case r == '&':
		s.advance(1)
		s.target()
	case r == '/':
		return s.marked()
	case inWord(r) && !isDigit(r): // a macro
		s.run(inWord)
		if s.rune(0) == '(' && !s.through(")") {
			s.endless(at, "parenthesis without an end; close it")
		}
	default:
		s.wrong(at, "%s has no value that can be read; write integers in < > or text in quotes", name)
		return Value{}, false
	}
	return Value{}, true
}

// marked reads /bits/ N < > and passes over /incbin/ ( ).
func (s *scanner) marked() (Value, bool) {
	at := s.at
	switch what := s.slashed(); what {
	case "bits":
		bits := s.run(isDigit)
		s.blank()
		open := s.at
		width, ok := map[string]uint{"8": 8, "16": 16, "32": 32, "64": 64}[bits]
		if !ok || !s.take("<") {
			s.wrong(at, "write /bits/ with 8, 16, 32 or 64 and cells behind it")
			return Value{}, false
		}
		return Value{Cells: s.cells(open, width), Bits: width}, true
	case "incbin":
		if !s.through(")") {
			s.endless(at, "parenthesis without an end; close it")
		}
		return Value{}, true
	default:
		s.wrong(at, "/%s/ is no value; write integers in < > or text in quotes", what)
		return Value{}, false
	}
}
