package quality

import (
	"math"
	"strconv"

	"padjig/cmd/padjig/web/page"
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
	s.Own = append(s.Own, s.named("key", key, keys), s.number("last", strconv.Itoa(last)))
	q := answers.LimitsAsked{Selection: s.about(), Keys: answers.KeyChoice{Labels: []string{key}}, Last: last,
		Side: answers.OnlyUpper}
	limit, guard := math.NaN(), math.NaN()
	if err := (limitsView{s}).given("limit", &limit); err != nil {
		return err
	}
	if err := (limitsView{s}).given("guardband", &guard); err != nil {
		return err
	}
	if !math.IsNaN(guard) {
		q.Guard = &guard
	}
	if math.IsNaN(limit) {
		if limit, err = (limitsView{s}).limitInForce(q); err != nil {
			return err
		}
	}
	q.Proposed = &answers.Spec{Lower: math.Inf(-1), Upper: limit}
	w, err := answers.AskLimits(s.ctx, s.store, q)
	if err != nil {
		return err
	}
	s.Own = append(s.Own, s.number("limit", strconv.FormatFloat(limit, 'f', -1, 64)),
		s.number("guardband", strconv.FormatFloat(w.GuardU, 'f', -1, 64)))
	limitsView{s}.trial(w, key)
	return nil
}

// limitsView is the page of what-if limits.
type limitsView struct{ *study }

// limitInForce is what is tried while nothing else is: the limit of the product,
// or the largest reading where it has none.
func (s limitsView) limitInForce(q answers.LimitsAsked) (float64, error) {
	w, err := answers.AskLimits(s.ctx, s.store, q)
	if err != nil {
		return 0, err
	}
	k := w.Tolerances[0]
	if k.Limits[1] > 0 {
		return k.Limits[1], nil
	}
	most := k.Values[0]
	for _, v := range k.Values {
		most = max(most, v)
	}
	return most, nil
}

// given reads a number of the page's own, with a comma or a point.
func (s limitsView) given(name string, to *float64) error {
	text := s.param(name, "")
	if text == "" {
		return nil
	}
	v, err := page.ParseNumber(text)
	if err != nil || v < 0 || v > 1e9 || name == "limit" && v == 0 {
		return page.Wrong(s.Say("limits.notnumber", s.Say("ask."+name), text))
	}
	*to = v
	return nil
}

// trial shows what the limit would have done.
func (s limitsView) trial(w answers.WhatIf, key string) {
	k, proposed := w.Tolerances[0], w.Proposed.Upper
	h, title := k.Histogram(80), s.Say("limits.title", key)
	f := s.histogram(key, h.Low, h.Width, h.Counts, [2]float64{0, proposed})
	f.Small, f.Title = false, title
	words := s.Num(report.DigitsFor(proposed), proposed)
	d := chart.Distribution{Frame: s.frame("trial", title, s.Say("limits.desc", key, words), 1180, 300),
		X: chart.Axis{Label: s.Say("axis.ohm")}, Lower: math.NaN(), Upper: proposed, GuardUpper: decide.Band(w.GuardU, k.U),
		LimitText: [2]string{"", s.Say("limits.proposed", words)}}
	for i, n := range h.Counts {
		low := h.Low + float64(i)*h.Width
		d.Bins = append(d.Bins, chart.Bin{Low: low, High: low + h.Width, Count: float64(n), Tip: report.Whole(n)})
	}
	if now := k.Limits[1]; now > 0 && now != proposed {
		d.Also = []chart.Across{{X: now, Kind: "centre", Text: s.Say("limits.current", s.Num(report.DigitsFor(now), now))}}
	}
	f.Chart, f.Says = d.SVG(), tell(s.Words, w.Conclusions)
	s.add(f)
	for _, one := range []struct {
		table report.Table
		title string
		says  []note
	}{
		{report.OutcomeTable(w), s.Say("limits.guards"), says(s.Say("limits.guards.words"))},
		{report.ToleranceTable(w), s.Say("limits.tolerance"), []note{}},
		{report.ChangeTable(w), s.Say("limits.changes"), []note{}},
	} {
		t := s.TableOf(one.table, one.title)
		t.Open = one.table.Name != "changes"
		s.add(figure{Title: one.title, Table: t, Says: one.says})
	}
}
