package linesim

import (
	"math"
	"slices"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/nets"
	"padjig/sequence/product"
	"padjig/sequence/prove"
)

// A pad's insulation goes over decades from pad to pad; a jig reads no further than its
// largest reference lets it.
const (
	usualInsulation = quantity.Ohm(600e6)
	readsTo         = quantity.Ohm(2e9)
	decades         = 0.4 // standard deviation, as that of the logarithm
)

// insulation reads groups of lines before the keys are pressed and after.
func (f *simulation) insulation(run *sequence.Run, p *product.Product) {
	pad := usualInsulation * quantity.Ohm(math.Pow(10, decades*f.damp.NormFloat64()))
	for _, step := range []string{"rest", judge.RestAgain} {
		for _, s := range judge.Splits(nets.New(len(p.Lines)).Of(pinned(p))) {
			r := fixture.Resistance{Value: max(pad*quantity.Ohm(1+0.05*f.damp.NormFloat64()), 50e6), U: pad / 100}
			if r.Value > readsTo {
				r = fixture.Resistance{Value: readsTo, AtLeast: true}
			}
			run.Insulation = append(run.Insulation, sequence.Insulation{Step: step, Feed: names(p, s.Feed), Ground: names(p, s.Ground), Ohm: r})
		}
	}
}

func pinned(p *product.Product) (lines []int) {
	for i, l := range p.Lines {
		if l.Pin > 0 {
			lines = append(lines, i)
		}
	}
	return lines
}

func names(p *product.Product, lines []int) []string {
	out := make([]string, len(lines))
	for i, l := range lines {
		out[i] = p.Lines[l].Name
	}
	return out
}

// account draws up what a run proved. The line's jigs can prove all that there is.
func account(run *sequence.Run, p *product.Product) {
	shown, called := prove.Shown{}, judge.Called(p)
	for proof, subjects := range called {
		for _, of := range subjects {
			if proved(run, proof, of) {
				shown.Note(proof, of)
			}
		}
	}
	run.Proofs = prove.AccountOf(called, judge.Required(p), shown,
		func(proof prove.Proof, of int) string { return judge.SubjectOf(p, proof, of) })
}

// proved reports whether a run gave a proof: of a key that passed all, of one that did not none.
func proved(run *sequence.Run, proof prove.Proof, of int) bool {
	done := func(step string) bool {
		i := slices.IndexFunc(run.Steps, func(s sequence.StepDone) bool { return s.Name == step })
		return i >= 0 && run.Steps[i].Done
	}
	switch proof {
	case prove.SelfTest:
		return done("self-test")
	case prove.Seating:
		return done("seating") && run.Seats[of-1].Good
	case prove.Insulation:
		connected := func(f sequence.Finding) bool { return f.What == "lines shorted" || f.What == "leak" }
		return done([]string{"rest", judge.RestAgain}[of]) && !slices.ContainsFunc(run.Findings, connected)
	}
	return run.Keys[of].Verdict == sequence.KeyPass
}
