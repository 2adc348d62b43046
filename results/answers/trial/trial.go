// Package trial asks what a revision of a product would have done: its limits are tried
// on the readings of units of before, by what judges a test, and on the reference units.
package trial

import (
	"cmp"
	"context"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/releases"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

// Asked asks what a revision would have done.
type Asked struct {
	Proposed *product.Product
	InForce  *product.Product // nil where nothing is
	Last     int              // newest units; 0: [answers.Last]
}

// Trial is the answer. What is kept with a release is its [releases.Tried].
type Trial struct {
	Asked
	releases.Tried
	Changed     []answers.Change // units that would have been judged otherwise
	Conclusions []answers.Sentence
}

// Of judges the first judged runs of the last units anew: real ones, or simulated ones
// where there are no real ones.
func Of(ctx context.Context, s *results.Store, a Asked) (Trial, error) {
	t := Trial{Asked: a, Tried: releases.Tried{Rejects: []string{}, LetThrough: []string{}, References: []releases.TriedReference{},
		Blind: []revise.Change{}}}
	if a.InForce != nil {
		t.Blind = append(t.Blind, revise.Blind(revise.Between(a.InForce, a.Proposed))...)
	}
	for _, simulated := range []bool{false, true} {
		if err := t.units(ctx, s, simulated); err != nil {
			return t, err
		}
		if t.Units > 0 {
			break
		}
	}
	if err := t.references(ctx, s); err != nil {
		return t, err
	}
	t.Conclusions = t.words()
	return t, nil
}

// page is how many runs are held at a time.
const page = 50

func (t *Trial) units(ctx context.Context, s *results.Store, simulated bool) error {
	f := lines.Filter{Product: t.Proposed.Code, Simulated: simulated}
	list, err := s.Lines.LastUnits(ctx, f, cmp.Or(t.Last, answers.Last))
	if err != nil {
		return err
	}
	t.Simulated = simulated && len(list) > 0
	for len(list) > 0 {
		some := list[:min(page, len(list))]
		list = list[len(some):]
		var seqs []int64
		for _, u := range some {
			seqs = append(seqs, u.Seq)
		}
		read, err := s.Runs.Numbered(ctx, seqs)
		if err != nil {
			return err
		}
		for _, run := range read {
			t.unit(run)
		}
	}
	return nil
}

// unit judges one run anew.
func (t *Trial) unit(run runs.Stored) {
	now := revise.Judge(t.Proposed, run.Run)
	t.Units++
	if len(now.Unread)+len(now.Doubtful) > 0 {
		t.Unsure++
	}
	switch {
	case run.Outcome == sequence.Pass && now.Outcome == sequence.Fail:
		t.Rejects = append(t.Rejects, run.Serial)
	case run.Outcome == sequence.Fail && now.Outcome == sequence.Pass:
		t.LetThrough = append(t.LetThrough, run.Serial)
	default:
		return
	}
	t.Changed = append(t.Changed, answers.Change{Serial: run.Serial, Run: run.Seq, LetThrough: run.Outcome == sequence.Fail})
}

// references judges the newest check of each reference unit anew.
func (t *Trial) references(ctx context.Context, s *results.Store) error {
	refs := t.Proposed.References
	if refs == nil {
		return nil
	}
	units := append([]string{}, refs.Good...)
	for _, bad := range refs.Bad {
		units = append(units, bad.Serial)
	}
	for _, unit := range units {
		run, err := s.Care.NewestCheck(ctx, unit)
		if err != nil {
			return err
		}
		tried := releases.TriedReference{Unit: unit, Tried: run != nil}
		if run != nil {
			baseline, err := s.Care.Baseline(ctx, run.Jig.Serial, unit, run.Simulated)
			if err != nil {
				return err
			}
			tried.Shows = len(calibrate.JudgeReference(t.Proposed, revise.Judge(t.Proposed, run.Run).Run, baseline)) == 0
		}
		t.References = append(t.References, tried)
	}
	return nil
}

// words concludes.
func (t Trial) words() []answers.Sentence { return Words(t.Proposed.Code, t.Tried) }

// Words are the conclusions of a trial, also of one that was kept.
func Words(code string, t releases.Tried) []answers.Sentence {
	var out []answers.Sentence
	if t.Units == 0 {
		out = append(out, answers.Warn("trial.none", code))
	} else {
		out = append(out, answers.Say("trial.words", t.Units, len(t.Rejects), len(t.LetThrough)))
	}
	if t.Simulated {
		out = append(out, answers.Say("trial.simulated"))
	}
	if len(t.Rejects) > 0 {
		out = append(out, answers.Say("trial.rejects", answers.Names(t.Rejects)))
	}
	if len(t.LetThrough) > 0 {
		out = append(out, answers.Warn("trial.letthrough", answers.Names(t.LetThrough)))
	}
	if t.Unsure > 0 {
		out = append(out, answers.Say("trial.unsure", t.Unsure))
	}
	for _, r := range t.References {
		switch {
		case !r.Tried:
			out = append(out, answers.Warn("trial.reference.untried", r.Unit))
		case r.Shows:
			out = append(out, answers.Say("trial.reference.shows", r.Unit))
		default:
			out = append(out, answers.Warn("trial.reference.fails", r.Unit))
		}
	}
	if t.Units > 0 {
		out = append(out, answers.Say("trial.notshown"))
	}
	return out
}
