package answers

import (
	"slices"
	"time"
)

// Sentence is a conclusion: a code, which the catalogues of package report have
// a text for in every language, and what stands in it.
type Sentence struct {
	Code string
	Tone Tone
	Args []any // string, int, or one of the types below
}

// By is the sentence with its times by the clock of a zone.
func (s Sentence) By(zone *time.Location) Sentence {
	args := slices.Clone(s.Args)
	for i, a := range args {
		switch a := a.(type) {
		case time.Time:
			args[i] = a.In(zone)
		case Sentence:
			args[i] = a.By(zone)
		}
	}
	s.Args = args
	return s
}

// Tone is how much a sentence matters.
type Tone string

// The tones.
const (
	Plain     Tone = "say"
	Attention Tone = "warn" // somebody should look
)

// Number is a number with so many digits after the point.
type Number struct {
	Value  float64
	Digits int
}

// Figure is a number with about four digits that mean something.
type Figure float64

// Percent is a part of one, written in per cent.
type Percent Number

// Chance is a probability as a test gives it.
type Chance float64

// Part is a share with its interval, written in per cent with as many digits as
// the interval leaves meaning to.
type Part Estimate

// Names are names of which a long list is cut.
type Names []string

// Word is a text of the catalogue within a sentence.
type Word string

// Say concludes something.
func Say(code string, args ...any) Sentence { return Sentence{code, Plain, args} }

// Warn concludes something that somebody should look at.
func Warn(code string, args ...any) Sentence { return Sentence{code, Attention, args} }

// Short is a number with three digits that mean something, as a flag takes it.
type Short float64
