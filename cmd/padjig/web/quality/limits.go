package quality

import (
	"math"
	"slices"
	"strconv"

	"padjig/results/answers"
	"padjig/results/report"
	"padjig/results/report/chart"
	"padjig/sequence/decide"
)

// limitsPage tries a limit before it is released: what it would have done to
// the last units, what the guard band does to it, and where a limit that most
// of the population keeps would lie.
func limitsPage(s *study) error {
	keys, err := s.keys()
	if err != nil {
		return err
	}
	key, last := s.param("key", keys[0]), s.asked("last", answers.Last, 30, 20000)
	s.offer(s.named("key", key, keys), s.number("last", strconv.Itoa(last)))
	q := answers.LimitsAsked{Selection: s.about(), Keys: answers.KeyChoice{Labels: []string{key}}, Last: last,
		Side: answers.OnlyUpper}
	limit, guard := math.NaN(), math.NaN()
	var given given
	given.ohm(s, "limit", &limit)
	given.ohm(s, "guardband", &guard)
	if given.err != nil {
		return given.err
	}
	if !math.IsNaN(guard) {
		q.Guard = &guard
	}
	if math.IsNaN(limit) {
		if limit, err = limitInForce(s, q); err != nil {
			return err
		}
	}
	q.Proposed = &answers.Spec{Lower: math.Inf(-1), Upper: limit}
	w, err := answers.AskLimits(s.ctx, s.store, q)
	if err != nil {
		return err
	}
	s.offer(s.number("limit", strconv.FormatFloat(limit, 'f', -1, 64)),
		s.number("guardband", strconv.FormatFloat(w.GuardU, 'f', -1, 64)))
	trial(s, w, key)
	return nil
}

// limitInForce is what is tried while nothing else is: the limit of the product,
// or the largest reading where it has none.
func limitInForce(s *study, q answers.LimitsAsked) (float64, error) {
	w, err := answers.AskLimits(s.ctx, s.store, q)
	if err != nil {
		return 0, err
	}
	k := w.Tolerances[0]
	if k.Limits[1] > 0 {
		return k.Limits[1], nil
	}
	return slices.Max(k.Values), nil
}

// trial shows what the limit would have done.
func trial(s *study, w answers.WhatIf, key string) {
	k, proposed := w.Tolerances[0], w.Proposed.Upper
	h, title := k.Histogram(80), s.Say("limits.title", key)
	links := s.behindBins(key, k.Values, k.Runs, len(h.Counts), h.Bin)
	f := s.histogram(key, h.Low, h.Width, h.Counts, [2]float64{0, proposed}, links)
	f.Small, f.Title = false, title
	words := s.Num(report.DigitsFor(proposed), proposed)
	d := chart.Distribution{Frame: s.frame("trial", title, s.Say("limits.desc", key, words), 1180, 300),
		X: chart.Axis{Label: s.Say("axis.ohm")}, Y: chart.Axis{Label: s.Say("axis.units")}, Lower: math.NaN(), Upper: proposed, GuardUpper: decide.Band(w.GuardU, k.U),
		LimitText: [2]string{"", s.Say("limits.proposed", words)}}
	for i, n := range h.Counts {
		low := h.Low + float64(i)*h.Width
		d.Bins = append(d.Bins, s.bin(low, low+h.Width, n, links[i]))
	}
	if now := k.Limits[1]; now > 0 && now != proposed {
		d.Also = []chart.Across{{X: now, Kind: "centre", Text: s.Say("limits.current", s.Num(report.DigitsFor(now), now))}}
	}
	f.Chart, f.Says = d.SVG(), seenFirst(tell(s.Words, w.Conclusions), "limits.words", "limits.against")
	s.add(f)
	s.show(s.Say("limits.guards"), report.OutcomeTable(w), true, says(s.Say("limits.guards.words"))...)
	s.show(s.Say("limits.tolerance"), report.ToleranceTable(w), true)
	s.show(s.Say("limits.changes"), report.ChangeTable(w), false)
}
