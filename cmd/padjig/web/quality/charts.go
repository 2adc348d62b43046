package quality

import (
	"cmp"
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/charts"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// chartsPage holds a characteristic against control limits: which one, in what
// subgroups, by which rules and from which baseline is chosen on the page.
func chartsPage(s *study) error {
	q, err := charting(s)
	if err != nil {
		return err
	}
	c, err := charts.AskChart(s.ctx, s.store, q)
	if err != nil {
		return err
	}
	first, then := []note{}, []note{} // the chart is seen at once: what can wait stands below
	for i, n := range tell(s.Words, c.Conclusions) {
		if i == 0 || n.Kind == string(answers.Attention) {
			first = append(first, n)
		} else {
			then = append(then, n)
		}
	}
	drawPanels(s, c, first)
	s.show(s.Say("charts.points"), report.PointTable(c), false, then...)
	if len(c.Events) > 0 {
		s.show(s.Say("events.title"), report.EventTable(c.Events), false, says(s.Say("events.words"))...)
	}
	freezeForm(s, c)
	return nil
}

// failedShare stands for charts of counts where a measure is asked for.
const failedShare = "failed"

// charting is the chart that the address asks for.
func charting(s *study) (charts.ChartAsked, error) {
	q := charts.ChartAsked{Selection: s.about()}
	measure, kind, rules := s.param("measure", string(lines.Contact)), s.param("chart", ""), s.param("rules",
		answers.DefaultRules)
	counts := measure == failedShare
	if _, err := lines.ParseMeasure(measure); err != nil && !counts {
		if was, is := errors.AsType[*lines.RenamedMeasureError](err); is {
			return q, page.Wrong(s.Say("measure.renamed", was.Was, was.Now))
		}
		return q, page.Wrong(s.Say("charts.unknown"))
	}
	var err error
	kinds, groups, usual := charts.ReadingCharts, charts.SubgroupRules, string(charts.DefaultChart)
	if counts {
		kinds, groups, usual = charts.CountCharts, []string{charts.ByHour, charts.ByDay, charts.ByLot,
			charts.ByShift}, string(charts.P)
	}
	q.Kind, q.Subgroup = charts.ChartKind(cmp.Or(kind, usual)), s.param("group", groups[0])
	if was := q.Kind; !slices.Contains(kinds, q.Kind) || !slices.Contains(groups, q.Subgroup) {
		if was == "individuals" {
			return q, page.Wrong(s.Say("charts.renamed", was, charts.IMR))
		}
		return q, page.Wrong(s.Say("charts.unknown"))
	}
	if q.Rules, err = answers.ParseRules(rules); err != nil {
		return q, page.Wrong(s.Told(err))
	}
	q.Size, q.Baseline, q.Last = s.asked("size", answers.SubgroupSize, 2, 50), s.asked("base",
		answers.BaselineSubgroups, 2, 500), s.asked("last", answers.Last, 20, 20000)
	s.offer(s.one("measure", measure, append([]string{failedShare}, texts(lines.Measures)...)...))
	if !counts {
		keys, err := s.subjects(lines.Measure(measure))
		if err != nil {
			return q, err
		}
		key := s.param("key", keys[0])
		q.Measure, q.Keys.Labels = lines.Measure(measure), []string{key}
		s.offer(s.named("key", key, keys))
	}
	s.offer(s.one("chart", string(q.Kind), texts(kinds)...), s.one("group", q.Subgroup, groups...))
	if !counts {
		s.offer(s.number("size", strconv.Itoa(q.Size)), s.number("last", strconv.Itoa(q.Last)))
	}
	s.offer(s.one("rules", rules, "limits", "default", "zones", "all"), s.number("base", strconv.Itoa(q.Baseline)))
	return q, nil
}

// asked is a whole number of the page's own, kept within bounds.
func (s *study) asked(name string, otherwise, least, most int) int {
	n, err := strconv.Atoi(s.param(name, strconv.Itoa(otherwise)))
	if err != nil {
		s.warn("ask.notnumber", s.Say("ask."+name), otherwise)
		return otherwise
	}
	if kept := min(max(n, least), most); kept != n {
		s.warn("ask.bounds", s.Say("ask."+name), least, most)
		return kept
	}
	return n
}

// subjects lists what a measure is read at.
func (s *study) subjects(m lines.Measure) ([]string, error) {
	if m.OfKeys() {
		return s.keys()
	}
	return s.store.Lines.Subjects(s.ctx, s.filter, m)
}

// keys lists the keys of the newest revision chosen.
func (s *study) keys() ([]string, error) {
	pad, err := s.store.Lines.Pad(s.ctx, s.filter)
	if err != nil {
		return nil, err
	}
	var keys []string
	for _, k := range pad {
		keys = append(keys, k.Label)
	}
	if len(keys) == 0 {
		return nil, lines.ErrNoUnits
	}
	return keys, nil
}

// drawPanels draws the plots of a chart, one above the other, or the part of them that the
// address asks for.
func drawPanels(s *study, c charts.Chart, words []note) {
	panels := report.ControlCharts(s.Lang, c)
	var drawn []*chart.Control
	for i := range panels {
		title := s.Say("charts.title", report.Charting(s.Lang, c), report.PanelText(s.Lang, c.Panels[i]))
		k, height := &panels[i], 320.0
		if i > 0 {
			height = 220
		}
		k.Frame = s.frame("control"+strconv.Itoa(i), title, s.Say("charts.desc", len(c.Panels[i].Points), c.Panels[i].Signals()), 1240, height)
		k.X, k.BaselineText, k.Zoom = chart.Axis{Label: s.Say("axis.group." + c.Subgroup)}, s.Say("charts.baseline"), partParam
		if !c.Kind.Subgroups() && !c.Kind.Counts() {
			k.X.Label = s.Say("axis.unit")
		}
		behindPoints(s, c, k)
		drawn = append(drawn, k)
	}
	chart.Align(drawn...)
	first, last, err := units.Span(s.param(partParam, ""))
	if last > 0 && len(panels[0].Part(first, last).Points) == 0 || err != nil {
		s.warn("charts.part.wrong")
		last = 0
	}
	for i, k := range drawn {
		one := *k
		if last > 0 {
			one = k.Part(first, last)
			if i == 0 {
				whole := s.own()
				whole.Del(partParam)
				words = append(words, note{Text: s.Say("charts.part", len(one.Points), len(k.Points)), Kind: "say", Link: s.link(s.Plain, whole)})
			}
		}
		if len(k.Points) > 0 {
			s.add(figure{Title: one.Title, Chart: one.SVG(), Says: words})
		}
		words = []note{}
	}
}

// partParam is the part of a chart that is shown, by the numbers of its runs.
const partParam = "part"

// behindPoints says which units are behind each point: those of its runs, or of its hour,
// day or shift where the runs of several lie between each other.
func behindPoints(s *study, c charts.Chart, k *chart.Control) {
	behind := units.Everything()
	if !c.Kind.Counts() || c.Subgroup == charts.ByUnits {
		if len(c.Keys.Labels) == 1 && lines.MeasureColumns[c.Measure][0] != "" && !c.Kind.Counts() {
			behind.Measure, behind.Key = c.Measure, c.Keys.Labels[0]
		}
		k.Behind = unitsBehind(s, behind)
		if strings.Contains(k.Behind, "?") {
			k.Behind += "&"
		} else {
			k.Behind += "?"
		}
		k.Behind += units.Runs + "="
		return
	}
	if c.Kind == charts.P || c.Kind == charts.NP {
		behind.Verdict = "fail"
	}
	for i, q := range c.Panels[0].Points {
		k.Points[i].Link = unitsAmong(s, lines.Dimension(c.Subgroup), q.Name, behind)
	}
}

// letter marks the nth of many drawings.
func letter(n int) string {
	text := string(rune('A' + n%26))
	if n >= 26 {
		text += strconv.Itoa(n / 26)
	}
	return text
}

// freezeForm lets the limits be frozen as they are.
func freezeForm(s *study, c charts.Chart) {
	if c.Base < answers.LeastBaseline {
		return
	}
	query := s.link("", s.own())
	s.Form = &signForm{Action: "/quality/freeze", Title: s.Say("freeze.title"), Label: s.Say("freeze.reason"),
		Button:  s.Say("freeze.button"),
		Explain: s.Say("freeze.explain", c.Base), Fields: []page.Option{{Value: "query", Text: strings.TrimPrefix(query, "?")}}}
}

// freeze records the limits of a chart as its page shows them. They are
// computed anew from the address: what a browser sends is no limit.
func (p *pages) freeze(v *page.Visit) (page.Answer, error) {
	reason := v.Text("reason")
	if reason == "" {
		return page.Answer{}, page.WrongField("reason", v.Say("freeze.needsreason"))
	}
	form, err := url.ParseQuery(v.Value("query"))
	if err != nil {
		return page.Answer{}, page.Wrong(v.Told(err))
	}
	s, err := p.newStudy(v.AsIf(form), "/quality/charts")
	if err != nil {
		return page.Answer{}, err
	}
	q, err := charting(s)
	if err != nil {
		return page.Answer{}, err
	}
	_, err = charts.Freeze(v.Ctx(), p.store, q, v.Person.Name, reason)
	if few, is := errors.AsType[*charts.ErrFewSubgroups](err); is {
		return page.Answer{}, page.Wrong(v.Say("freeze.few", few.Have, answers.LeastBaseline))
	}
	return page.Answer{Say: v.Say("freeze.done")}, err
}
