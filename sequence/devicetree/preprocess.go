package devicetree

// preprocessor is the remedy for what needs the C preprocessor.
const preprocessor = "run the source through the C preprocessor first " +
	"(gcc -E -nostdinc -undef -x assembler-with-cpp) and import what comes out"

// directive passes over one preprocessor line and does what it says. A # that
// begins the name of a property, as in #gpio-cells, is none.
func (s *scanner) directive() bool {
	if s.rune(0) != '#' || !s.beginsLine() {
		return false
	}
	ahead := 1
	for s.rune(ahead) == ' ' || s.rune(ahead) == '\t' {
		ahead++
	}
	word := s.wordAt(ahead)
	at := s.at
	switch word {
	case "define":
		s.advance(ahead + len(word))
		s.define()
	case "undef":
		s.advance(ahead + len(word))
		s.line()
		delete(s.macros.body, s.run(inWord))
	case "include":
		s.advance(ahead + len(word))
		s.line()
		s.remark(at, "%s is not read; names that it defines have no value here", s.restOfLine())
	case "if", "ifdef", "ifndef":
		s.wrong(at, "#%s is not followed; %s", word, preprocessor)
	case "elif", "else", "endif", "error", "warning", "pragma", "line":
	default:
		if !isDigit(s.rune(ahead)) || ahead == 1 { // else "# 12 file" of a preprocessed source
			return false
		}
	}
	s.restOfLine()
	return true
}

func (c *cursor) beginsLine() bool {
	i := c.next - 1
	for i >= 0 && (c.text[i] == ' ' || c.text[i] == '\t') {
		i--
	}
	return i < 0 || c.text[i] == '\n'
}

// wordAt gives the word so far ahead, "" when it is longer than a directive
// can be or runs on as the name of a property would.
func (c *cursor) wordAt(ahead int) string {
	n := 0
	for inWord(c.rune(ahead+n)) && n < 10 {
		n++
	}
	if inName(c.rune(ahead + n)) {
		return ""
	}
	return string(c.text[c.next+ahead : c.next+ahead+n])
}

// line passes over space and comments within the line, continuations included.
func (s *scanner) line() {
	for {
		if s.rune(0) == '\n' || !s.spaceInLine() {
			return
		}
	}
}

func (s *scanner) spaceInLine() bool {
	if s.take("\\\n") || s.take("\\\r\n") {
		return true
	}
	if r := s.rune(0); r == ' ' || r == '\t' || r == '\r' {
		s.advance(1)
		return true
	}
	return (s.sees("/*") || s.sees("//")) && s.space()
}

func (s *scanner) restOfLine() string {
	from, to := s.next, s.next
	for !s.ended() && s.rune(0) != '\n' {
		if !s.spaceInLine() {
			s.advance(1)
			to = s.next
		}
	}
	return string(s.text[from:to])
}

// define keeps the meaning of a name. A macro with arguments, or one that holds
// more than integers, is forgotten: its name then has no value.
func (s *scanner) define() {
	s.line()
	name := s.run(inWord)
	delete(s.macros.body, name)
	if name == "" || s.rune(0) == '(' {
		return
	}
	body, depth := []token{}, 0
	for s.line(); !s.ended() && s.rune(0) != '\n'; s.line() {
		t, ok := s.token(depth)
		if !ok {
			return
		}
		depth += nesting(t)
		body = append(body, t)
	}
	s.macros.body[name] = body
}

func nesting(t token) int {
	switch {
	case t.kind == sign && t.text == "(":
		return 1
	case t.kind == sign && t.text == ")":
		return -1
	}
	return 0
}
