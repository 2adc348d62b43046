package devicetree

import (
	"cmp"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// cellReader turns the tokens between < and > into cells. Macros are put in as
// the tokens are asked for.
type cellReader struct {
	*notes
	macros *macros
	stack  []frame
	depth  int
	bits   uint
}

// macros are the names that #define gave a meaning.
type macros struct {
	body  map[string][]token
	spent int // tokens that they have put in
}

// frame is a stretch of tokens not read yet: the cells, or a macro within them.
type frame struct {
	macro string
	rest  []token
}

// operand is the value of an expression, or the first name in it that has none.
type operand struct {
	value   uint64
	unknown string
}

// Beyond these a source is hostile: macros that double each other, brackets
// without number, more nodes and properties than any board has, which are looked
// for one by one.
const (
	mostPutIn      = 50_000
	mostNested     = 100
	mostNodes      = 10_000
	mostProperties = 1000 // of a node
)

func (s *scanner) cells(open place, bits uint) (all []Cell) {
	tokens := append(s.cellTokens(open), token{kind: end, place: s.at})
	r := &cellReader{notes: s.notes, macros: s.macros, bits: bits, stack: []frame{{rest: tokens}}}
	for r.peek().kind != end {
		c, ok := r.cell()
		if !ok {
			return all
		}
		if c != nil {
			all = append(all, *c)
		}
	}
	return all
}

// raw gives the next token as it stands.
func (r *cellReader) raw() token {
	for len(r.stack) > 1 && len(r.top().rest) == 0 {
		r.stack = r.stack[:len(r.stack)-1]
	}
	return r.top().rest[0]
}

func (r *cellReader) top() *frame { return &r.stack[len(r.stack)-1] }

func (r *cellReader) take() token {
	t := r.raw()
	if t.kind != end {
		r.top().rest = r.top().rest[1:]
	}
	return t
}

// peek gives the next token with macros put in.
func (r *cellReader) peek() token {
	for {
		t := r.raw()
		body, known := r.macros.body[t.text]
		if t.kind != word || !known || r.within(t.text) {
			return t
		}
		if r.macros.spent += len(body); r.macros.spent > mostPutIn {
			r.wrong(t.place, "macros put in more than %d tokens; write the cells out", mostPutIn)
			r.macros.body = map[string][]token{}
			return t
		}
		r.take()
		put := slices.Clone(body)
		for i := range put {
			put[i].place = t.place
		}
		r.stack = append(r.stack, frame{t.text, put})
	}
}

// within reports whether the macro is being put in; it is not put into itself.
func (r *cellReader) within(macro string) bool {
	return slices.ContainsFunc(r.stack, func(f frame) bool { return f.macro == macro })
}

func (r *cellReader) takes(text string) bool {
	if t := r.peek(); t.kind != sign || t.text != text {
		return false
	}
	r.take()
	return true
}

// cell reads one cell; nil for a label, which is none.
func (r *cellReader) cell() (*Cell, bool) {
	t := r.peek()
	c := &Cell{Line: t.line, Column: t.column}
	if t.kind == reference {
		r.take()
		c.Reference = t.text
		return c, true
	}
	if t.kind == word && t.text == matrixKey {
		return r.crossing(c)
	}
	if t.kind == sign && t.text != "(" {
		r.wrong(t.place, "%q cannot begin a cell; put an expression in parentheses", t.text)
		return nil, false
	}
	v, ok := r.primary()
	if !ok {
		return nil, false
	}
	if t.kind == word && r.raw().kind == sign && r.raw().text == ":" {
		r.take()
		return nil, true
	}
	c.Value, c.Unknown = uint32(v.value), v.unknown
	if v.unknown == "" && !fits(v.value, r.bits) {
		r.wrong(t.place, "%#x does not fit in a cell of %d bits; correct it", v.value, r.bits)
	}
	return c, true
}

// fits reports whether v, signed or not, fits in so many bits.
func fits(v uint64, bits uint) bool {
	if bits >= 64 {
		return true
	}
	mask := uint64(1)<<bits - 1
	return v <= mask || v|mask == math.MaxUint64
}

// matrixKey is the macro of the kernel's bindings for one entry of a keymap.
const matrixKey = "MATRIX_KEY"

// crossing reads MATRIX_KEY(row, column, code). The code is kept by name too,
// which says more than its number.
func (r *cellReader) crossing(c *Cell) (*Cell, bool) {
	at := r.take().place
	if !r.takes("(") {
		r.wrong(at, "%s without arguments; write %s(row, column, code)", matrixKey, matrixKey)
		return nil, false
	}
	row, ok := r.argument("row", math.MaxUint8)
	if !ok || !r.comma() {
		return nil, false
	}
	column, ok := r.argument("column", math.MaxUint8)
	if !ok || !r.comma() {
		return nil, false
	}
	c.Code = r.alone()
	v, ok := r.expression()
	switch {
	case !ok:
		return nil, false
	case v.unknown == "" && v.value > math.MaxUint16:
		r.wrong(at, "key code %#x does not fit in 16 bits; correct it", v.value)
	}
	if v.unknown != "" && c.Code == "" {
		r.wrong(at, "%s has no value here; write the name or the number of the code by itself, or #define it "+
			"in this file", v.unknown)
	}
	c.Key, c.Unknown = true, v.unknown
	c.Value = uint32(row)<<24 | uint32(column)<<16 | uint32(v.value&math.MaxUint16)
	return c, r.closed(at)
}

// alone gives the next token when it is a name and the only one of the last
// argument.
func (r *cellReader) alone() string {
	t, rest := r.raw(), r.top().rest
	if t.kind != word || len(rest) < 2 || rest[1].kind != sign || rest[1].text != ")" {
		return ""
	}
	return t.text
}

func (r *cellReader) argument(what string, most uint64) (uint64, bool) {
	at := r.peek().place
	v, ok := r.expression()
	switch {
	case !ok:
		return 0, false
	case v.unknown != "":
		r.wrong(at, "%s has no value here; write the number of the %s, or #define it in this file",
			v.unknown, what)
		return 0, true
	case v.value > most:
		r.wrong(at, "%s %d does not fit in 8 bits; correct it", what, int64(v.value))
		return 0, true
	}
	return v.value, true
}

func (r *cellReader) comma() bool {
	if r.takes(",") {
		return true
	}
	r.wrong(r.peek().place, "comma expected; write %s(row, column, code)", matrixKey)
	return false
}

func (r *cellReader) closed(open place) bool {
	if r.takes(")") {
		return true
	}
	r.wrong(open, "parenthesis without an end; close it behind the expression")
	return false
}

// deeper goes one level into an expression, unless there are too many.
func (r *cellReader) deeper() bool {
	if r.depth == mostNested {
		r.wrong(r.peek().place, "expression nested more than %d deep; write it simpler", mostNested)
		return false
	}
	r.depth++
	return true
}

// dyadic are those with two operands: how strongly they bind, as in C, and what they make.
var dyadic = map[string]struct {
	strength int
	of       func(a, b uint64) uint64
}{
	"||": {1, func(a, b uint64) uint64 { return truth(a != 0 || b != 0) }},
	"&&": {2, func(a, b uint64) uint64 { return truth(a != 0 && b != 0) }},
	"|":  {3, func(a, b uint64) uint64 { return a | b }},
	"^":  {4, func(a, b uint64) uint64 { return a ^ b }},
	"&":  {5, func(a, b uint64) uint64 { return a & b }},
	"==": {6, func(a, b uint64) uint64 { return truth(a == b) }},
	"!=": {6, func(a, b uint64) uint64 { return truth(a != b) }},
	"<":  {7, func(a, b uint64) uint64 { return truth(a < b) }},
	">":  {7, func(a, b uint64) uint64 { return truth(a > b) }},
	"<=": {7, func(a, b uint64) uint64 { return truth(a <= b) }},
	">=": {7, func(a, b uint64) uint64 { return truth(a >= b) }},
	"<<": {8, func(a, b uint64) uint64 { return a << b }},
	">>": {8, func(a, b uint64) uint64 { return a >> b }},
	"+":  {9, func(a, b uint64) uint64 { return a + b }},
	"-":  {9, func(a, b uint64) uint64 { return a - b }},
	"*":  {10, func(a, b uint64) uint64 { return a * b }},
	"/":  {10, func(a, b uint64) uint64 { return a / b }},
	"%":  {10, func(a, b uint64) uint64 { return a % b }},
}

func truth(b bool) uint64 {
	if b {
		return 1
	}
	return 0
}

// expression reads a whole expression, the conditional operator included.
func (r *cellReader) expression() (operand, bool) {
	if !r.deeper() {
		return operand{}, false
	}
	defer func() { r.depth-- }()
	condition, ok := r.binary(1)
	if !ok || !r.takes("?") {
		return condition, ok
	}
	yes, ok := r.expression()
	if !ok {
		return yes, false
	}
	if !r.takes(":") {
		r.wrong(r.peek().place, "colon expected; write (condition ? value : value)")
		return operand{}, false
	}
	no, ok := r.expression()
	switch {
	case condition.unknown != "":
		return condition, ok
	case condition.value != 0:
		return yes, ok
	}
	return no, ok
}

// binary reads operands joined by operators that bind at least so strongly.
func (r *cellReader) binary(least int) (operand, bool) {
	left, ok := r.unary()
	for ok {
		t := r.peek()
		operator, known := dyadic[t.text]
		if t.kind != sign || !known || operator.strength < least {
			return left, true
		}
		r.take()
		var right operand
		if right, ok = r.binary(operator.strength + 1); ok {
			left, ok = r.join(t, left, right)
		}
	}
	return left, false
}

func (r *cellReader) unary() (operand, bool) {
	if !r.deeper() {
		return operand{}, false
	}
	defer func() { r.depth-- }()
	for _, operator := range []string{"-", "~", "!"} {
		if r.takes(operator) {
			v, ok := r.unary()
			return negated(operator, v), ok
		}
	}
	return r.primary()
}

func negated(operator string, v operand) operand {
	switch {
	case v.unknown != "":
	case operator == "-":
		v.value = -v.value
	case operator == "~":
		v.value = ^v.value
	default:
		v.value = truth(v.value == 0)
	}
	return v
}

var integer = regexp.MustCompile(`^(?:0[xX][0-9a-fA-F]+|0[0-7]*|[1-9][0-9]*)U?L{0,2}$`)

// primary reads a number, a name, a call or an expression in parentheses.
func (r *cellReader) primary() (operand, bool) {
	t := r.peek()
	switch {
	case t.kind == number:
		return r.integer(r.take())
	case t.kind == word:
		return r.named(r.take())
	case r.takes("("):
		v, ok := r.expression()
		return v, ok && r.closed(t.place)
	case t.kind == end:
		r.wrong(t.place, "the cells end within an expression; complete it")
	default:
		r.wrong(t.place, "%q where a number or a name is expected; correct the expression", t.text)
	}
	return operand{}, false
}

func (r *cellReader) integer(t token) (operand, bool) {
	digits := strings.TrimRight(t.text, "UL")
	v, err := strconv.ParseUint(digits, 0, 64)
	if err != nil || !integer.MatchString(t.text) {
		r.wrong(t.place, "%q is not an integer of 64 bits; write it like 12 or 0x0c", t.text)
	}
	return operand{value: v}, true
}

// named gives the value of a constant. A call other than of MATRIX_KEY is
// passed over: what it stands for is in a file that was not read.
func (r *cellReader) named(t token) (operand, bool) {
	if next := r.raw(); next.kind == sign && next.text == "(" {
		if t.text == matrixKey {
			r.stack = append(r.stack, frame{rest: []token{t}})
			c, ok := r.crossing(new(Cell))
			if !ok {
				return operand{}, false
			}
			return operand{uint64(c.Value), c.Unknown}, true
		}
		return operand{unknown: t.text + "()"}, r.call(t)
	}
	if v, known := constants[t.text]; known {
		return operand{value: v}, true
	}
	return operand{unknown: t.text}, true
}

func (r *cellReader) call(name token) bool {
	depth := 0
	for {
		t := r.take()
		if t.kind == end {
			r.wrong(name.place, "parenthesis without an end behind %s; close it", name.text)
			return false
		}
		if depth += nesting(t); depth == 0 {
			return true
		}
	}
}

// join applies a binary operator.
func (r *cellReader) join(operator token, a, b operand) (operand, bool) {
	switch {
	case a.unknown != "" || b.unknown != "":
		return operand{unknown: cmp.Or(a.unknown, b.unknown)}, true
	case b.value == 0 && (operator.text == "/" || operator.text == "%"):
		r.wrong(operator.place, "division by zero; correct the expression")
		return operand{}, false
	}
	return operand{value: dyadic[operator.text].of(a.value, b.value)}, true
}
