package overview

import (
	"cmp"
	"context"
	"errors"
	"net/url"
	"slices"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/probes"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/stats/compare"
)

// mostLooks is how many sentences of a kind ask for attention.
const mostLooks = 4

// looks gathers what needs attention: what stands still first.
func (a OverviewAsked) looks(ctx context.Context, s *results.Store, y answers.Yield) (all []Look, err error) {
	for _, look := range []func(context.Context, *results.Store, answers.Yield) ([]Look, error){
		a.stopped, a.jigs, a.places, a.probes, a.capability, a.rule,
	} {
		found, err := look(ctx, s, y)
		if err != nil {
			return nil, err
		}
		all = append(all, found[:min(len(found), mostLooks)]...)
	}
	if len(all) == 0 {
		all = []Look{{Sentence: answers.Say("overview.calm"), Ask: "AskChart"}}
	}
	return all, nil
}

// stopped are the lines that stand still now, whatever they test and since when.
func (a OverviewAsked) stopped(ctx context.Context, s *results.Store, _ answers.Yield) (out []Look, err error) {
	of := a.Selection
	of.Filter.From, of.Filter.To, of.Filter.Revisions = time.Time{}, time.Time{}, nil
	l, err := answers.AskStops(ctx, s, answers.StopsAsked{Selection: of})
	for _, row := range l.Rows {
		if row.Lifted == nil {
			out = append(out, Look{Sentence: row.Words(), Ask: "AskStops"})
		}
	}
	return out, err
}

// rule is where the newest units would have stopped the line.
func (a OverviewAsked) rule(_ context.Context, _ *results.Store, y answers.Yield) (out []Look, err error) {
	if last := len(y.Stops.Met) - 1; last >= 0 {
		out = append(out, Look{Sentence: y.Stops.Met[last].Words(y.Stops.Rule), Ask: "AskYield"})
	}
	return out, nil
}

// places are those that are one jig's own.
func (a OverviewAsked) places(ctx context.Context, s *results.Store, _ answers.Yield) (out []Look, err error) {
	c, err := answers.AskCauses(ctx, s, answers.CausesAsked{Selection: a.Selection, By: lines.CauseByPlace})
	for _, p := range c.Places {
		if p.Local {
			out = append(out, Look{Sentence: p.Words(), Ask: "AskCauses", Own: url.Values{"cause": {string(lines.CauseByPlace)}}})
		}
	}
	return out, err
}

// probes are those that stand out. Products together have no probes in common.
func (a OverviewAsked) probes(ctx context.Context, s *results.Store, _ answers.Yield) (out []Look, err error) {
	p, err := probes.AskProbes(ctx, s, probes.ProbesAsked{Selection: a.Selection})
	if _, mixed := errors.AsType[*lines.MixedError](err); mixed || errors.Is(err, lines.ErrNoUnits) { // or contacts were not read
		return nil, nil
	}
	for _, one := range p.Conclusions {
		if one.Tone == answers.Attention {
			out = append(out, Look{Sentence: one, Ask: "AskProbes"})
		}
	}
	return out, err
}

// capability is the key whose readings keep least from their limits, where it is less
// than is asked of a process beyond chance.
func (a OverviewAsked) capability(ctx context.Context, s *results.Store, _ answers.Yield) ([]Look, error) {
	all, err := answers.AskCapability(ctx, s, answers.CapabilityAsked{Selection: a.Selection})
	_, mixed := errors.AsType[*lines.MixedError](err)
	switch {
	case mixed:
		return []Look{{Sentence: answers.Say("overview.pooled"), Ask: "AskCapability"}}, nil
	case err != nil: // it has no answer of its own, and that is no attention
		return nil, nil //nolint:nilerr // the page of capability says why
	}
	var low []string // below also as it is printed
	worst := -1
	for i, k := range all.Rows {
		if k.Why != nil || !(k.Rank() < answers.GoodPpk-0.005) {
			continue
		}
		low = append(low, k.Key)
		if worst < 0 || k.Rank() < all.Rows[worst].Rank() {
			worst = i
		}
	}
	if worst < 0 {
		return nil, nil
	}
	return []Look{{Sentence: keepsLeast(all.Rows[worst], low), Ask: "AskCapability", Own: url.Values{"key": {all.Rows[worst].Key}}}}, nil
}

// keepsLeast says so of a key, and which others are below what is asked.
func keepsLeast(k answers.KeyCapability, low []string) answers.Sentence {
	if k.Method == answers.NoMethod {
		return answers.Say("overview.capability.noindex", append([]any{k.Key, k.N, k.Need, answers.Names(low)}, k.OutWords()...)...)
	}
	say, code := answers.Say, "overview.capability.maybe"
	if k.Ppk.High < answers.GoodPpk {
		say, code = answers.Warn, "overview.capability"
	}
	return say(code, append([]any{k.Key, answers.Number{Value: k.Ppk.Value, Digits: 2}, answers.Number{Value: k.Ppk.Low, Digits: 2},
		answers.Number{Value: k.Ppk.High, Digits: 2}, k.N, answers.Number{Value: answers.GoodPpk, Digits: 2}, answers.Names(low)},
		k.OutWords()...)...)
}

// jigs are those that are due, and those on which fewer units pass than on the others.
func (a OverviewAsked) jigs(ctx context.Context, s *results.Store, _ answers.Yield) (out []Look, err error) {
	y, err := answers.AskYield(ctx, s, answers.YieldAsked{Selection: a.Selection, By: []lines.Dimension{lines.ByJig}})
	if err != nil {
		return nil, err
	}
	now := a.Now
	if now.IsZero() {
		now = time.Now()
	}
	for _, row := range y.Rows {
		due, err := s.Care.DueState(ctx, row.Groups[0], a.Filter.Simulated, now)
		if err != nil {
			return nil, err
		}
		for _, d := range []care.Due{due.Verify, due.Zero} {
			code := answers.Word("standing." + string(d.Status))
			switch d.Status {
			case care.StatusBad, care.StatusOverdue:
				out = append(out, Look{Sentence: answers.Warn("overview.due."+string(d.Kind), row.Groups[0], code), Ask: "jigs"})
			case care.StatusDueSoon:
				out = append(out, Look{Sentence: answers.Say("overview.soon."+string(d.Kind), row.Groups[0]), Ask: "jigs"})
			}
		}
	}
	return append(suspects(a.Selection, y), out...), nil
}

// suspects are jigs on which fewer units pass than on all others together (Fisher,
// one-sided, adjusted after Holm for all jigs).
func suspects(s answers.Selection, y answers.Yield) (out []Look) {
	if len(y.Rows) < 2 {
		return nil
	}
	var chances []float64
	for _, row := range y.Rows {
		failed, others := row.Units-row.FirstPassed, y.Total.Units-row.Units
		p, err := compare.FisherGreater(compare.Table2{{failed, row.FirstPassed}, {y.Total.Units - y.Total.FirstPassed - failed, y.Total.FirstPassed - row.FirstPassed}})
		if err != nil || row.Units == 0 || others == 0 {
			p = 1
		}
		chances = append(chances, p)
	}
	for i, p := range compare.Holm(chances) {
		if row := y.Rows[i]; p < s.Alpha() {
			others := s.Share(y.Total.FirstPassed-row.FirstPassed, y.Total.Units-row.Units)
			out = append(out, Look{Sentence: answers.Warn("overview.jig", row.Groups[0], row.Units, answers.Part(row.First), answers.Part(others), answers.Chance(p)),
				Ask: "AskYield", Own: url.Values{"by": {string(lines.ByJig)}}})
		}
	}
	slices.SortStableFunc(out, func(a, b Look) int { return cmp.Compare(chance(a), chance(b)) })
	return out
}

func chance(l Look) float64 {
	p, _ := l.Args[len(l.Args)-1].(answers.Chance)
	return float64(p)
}
