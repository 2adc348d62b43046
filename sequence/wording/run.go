package wording

import (
	"strings"

	"padjig/sequence"
)

// Lang is a language of the catalogue of facts.
type Lang string

// The languages.
const (
	English Lang = "en"
	German  Lang = "de"
)

// Finding says a finding in one line: what, where, what was read, and the limit.
func (l Lang) Finding(f sequence.Finding) string {
	text, _ := l.Place(f)
	text = l.term(f.What) + ": " + text
	if reading := f.Reading(); reading != "" {
		text += ", " + reading
	}
	if bound := f.Bound(); bound != "" {
		text += ", " + Facts.Say(string(l), "fact.limit", bound)
	}
	return text
}

// term is the name of a finding.
func (l Lang) term(what string) string {
	if key := "term." + what; Facts.Has(key) {
		return Facts.Say(string(l), key)
	}
	return what
}

// Place says where a finding is and what is odd about it. What a run of an earlier
// version says in words of its own stays as it is, in English: then known is false.
func (l Lang) Place(f sequence.Finding) (text string, known bool) {
	if f.At.Code == "" {
		return f.Place, false
	}
	text = l.said("at.", f.At)
	for _, how := range f.How {
		text += l.said("how.", how)
	}
	return text, true
}

// Where is the place of a finding alone.
func (l Lang) Where(f sequence.Finding) string {
	return first(l.Place(sequence.Finding{At: f.At, Place: f.Place}))
}

func first[A, B any](a A, _ B) A { return a }

// Why says why a run ended with neither pass nor fail, as Place does of a finding. An
// error keeps its own words.
func (l Lang) Why(run sequence.Run) (text string, known bool) {
	if run.Why.Code == "" || run.Why.Code == sequence.JigFailed {
		return run.Reason, false
	}
	return l.said("why.", run.Why), true
}

// said says a fact. One that this version has no words for is said as it is kept.
func (l Lang) said(kind string, s sequence.Said) string {
	key := kind + string(s.Code)
	if !Facts.Has(key) {
		return " " + strings.Join(append([]string{string(s.Code)}, s.Args...), " ")
	}
	args := make([]any, len(s.Args))
	for i, arg := range s.Args {
		args[i] = arg
	}
	return Facts.Say(string(l), key, args...)
}
