package wording

import (
	"math"
	"slices"
	"strings"

	"padjig/sequence"
	"padjig/sequence/prove"
)

// Words are the words of a catalogue in one language; without one, those for facts in English
// as the program was built.
type Words struct {
	Tag       string // of the language
	catalogue Catalogue
}

// In are the catalogue's words in a language.
func (c Catalogue) In(lang string) Words { return Words{lang, c} }

// Has reports whether there is a text for a key.
func (w Words) Has(key string) bool { return w.texts().Has(key) }

// Say gives the text of a key, see [Catalogue.Say].
func (w Words) Say(key string, args ...any) string { return w.texts().Say(w.Tag, key, args...) }

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
		text += ", " + w.Say("fact.limit", bound)
	}
	return text
}

// Term is the name of a finding.
func (w Words) Term(what string) string {
	if key := "term." + what; w.Has(key) {
		return w.Say(key)
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
	why := run.Why
	if a := run.Proofs; a != nil {
		switch why.Code {
		case sequence.HarnessProved:
			why = sequence.Fact(why.Code, w.Proofs(a.Proved), w.Gaps(a.Missing))
		case sequence.NotProved:
			why = sequence.Fact(why.Code, w.Gaps(a.Missing))
		}
	}
	return w.said("why.", why), true
}

// Proofs names proofs in one line.
func (w Words) Proofs(all []prove.Proof) string { return w.Say("proof.list", prove.Listed(all)) }

// Gaps names what was not proved in one line, with the keys or pins where it is some of them:
// once for all the proofs that the same ones lack.
func (w Words) Gaps(all []prove.Gap) string { return w.gaps(all, math.MaxInt) }

// gaps names of some keys or pins the first so many, and says how many more there are.
func (w Words) gaps(all []prove.Gap, most int) string {
	var said []string
	for len(all) > 0 {
		of, same := all[0].Of, []prove.Proof{}
		for len(all) > 0 && slices.Equal(all[0].Of, of) {
			same, all = append(same, all[0].Proof), all[1:]
		}
		text, of := w.Proofs(same), lacking(w, of)
		switch more := len(of) - most; {
		case more > 0:
			text += " (" + w.Say("gap.more", strings.Join(of[:most], " "), more) + ")"
		case len(of) > 0:
			text += " (" + strings.Join(of, " ") + ")"
		}
		said = append(said, text)
	}
	return strings.Join(said, "; ")
}

// lacking are the keys or pins of a gap. The readings at rest have no labels: they have words.
func lacking(w Words, of []string) []string {
	said := slices.Clone(of)
	for i, name := range said {
		if key := "gap.of." + name; w.Has(key) {
			said[i] = w.Say(key)
		}
	}
	return said
}

// Proved says in one line what a run proved; where it is not recorded, that.
func (w Words) Proved(run sequence.Run) string {
	switch a := run.Proofs; {
	case a == nil:
		return w.Say("proof.not recorded")
	case len(a.Proved) == 0:
		return w.Say("proof.none")
	default:
		return w.Say("proof.proved", w.Proofs(a.Proved))
	}
}

// Insulation says of each step with nothing pressed what is known of the pair of lines of
// which the least is known.
func (w Words) Insulation(run sequence.Run) (said []string) {
	for _, step := range run.Steps {
		bound, known := sequence.Weakest(run.Insulation, step.Name)
		if !known {
			continue
		}
		key := "insulation.group"
		switch {
		case bound.Ohm.AtLeast: // then any other pair may be the least as well
			key = "insulation.over"
		case bound.Alone:
			key = "insulation.pair"
		}
		said = append(said, w.Say(key, step.Name, bound.Lines[0], bound.Lines[1], bound.Said()))
	}
	return said
}

// Unproved says what a run left unproved that the product does without, empty where there
// is nothing, or it is not known.
func (w Words) Unproved(run sequence.Run) string {
	if run.Proofs == nil || len(run.Proofs.NotRequired) == 0 {
		return ""
	}
	return w.Say("proof.not required", w.Gaps(run.Proofs.NotRequired))
}

// Missing says what a run would have had to prove besides, empty where there is nothing, or
// it is not known.
func (w Words) Missing(run sequence.Run) string {
	if run.Proofs == nil || len(run.Proofs.Missing) == 0 {
		return ""
	}
	return w.Say("proof.missing", w.Gaps(run.Proofs.Missing))
}

// keysAtAGlance is how many keys are named where there is no room for more.
const keysAtAGlance = 3

// MissingAtAGlance is Missing where a picture of the keys stands beside it: of many keys it
// names the first.
func (w Words) MissingAtAGlance(run sequence.Run) string {
	if run.Proofs == nil || len(run.Proofs.Missing) == 0 {
		return ""
	}
	return w.Say("proof.missing", w.gaps(run.Proofs.Missing, keysAtAGlance))
}

// said says a fact. One that this version has no words for is said as it is kept.
func (w Words) said(kind string, s sequence.Said) string {
	key := Key(w, kind+string(s.Code), s.Args)
	if !w.Has(key) {
		return " " + strings.Join(append([]string{string(s.Code)}, s.Args...), " ")
	}
	args := make([]any, len(s.Args))
	for i, arg := range s.Args {
		args[i] = arg
	}
	return w.Say(key, args...)
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
	if text == string(run.Outcome) && w.Has("shown.outcome."+text) {
		return w.Say("shown.outcome." + text)
	}
	return w.Term(text)
}
