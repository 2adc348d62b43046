package devicetree

import (
	"fmt"
	"slices"
	"strings"

	"padjig/sequence/product"
)

// Tree is a devicetree source as far as it was read.
type Tree struct {
	file    string
	root    *Node
	orphans []*Node          // what &label {} says of nodes that stand in files not read
	remarks product.Mistakes // on the source as a whole
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
	p := &parser{scanner: newScanner(name, text), tree: &Tree{file: name, root: &Node{Name: "/", Line: 1, Column: 1}}}
	for p.blank(); !p.ended(); p.blank() {
		p.item()
	}
	if len(p.mistakes) > 0 {
		return nil, p.mistakes.Sorted()
	}
	p.tree.remarks = p.remarks
	return p.tree, nil
}

// parser reads a source into its tree.
type parser struct {
	*scanner
	tree   *Tree
	opened int // nodes, by name or by reference, each as often as it was
}

// item reads one thing at the top of the file.
func (p *parser) item() {
	labels := p.labels()
	at := p.at
	switch {
	case p.rune(0) == '&':
		p.advance(1)
		name := p.target()
		p.reopened(name, labels, at)
	case p.rune(0) == '/' && inWord(p.rune(1)):
		p.topDirective()
	case p.take("/"):
		p.blank()
		p.body(p.tree.root, labels, at)
	default:
		p.wrong(at, "%q where a node is expected; at the top of the file stand / { }; and &label { };", p.rune(0))
		p.advance(1)
		p.recover()
	}
}

// labels takes the labels in front of something.
func (p *parser) labels() []string {
	var all []string
	for {
		ahead := 0
		for inWord(p.rune(ahead)) {
			ahead++
		}
		if ahead == 0 || p.rune(ahead) != ':' {
			return all
		}
		all = append(all, p.run(inWord))
		p.advance(1)
		p.blank()
	}
}

func (p *parser) topDirective() {
	at := p.at
	what := p.slashed()
	switch what {
	case "dts-v1", "plugin", "memreserve":
		p.recover()
	case "include":
		p.include(at)
	case "delete-node":
		if p.blank(); p.take("&") {
			p.tree.remove(p.tree.referred(p.target()))
		}
		p.semicolon("/delete-node/ &label")
	case "omit-if-no-ref":
	default:
		p.wrong(at, "/%s/ cannot stand here; take it out", what)
		p.recover()
	}
}

// slashed takes a word between slashes.
func (p *parser) slashed() string {
	p.advance(1)
	what := p.run(inName)
	p.take("/")
	p.blank()
	return what
}

func (p *parser) include(at place) {
	p.blank()
	if p.rune(0) != '"' {
		p.wrong(at, `file name expected; write /include/ "board.dtsi"`)
		return
	}
	p.remark(at, "%q is not read; what it holds is not known here", p.quoted())
}

// reopened reads &label { }; which adds to a node named elsewhere.
func (p *parser) reopened(name string, labels []string, at place) {
	n := p.tree.referred(name)
	if n == nil {
		n = &Node{Name: "&" + name, Line: at.line, Column: at.column}
		if !strings.HasPrefix(name, "/") {
			n.Labels = []string{name}
		}
		p.tree.orphans = append(p.tree.orphans, n)
	}
	p.blank()
	p.body(n, labels, at)
}

// body reads what stands in the braces of a node.
func (p *parser) body(n *Node, labels []string, at place) {
	for _, l := range labels {
		if !slices.Contains(n.Labels, l) {
			n.Labels = append(n.Labels, l)
		}
	}
	if !p.take("{") {
		p.wrong(p.at, "{ expected behind %s; write %s { };", n.Name, n.Name)
		p.recover()
		return
	}
	if n.depth() > mostNested {
		p.hostile(at, "nodes nested more than %d deep", mostNested)
		return
	}
	if p.opened++; p.opened > mostNodes {
		p.hostile(at, "more than %d nodes", mostNodes)
		return
	}
	for p.blank(); !p.take("}"); p.blank() {
		if p.ended() {
			p.endless(at, "node %s without an end; add };", n.Name)
			return
		}
		p.member(n)
	}
	p.semicolon("the } of " + n.Name)
}

// hostile gives a source up that no device has.
func (p *parser) hostile(at place, format string, most int) {
	p.endless(at, format+"; this is no devicetree of a device", most)
	p.advance(len(p.text))
}

func (n *Node) depth() int {
	if n.Parent == nil {
		return 0
	}
	return 1 + n.Parent.depth()
}

// member reads a property or a node within a node.
func (p *parser) member(n *Node) {
	labels := p.labels()
	at := p.at
	if p.rune(0) == '/' {
		p.memberDirective(n)
		return
	}
	name := p.run(inName)
	p.blank()
	switch {
	case name == "":
		p.wrong(at, "%q where a property or a node is expected; write name = value; or name { };", p.rune(0))
		p.recover()
	case p.rune(0) == '{':
		p.body(n.child(name, at), labels, at)
	case p.rune(0) == '(':
		p.wrong(at, "%s( ) is a macro with arguments, which is not expanded; %s", name, preprocessor)
		p.recover()
	default:
		p.property(n, name, at)
	}
}

func (p *parser) property(n *Node, name string, at place) {
	ok := true
	if len(n.Properties) >= mostProperties {
		p.hostile(at, "more than %d properties in one node", mostProperties)
		return
	}
	set := Property{Name: name, Line: at.line, Column: at.column}
	if p.take("=") {
		set.Values, ok = p.values(name)
	}
	n.set(set)
	if ok {
		p.semicolon("property " + name)
	} else {
		p.recover()
	}
}

func (p *parser) memberDirective(n *Node) {
	at := p.at
	what := p.slashed()
	switch what {
	case "delete-property":
		name := p.run(inName)
		n.Properties = slices.DeleteFunc(n.Properties, func(p Property) bool { return p.Name == name })
		p.semicolon("/delete-property/ " + name)
	case "delete-node":
		if p.take("&") {
			p.tree.remove(p.tree.referred(p.target()))
		} else {
			p.tree.remove(n.find(p.run(inName)))
		}
		p.semicolon("/delete-node/")
	case "include":
		p.include(at)
	case "omit-if-no-ref":
	default:
		p.wrong(at, "/%s/ cannot stand here; take it out", what)
		p.recover()
	}
}

// semicolon takes the one that must follow.
func (p *parser) semicolon(after string) {
	p.blank()
	if !p.take(";") {
		p.wrong(p.at, "; expected behind %s", after)
		p.recover()
	}
}

// recover goes on behind the next semicolon, or at the brace that closes the
// node, so that one mistake does not hide the next.
func (p *parser) recover() {
	open := 0
	for p.blank(); !p.ended(); p.blank() {
		switch p.rune(0) {
		case '"':
			p.quoted()
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
				p.advance(1)
				return
			}
		}
		p.advance(1)
	}
}

// values reads the values of a property up to its semicolon.
func (p *parser) values(name string) ([]Value, bool) {
	var all []Value
	for {
		p.blank()
		p.labels()
		v, ok := p.value(name)
		if !ok {
			return all, false
		}
		all = append(all, v)
		p.blank()
		p.labels()
		if !p.take(",") {
			return all, true
		}
	}
}

func (p *parser) value(name string) (Value, bool) {
	at := p.at
	switch r := p.rune(0); {
	case r == '<':
		p.advance(1)
		return Value{Cells: p.cells(at, 32), Bits: 32}, true
	case r == '"':
		return Value{Text: p.quoted()}, true
	case r == '[':
		if !p.through("]") {
			p.endless(at, "bytes without an end; add the closing ]")
		}
	case r == '&':
		p.advance(1)
		p.target()
	case r == '/':
		return p.marked()
	case inWord(r) && !isDigit(r): // a macro
		p.run(inWord)
		if p.rune(0) == '(' && !p.through(")") {
			p.endless(at, "parenthesis without an end; close it")
		}
	default:
		p.wrong(at, "%s has no value that can be read; write integers in < > or text in quotes", name)
		return Value{}, false
	}
	return Value{}, true
}

// marked reads /bits/ N < > and passes over /incbin/ ( ).
func (p *parser) marked() (Value, bool) {
	at := p.at
	switch what := p.slashed(); what {
	case "bits":
		bits := p.run(isDigit)
		p.blank()
		open := p.at
		width, ok := map[string]uint{"8": 8, "16": 16, "32": 32, "64": 64}[bits]
		if !ok || !p.take("<") {
			p.wrong(at, "write /bits/ with 8, 16, 32 or 64 and cells behind it")
			return Value{}, false
		}
		return Value{Cells: p.cells(open, width), Bits: width}, true
	case "incbin":
		if !p.through(")") {
			p.endless(at, "parenthesis without an end; close it")
		}
		return Value{}, true
	default:
		p.wrong(at, "/%s/ is no value; write integers in < > or text in quotes", what)
		return Value{}, false
	}
}
