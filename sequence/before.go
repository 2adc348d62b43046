package sequence

import (
	"regexp"
	"strings"
	"sync"
)

// Recall gives a run of a version that kept no codes the codes of what it says, so
// that it is read as it was then. It goes by the exact sentences of those versions,
// which are those of [Plain]; what has a code, or says something else, stays as it is.
// It is the one place where words are read.
func (run *Run) Recall() {
	for i := range run.Findings {
		if f := &run.Findings[i]; f.At.Code == "" {
			f.At, f.How = recallPlace(f.Place)
		}
	}
	switch {
	case run.Why.Code != "" || run.Reason == "":
	case run.Outcome == Aborted:
		// An error begins with where it happened. A self-test has one that is a fact.
		run.Why = recallAmong(strings.TrimPrefix(run.Reason, `step "self-test": `), JigMisreads, Interrupted)
	default:
		run.Why = recallAmong(run.Reason, reasons...)
	}
}

// recallPlace splits a place into where it is and what is odd about it. One that is
// no such sentence is neither.
func recallPlace(text string) (at Said, how []Said) {
	text = placesBefore.Replace(text)
	for rest, last := recallLast(text); last.Code != ""; rest, last = recallLast(text) {
		text, how = rest, append([]Said{last}, how...)
	}
	if at = recallAmong(text, places...); at.Code == "" {
		return Said{}, nil
	}
	return at, how
}

// placesBefore is what has changed in such sentences.
var placesBefore = strings.NewReplacer(
	" while the tail was moved, the longest", ", the longest, while the tail was moved",
	", at least 1 opening in ", ", at least 1 openings in ")

// recallLast is the last thing odd about a place, and what stands before it.
func recallLast(text string) (rest string, last Said) {
	for _, code := range manners {
		if found := patterns().manner[code].FindStringSubmatch(text); found != nil {
			return found[1], Fact(code, append([]string(nil), found[2:]...)...)
		}
	}
	return text, Said{}
}

func recallAmong(text string, codes ...Code) Said {
	for _, code := range codes {
		if found := patterns().whole[code].FindStringSubmatch(text); found != nil {
			return Fact(code, append([]string(nil), found[1:]...)...)
		}
	}
	return Said{}
}

// sentences are patterns: whole, and at the end of others.
type sentences struct{ whole, manner map[Code]*regexp.Regexp }

// patterns are made when they are first needed: few programs that start read runs of then.
var patterns = sync.OnceValue(func() sentences {
	s := sentences{map[Code]*regexp.Regexp{}, map[Code]*regexp.Regexp{}}
	for code, text := range Plain() {
		pattern := argument.ReplaceAllString(regexp.QuoteMeta(text), "(.+)")
		s.whole[code] = regexp.MustCompile("^(?s:" + pattern + ")$")
		s.manner[code] = regexp.MustCompile("^(?s:(.+)" + pattern + ")$")
	}
	return s
})

var argument = regexp.MustCompile(`\\\{\d\\\}`)
