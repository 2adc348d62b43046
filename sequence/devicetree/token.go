package devicetree

import (
	"slices"
	"strconv"
	"strings"
)

// token is a piece of the inside of < > or of a macro.
type token struct {
	kind kind
	text string
	place
}

type kind uint8

const (
	end kind = iota
	number
	word      // a macro or a constant
	reference // text is what follows the &
	sign
)

var signs = []string{
	"<<", ">>", "<=", ">=", "==", "!=", "&&", "||",
	"(", ")", "+", "-", "*", "/", "%", "<", ">", "&", "|", "^", "~", "!", "?", ":", ",",
}

// token takes the next token. Outside parentheses & begins a reference.
func (s *scanner) token(depth int) (token, bool) {
	t := token{place: s.at}
	r := s.rune(0)
	switch {
	case isDigit(r):
		t.kind, t.text = number, s.run(inWord)
	case inWord(r):
		t.kind, t.text = word, s.run(inWord)
	case r == '\'':
		t.kind, t.text = number, s.character()
	case r == '&' && depth == 0 && (inWord(s.rune(1)) || s.rune(1) == '{'):
		s.advance(1)
		t.kind, t.text = reference, s.target()
	default:
		i := slices.IndexFunc(signs, s.sees)
		if i < 0 {
			return t, false
		}
		t.kind, t.text = sign, signs[i]
		s.advance(len(t.text))
	}
	return t, true
}

// target takes what a reference names: a label, or a path in braces.
func (s *scanner) target() string {
	if !s.take("{") {
		return s.run(inWord)
	}
	path := s.run(func(r rune) bool { return inName(r) || r == '/' })
	if !s.take("}") {
		s.wrong(s.at, "reference to a path without an end; write it like &{/soc/keypad}")
	}
	return path
}

var escapes = map[rune]rune{
	'0': 0, 'a': 7, 'b': 8, 't': 9, 'n': 10, 'v': 11, 'f': 12, 'r': 13, '\\': '\\', '\'': '\'', '"': '"',
}

// character takes a character literal and gives its number.
func (s *scanner) character() string {
	at := s.at
	s.advance(1)
	value, ok := s.rune(0), s.rune(0) != '\'' && s.rune(0) < 128
	if value == '\\' {
		s.advance(1)
		value, ok = escapes[s.rune(0)]
	}
	s.advance(1)
	if !s.take("'") || !ok {
		s.wrong(at, "not a character; write one such as 'A', or its number")
		return "0"
	}
	return strconv.Itoa(int(value))
}

// cellTokens takes the inside of < >, from behind the < to behind the >.
func (s *scanner) cellTokens(open place) []token {
	var all []token
	depth := 0
	for s.blank(); ; s.blank() {
		if depth == 0 && s.take(">") {
			return all
		}
		if r := s.rune(0); s.ended() || strings.ContainsRune(";{}", r) {
			s.wrong(open, "cells without an end; add the closing > (and every closing parenthesis)")
			return nil
		}
		at := s.at
		t, ok := s.token(depth)
		if !ok {
			s.wrong(at, "%q cannot stand between < and >; write integers, names or references", s.rune(0))
			s.advance(1)
			continue
		}
		depth = max(0, depth+nesting(t))
		all = append(all, t)
	}
}
