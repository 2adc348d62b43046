package wording

import (
	"slices"
	"strings"

	"padjig/sequence"
)

// Words are the words for facts in one language of a catalogue; without one, in English
// as the program was built.
type Words struct {
	catalogue Catalogue
	lang      string
}

// In are the catalogue's words in a language.
func (c Catalogue) In(lang string) Words { return Words{c, lang} }

// has reports whether there is a text for a key.
func (w Words) has(key string) bool { return w.texts().Has(key) }

func (w Words) say(key string, args ...any) string { return w.texts().Say(w.lang, key, args...) }

func (w Words) texts() Catalogue {
	if w.catalogue == nil {
		return built()
	}
	return w.catalogue
}

// Finding says a finding in one line: what, where, what was read, and the limit.
func (w Words) Finding(f sequence.Finding) string {
	text, _ := w.Place(f)
	text = w.Term(f.What) + ": " + text
	if reading := f.Reading(); reading != "" {
		text += ", " + reading
	}
	if bound := f.Bound(); bound != "" {
		text += ", " + w.say("fact.limit", bound)
	}
	return text
}

// Term is the name of a finding.
func (w Words) Term(what string) string {
	if key := "term." + what; w.has(key) {
		return w.say(key)
	}
	return what
}

// Place says where a finding is and what is odd about it. What a run of an earlier
// version says in words of its own stays as it is, in English: then known is false.
func (w Words) Place(f sequence.Finding) (text string, known bool) {
	if f.At.Code == "" {
		return f.Place, false
	}
	text = w.said("at.", f.At)
	for _, how := range f.How {
		text += w.said("how.", how)
	}
	return text, true
}

// Where is the place of a finding alone.
func (w Words) Where(f sequence.Finding) string {
	return first(w.Place(sequence.Finding{At: f.At, Place: f.Place}))
}

func first[A, B any](a A, _ B) A { return a }

// Why says why a run ended with neither pass nor fail, as Place does of a finding. An
// error keeps its own words.
func (w Words) Why(run sequence.Run) (text string, known bool) {
	if run.Why.Code == "" || run.Why.Code == sequence.JigFailed {
		return run.Reason, false
	}
	return w.said("why.", run.Why), true
}

// said says a fact. One that this version has no words for is said as it is kept.
func (w Words) said(kind string, s sequence.Said) string {
	key := w.texts().Key(kind+string(s.Code), s.Args)
	if !w.has(key) {
		return " " + strings.Join(append([]string{string(s.Code)}, s.Args...), " ")
	}
	args := make([]any, len(s.Args))
	for i, arg := range s.Args {
		args[i] = arg
	}
	return w.say(key, args...)
}

// Pads says what a comparison of keypads came to.
func (w Words) Pads(fact sequence.Said) string { return w.said("pads.", fact) }

// Check says why a reference unit did not show what it must, in a run. What the run says
// for itself is said in these words too.
func (w Words) Check(why sequence.Said, run sequence.Run) string {
	args := slices.Clone(why.Args)
	for i, arg := range args {
		args[i] = w.within(arg, run)
	}
	return w.said("shown.", sequence.Fact(why.Code, args...))
}

// within says what the record of a run says: one of its findings, why it ended, how, or
// the name of a finding. Anything else stays.
func (w Words) within(text string, run sequence.Run) string {
	for _, f := range run.Findings {
		if text == f.String() {
			return w.Finding(f)
		}
	}
	if text != "" && text == run.Reason {
		return first(w.Why(run))
	}
	if text == string(run.Outcome) && w.has("shown.outcome."+text) {
		return w.say("shown.outcome." + text)
	}
	return w.Term(text)
}
