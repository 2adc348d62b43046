package returned

import (
	"math"
	"slices"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// Reading is what one stage read of a key.
type Reading struct {
	Stage  sequence.Purpose    `json:"stage"`
	Closed *fixture.Resistance `json:"contact_resistance"` // of an exercise the most; null where it was not read
	Bad    bool                `json:"bad"`                // the stage found the key at fault, or a line of it
	Worst  bool                `json:"worst"`              // no other stage read worse
}

// Gone is a fault that one stage found and a later one, which would have seen it, did not.
type Gone struct {
	Finding sequence.Finding    `json:"finding"`
	Stage   sequence.Purpose    `json:"stage"`
	Then    sequence.Purpose    `json:"then"`  // the later one
	Closed  *fixture.Resistance `json:"reads"` // what that read of the key; null for lines
	Again   bool                `json:"again"` // a stage after that found it again
	Why     sequence.Code       `json:"why"`   // what that may be: film, thread, free, rub, seat, comes and goes
}

// stagesMade are the stages of a life that count, in their order.
func stagesMade(l *Life) (made []*runs.Stored) {
	for _, r := range []*runs.Stored{l.First, l.Test, l.Exercise} {
		if r != nil {
			made = append(made, r)
		}
	}
	return made
}

// read puts down what each stage read of the key, and which read worst.
func (b *Beside) read(made []*runs.Stored) {
	for _, r := range made {
		in := Reading{Stage: r.Purpose, Bad: slices.ContainsFunc(r.Findings, func(f sequence.Finding) bool { return concerns(f, *b) })}
		if r.Purpose == sequence.Exercise {
			if b.Exercise == nil || b.Exercise.Presses == 0 {
				continue
			}
			in.Closed, in.Bad = b.Exercise.Most, in.Bad || b.Exercise.Bad() > 0
		} else {
			key, ok := keyOf(r, b.Key)
			if !ok {
				continue
			}
			in.Closed = key.Closed
		}
		b.Readings = append(b.Readings, in)
	}
	if worst := worstOf(b.Readings); worst != nil {
		worst.Worst = true
	}
}

// worstOf is the reading that no other is worse than: at fault before not at fault,
// and of two alike the one with more ohms, if that is more than their uncertainty. Of
// those that are as bad it is the one that is known best.
func worstOf(all []Reading) (worst *Reading) {
	for i := range all {
		if in := &all[i]; worst == nil || in.worse(*worst) || !worst.worse(*in) && in.known() < worst.known() {
			worst = in
		}
	}
	return worst
}

// known is how well the reading is known.
func (in Reading) known() quantity.Ohm {
	if in.Closed == nil || in.Closed.AtLeast {
		return 0
	}
	return in.Closed.U
}

func (in Reading) worse(than Reading) bool {
	if in.Bad != than.Bad {
		return in.Bad
	}
	if a, b := in.ohm(), than.ohm(); math.IsInf(a, 1) || math.IsInf(b, 1) {
		return a > b
	}
	change, ok := ChangeOf(than.Closed, in.Closed)
	return ok && change.Real() && change.Value > 0
}

// ohm is without bound where the key never closed.
func (in Reading) ohm() float64 {
	switch {
	case in.Closed == nil && in.Bad, in.Closed != nil && (in.Closed.AtLeast || in.Closed.Value.IsOpen()):
		return math.Inf(1)
	case in.Closed == nil:
		return 0
	}
	return float64(in.Closed.Value)
}

// Worst is the worst reading of the key, where the one that counts now is not as
// bad; nil where it is.
func (k Beside) Worst() *Reading {
	at := func(so func(Reading) bool) int { return slices.IndexFunc(k.Readings, so) }
	worst, now := at(func(in Reading) bool { return in.Worst }), at(func(in Reading) bool { return string(in.Stage) == k.Now })
	if worst < 0 || now >= 0 && !k.Readings[worst].worse(k.Readings[now]) {
		return nil
	}
	return &k.Readings[worst]
}

// goneBetween lists what went away between the stages.
func goneBetween(made []*runs.Stored) (list []Gone) {
	for i, r := range made {
		for _, f := range r.Findings {
			if slices.ContainsFunc(list, func(g Gone) bool { return sameSubject(g.Finding, f) }) {
				continue // by the stage that saw it first
			}
			g := Gone{Finding: f, Stage: r.Purpose, Why: mayBe(f.What)}
			for _, later := range made[i+1:] {
				again := slices.ContainsFunc(later.Findings, func(other sequence.Finding) bool { return sameSubject(f, other) })
				switch looked, closed := lookedAgain(later, f); {
				case again && g.Then != "":
					g.Again, g.Why = true, "comes and goes"
				case again || !looked || g.Then != "":
				default:
					g.Then, g.Closed = later.Purpose, closed
				}
			}
			if g.Then != "" {
				list = append(list, g)
			}
		}
	}
	return list
}

// sameSubject reports findings about the same key, or the same lines.
func sameSubject(a, b sequence.Finding) bool {
	if a.Key != "" || b.Key != "" {
		return a.Key == b.Key
	}
	return slices.Equal(slices.Sorted(slices.Values(a.Lines)), slices.Sorted(slices.Values(b.Lines)))
}

// lookedAgain reports whether a stage looked where a finding was, and what it read of the key.
func lookedAgain(r *runs.Stored, f sequence.Finding) (looked bool, closed *fixture.Resistance) {
	if r.Purpose == sequence.Exercise {
		i := slices.IndexFunc(r.Exercised, func(x sequence.KeyExercise) bool { return x.Key == f.Key })
		if i < 0 || r.Exercised[i].Presses == 0 {
			return false, nil // it reads keys, and nothing at rest
		}
		return true, r.Exercised[i].Most
	}
	if f.Key == "" {
		return true, nil
	}
	key, ok := keyOf(r, f.Key)
	return ok, key.Closed
}

// mayBe says what a fault may be that is found once and then no more.
func mayBe(what string) sequence.Code {
	switch what {
	case "key open", "key high", "contact unsteady", "misses", "drops out", "teases", "diode drop":
		return "film"
	case "lines shorted", "leak", "second contact", "ghost key":
		return "thread"
	case "key closed at rest", "key stays closed", "releases late", "sticks":
		return "free"
	case "bounce on make", "bounce on break":
		return "rub"
	case "tail reversed", "lines exchanged":
		return "seat"
	}
	return "comes and goes"
}

// Went says what went away between the stages.
func Went(list []Gone, words wording.Words) (said []string) {
	for _, g := range list {
		is := ""
		if g.Closed != nil {
			is = g.Closed.String()
		}
		said = append(said, words.Desk(sequence.Fact("gone."+g.Why, words.Where(g.Finding), words.Brief(g.Finding), string(g.Stage), is, string(g.Then))))
	}
	return said
}

// SaysWorst says the worst reading of a key and its stage; nothing where today's is as bad.
func (k Beside) SaysWorst(words wording.Words) string {
	in := k.Worst()
	if in == nil {
		return ""
	}
	text := words.Desk(sequence.Fact("open"))
	if !math.IsInf(in.ohm(), 1) {
		text = reading(in.Closed) + " ohm"
	}
	return words.Desk(sequence.Fact("worst", text, string(in.Stage)))
}
