package answers

import (
	"cmp"
	"context"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stats/compare"
	"padjig/results/stats/interval"
)

// CausesAsked asks what units fail with, and where.
type CausesAsked struct {
	Selection
	By   lines.CauseDimension // empty: [DefaultCause]
	Hits int                  // on all jigs together, from which on a place is compared; 0: [LeastHits]
}

// Causes is what failed units failed with when they were judged first.
type Causes struct {
	CausesAsked
	Rows          []CauseRow
	Units, Failed int
	Mixed         lines.Mixture
	Pad           []KeyHits // where on the pad, empty for several products
	Places        []Place
	Compared      int // places on jigs looked at
	Conclusions   []Sentence
}

// CauseRow is one cause. A unit counts once, for its worst finding.
type CauseRow struct {
	lines.Cause
	Count             Estimate // of units, as a rare count (Garwood)
	OfFailed, OfUnits Estimate
	SoFar             float64 // of the failed, with all rows above; NaN where causes overlap
}

// KeyHits is how many findings there were about a key at first judged runs.
type KeyHits struct {
	lines.PadKey
	Findings int
	OfUnits  Estimate
}

// Place is a finding at one place on one jig beside the same on all others
// (Fisher, one-sided; adjusted after Holm for all places looked at).
type Place struct {
	lines.PlaceOnJig
	Here, Elsewhere Estimate
	Odds            Estimate
	P               Chance // adjusted
	Local           bool   // more often here by more than chance
}

// AskCauses counts what failed units failed with.
func AskCauses(ctx context.Context, s *results.Store, a CausesAsked) (Causes, error) {
	a.By, a.Hits = cmp.Or(a.By, DefaultCause), cmp.Or(a.Hits, LeastHits)
	c, err := a.causes(ctx, s, a.By)
	if err != nil {
		return c, err
	}
	if c.CausesAsked = a; c.Units == 0 {
		return c, a.NoUnits()
	}
	if err := c.onPad(ctx, s); err != nil {
		return c, err
	}
	if err := c.places(ctx, s); err != nil {
		return c, err
	}
	c.Conclusions = append(c.words(), c.placeWords()...)
	return c, nil
}

// causes counts without comparing places.
func (s Selection) causes(ctx context.Context, store *results.Store, by lines.CauseDimension) (Causes, error) {
	c := Causes{CausesAsked: CausesAsked{Selection: s, By: by}}
	all, err := store.Lines.Causes(ctx, s.Filter, by)
	if err != nil {
		return c, err
	}
	c.Units, c.Failed, c.Mixed = all.Units, all.Failed, all.Mixed
	sum := 0
	for _, row := range all.Rows {
		sum += row.Worst
		r := CauseRow{Cause: row, Count: Unknown(), SoFar: math.NaN(),
			OfFailed: s.Share(min(row.Worst, c.Failed), c.Failed), OfUnits: s.Share(min(row.Worst, c.Units), c.Units)}
		if i, err := interval.CountInterval(row.Worst, s.Level()); err == nil {
			r.Count = EstimateOf(float64(row.Worst), i)
		}
		if c.Failed > 0 && (by == lines.CauseByFinding || by == lines.CauseByPlace) {
			r.SoFar = float64(sum) / float64(c.Failed)
		}
		c.Rows = append(c.Rows, r)
	}
	return c, nil
}

func (c *Causes) onPad(ctx context.Context, s *results.Store) error {
	if len(c.Mixed.Products) > 1 {
		return nil
	}
	keys, err := s.Lines.Pad(ctx, c.Filter)
	if err != nil {
		return err
	}
	byKey, err := s.Lines.Causes(ctx, c.Filter, lines.CauseByKey)
	if err != nil {
		return err
	}
	hits := map[string]int{}
	for _, row := range byKey.Rows {
		hits[row.Name] = row.Units
	}
	for _, k := range keys {
		n := hits[k.Label]
		c.Pad = append(c.Pad, KeyHits{k, n, c.Share(min(n, c.Units), c.Units)})
	}
	return nil
}

func (c *Causes) places(ctx context.Context, s *results.Store) error {
	list, err := s.Lines.Places(ctx, c.Filter)
	if err != nil {
		return err
	}
	c.Places, c.Compared = c.onJigs(list, c.Hits)
	shown := 0
	c.Places = slices.DeleteFunc(c.Places, func(p Place) bool {
		shown++
		return !p.Local && shown > mostPlaces
	})
	for i := range c.Places { // of those that are left alone: each takes as long as comparing all
		if test, err := compare.Fisher(tableOf(c.Places[i].PlaceOnJig, false), c.Level()); err == nil {
			c.Places[i].Odds = EstimateOf(test.Conditional, test.Odds)
		}
	}
	return nil
}

// mostPlaces that are no jig's own are shown.
const mostPlaces = 12

// onJigs compares places on each jig with the others. Those that came up often enough on all
// jigs together are compared on every jig, also on one where they came up less: to choose them
// by their hits on a jig is to choose what chance put there, and Holm's adjustment then counts
// too few. Shown are those with hits.
func (s Selection) onJigs(list []lines.PlaceOnJig, hits int) (shown []Place, compared int) {
	chosen := s.findable(list, hits)
	var p []float64
	for _, at := range chosen {
		p = append(p, placeChance(tableOf(at, false)))
	}
	for i, adjusted := range compare.Holm(p) {
		at := chosen[i]
		place := Place{PlaceOnJig: at, Here: s.Share(at.Hits, at.Units), Elsewhere: s.Share(at.OtherHits, at.OtherUnits), Odds: Unknown(),
			P: Chance(adjusted), Local: adjusted < s.Alpha()}
		if at.Hits < LeastHits && !place.Local {
			continue
		}
		shown = append(shown, place)
	}
	return shown, len(chosen)
}

// findable leaves out what could not be found if all hits of a place were on the one jig, with
// as many comparisons as are left (Tarone 1990). It looks at the sums of a table alone, which
// the test takes as given, so that it prefers no jig.
func (s Selection) findable(list []lines.PlaceOnJig, hits int) (out []lines.PlaceOnJig) {
	type rated struct {
		lines.PlaceOnJig
		least float64
	}
	var all []rated
	for _, at := range list {
		if at.Hits+at.OtherHits >= hits {
			all = append(all, rated{at, placeChance(tableOf(at, true))})
		}
	}
	slices.SortStableFunc(all, func(a, b rated) int { return cmp.Compare(a.least, b.least) })
	n := 0
	for n < len(all) && all[n].least*float64(n+1) < s.Alpha() {
		n++
	}
	for n > 0 && n < len(all) && all[n].least == all[n-1].least { // those alike all or none: which is first is a matter of hits
		n++
	}
	left := map[[2]string]bool{}
	for _, at := range all[:n] {
		left[[2]string{at.Name, at.Jig}] = true
	}
	for _, at := range list { // in their order
		if left[[2]string{at.Name, at.Jig}] {
			out = append(out, at)
		}
	}
	return out
}

// tableOf has the hits of a place on a jig and on the others; or as if all were on the one.
func tableOf(at lines.PlaceOnJig, here bool) compare.Table2 {
	hits, all := at.Hits, at.Hits+at.OtherHits
	if here {
		hits = min(all, at.Units)
	}
	return compare.Table2{{hits, at.Units - hits}, {all - hits, at.OtherUnits - all + hits}}
}

// placeChance is how often chance alone puts as many on a jig; 1 where it cannot be said.
func placeChance(t compare.Table2) float64 {
	p, err := compare.FisherGreater(t)
	if err != nil {
		return 1
	}
	return p
}

func (c Causes) words() []Sentence {
	if c.Failed == 0 {
		return []Sentence{Say("causes.none", c.Units, Part(c.Share(0, c.Units)))}
	}
	out := []Sentence{Say("causes.words", c.Failed, c.Units)}
	switch c.By {
	case lines.CauseByLine, lines.CauseByChannel:
		out = append(out, Say("causes.twice"))
	case lines.CauseByKey:
		out = append(out, Say("causes.nokey"))
	}
	return out
}

// Words say that a place is one jig's own.
func (p Place) Words() Sentence {
	return Warn("places.local", p.Name, p.Jig, p.Hits, p.Units, p.OtherHits, p.OtherUnits)
}

func (c Causes) placeWords() []Sentence {
	if c.Compared == 0 {
		return nil
	}
	var out []Sentence
	for _, p := range c.Places {
		if p.Local {
			out = append(out, p.Words())
		}
	}
	if out == nil {
		out = append(out, Say("places.nolocal", c.Compared))
	}
	return append(out, Say("places.words", c.Hits, c.Compared))
}
