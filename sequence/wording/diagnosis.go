package wording

import (
	"strings"

	"padjig/sequence/diagnose"
)

// Diagnosis words what a diagnosis says.
type Diagnosis struct{ words Words }

// Diagnosis words diagnoses for people who read them now.
func (w Words) Diagnosis() Diagnosis { return Diagnosis{w} }

// Kept words a diagnosis as records keep it: in English, whatever words are in use.
func Kept() Diagnosis { return Diagnosis{} }

// Of says one fact.
func (d Diagnosis) Of(s diagnose.Said) string {
	args := make([]any, len(s.Args))
	for i, arg := range s.Args {
		args[i] = arg
	}
	return d.words.Say(string(s.Code), args...)
}

// Reading says which reading it is and what of it.
func (d Diagnosis) Reading(says []diagnose.Said) string {
	words := make([]string, len(says))
	for i, s := range says {
		words[i] = d.Of(s)
	}
	return strings.Join(words, " ")
}

// Kind is the name of what may have happened.
func (d Diagnosis) Kind(k diagnose.Kind) string { return d.words.Say("kind." + string(k)) }

// Cause says a cause in one line.
func (d Diagnosis) Cause(c diagnose.Cause) string {
	text := d.Kind(c.Kind) + ": " + d.Of(c.Place)
	if c.Ohm != nil {
		text += ", " + c.Ohm.String()
	}
	return text
}

// Sentence says a diagnosis in one line.
func (d Diagnosis) Sentence(all diagnose.Diagnosis) (text string) {
	for _, s := range all.Sum {
		if c, ok := all.First(); ok && s.Code == diagnose.Likeliest {
			s.Args = []string{d.Cause(c)}
		}
		text += d.Of(s)
	}
	return text
}
