package devicetree

import (
	"slices"
	"strings"
	"time"

	"padjig/sequence/product"
)

// Keypad is the key matrix of one node, as far as the node states it.
type Keypad struct {
	File, Node    string // name of the source, path of the node
	Line          int    // of the keymap
	Rows, Columns Axis
	Keys          []Key // those that a pad of the stated size can have, in the order of the keymap
	Scan          Scan
	Remarks       product.Mistakes // what a person should look at, in the order of the source
}

// Axis is the rows or the columns of a keypad.
type Axis struct {
	Count  int
	Stated string   // the property that states the count, "" when it was taken from the keys
	GPIOs  []string // what each line is connected to, when the source lists it
}

// Key is one entry of the keymap.
type Key struct {
	Row, Column int    // of the matrix, from 0
	Ground      bool   // joins its row to ground: its column number is the number of columns
	Label       string // one of a kind

	base string // of the label
	at   place
}

// Scan is what a source says of the scanner. A line is that of the source, 0
// when the property is not there.
type Scan struct {
	Debounce     time.Duration // how long the host waits for a contact to settle
	DebounceLine int
	Settle       time.Duration // from driving a column to reading the rows
	SettleLine   int
	IdleDriven   bool // columns not being read are driven rather than left floating
	IdleLine     int
	Polarity     Polarity
}

// Polarity says at which level the GPIOs of a matrix are active.
type Polarity string

// The polarities. Mixed covers flags whose value is not known, too.
const (
	Unstated   Polarity = ""
	ActiveLow  Polarity = "active low"
	ActiveHigh Polarity = "active high"
	Mixed      Polarity = "mixed"
)

// reader fills in a keypad from its node.
type reader struct {
	*notes
	node *Node
	pad  *Keypad
}

// Read gives the keypad of a node that has a keymap. A node that cannot be
// understood gives an error of type [product.Mistakes].
func (t *Tree) Read(n *Node) (*Keypad, error) {
	s := &notes{file: t.file, remarks: slices.Clone(t.remarks)}
	pad := &Keypad{File: t.file, Node: n.Path(), Line: n.Property(keymapProperty).Line}
	r := &reader{s, n, pad}
	r.condition()
	r.keymap()
	r.labels()
	r.settings()
	r.reach()
	if len(s.mistakes) > 0 {
		return nil, s.mistakes.Sorted()
	}
	pad.Remarks = s.remarks.Sorted()
	return pad, nil
}

func (p *Property) at() place { return place{p.Line, p.Column} }

// cells gives the cells of all values of the property; ok is false when some
// are of another kind than cells of 32 bits.
func (p *Property) cells() (all []Cell, ok bool) {
	for _, v := range p.Values {
		if v.Bits != 32 {
			return nil, false
		}
		all = append(all, v.Cells...)
	}
	return all, true
}

// number reads a property of one cell. ok is false when it is not there or no number.
func (r *reader) number(name string) (value uint32, at place, ok bool) {
	p := r.node.Property(name)
	if p == nil {
		return 0, place{}, false
	}
	cells, ok := p.cells()
	switch {
	case !ok || len(cells) != 1 || cells[0].Reference != "":
		r.wrong(p.at(), "%s must be one number; write it like <4>", name)
		return 0, p.at(), false
	case cells[0].Unknown != "":
		r.wrong(place{cells[0].Line, cells[0].Column}, "%s: %s has no value here; write the number, or #define "+
			"it in this file", name, cells[0].Unknown)
		return 0, p.at(), false
	}
	return cells[0].Value, p.at(), true
}

func (r *reader) says(name, text string) bool {
	p := r.node.Property(name)
	return p != nil && slices.ContainsFunc(p.Values, func(v Value) bool { return v.Bits == 0 && v.Text == text })
}

// condition remarks on what makes the whole node doubtful.
func (r *reader) condition() {
	if p := r.node.Property("status"); p != nil && !r.says("status", "okay") && !r.says("status", "ok") {
		r.remark(p.at(), "the node is not switched on here; make sure that it is the keypad you mean")
	}
	for i := range r.node.Properties {
		p := &r.node.Properties[i]
		if strings.HasSuffix(p.Name, "-keymap") {
			r.remark(p.at(), "%s is a second meaning of the same keys and was not used", p.Name)
		}
	}
}
