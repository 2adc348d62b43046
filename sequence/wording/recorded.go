package wording

import (
	"strings"

	"padjig/sequence"
)

// Recorded says a finding as the records keep it, a sentence in English, in a language: what is
// counted as one cause goes by those sentences. What is none stays as it is.
func Recorded(w Words, text string) string {
	what, place, placed := strings.Cut(text, ": ")
	if w.Tag == "" || w.Tag == First || !w.Has("term."+what) {
		return text
	}
	if !placed {
		return w.Term(what)
	}
	run := sequence.Run{Findings: []sequence.Finding{{What: what, Place: place}}}
	run.Recall()
	said, _ := w.Place(run.Findings[0])
	return w.Term(what) + ": " + said
}
