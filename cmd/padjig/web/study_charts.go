package web

import (
	"cmp"
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// chartsPage holds a characteristic against control limits: which one, in what
// subgroups, by which rules and from which baseline is chosen on the page.
var chartsPage = studyPage("/charts", "charts", func(s *study) error {
	q, err := chartView{s}.charting()
	if err != nil {
		return err
	}
	c, err := answers.AskChart(s.ctx(), s.site.Store, q)
	if err != nil {
		return err
	}
	first, then := []note{}, []note{} // the chart is seen at once: what can wait stands below
	for i, n := range s.tell(c.Conclusions) {
		if i == 0 || n.Kind == string(answers.Attention) {
			first = append(first, n)
		} else {
			then = append(then, n)
		}
	}
	for i, p := range c.Panels {
		chartView{s}.panel(c, i, p, first)
		first = []note{}
	}
	title := s.say("charts.points")
	s.add(figure{Title: title, Table: s.tableOf(report.PointTable(c), title), Says: then})
	if len(c.Events) > 0 {
		title := s.say("events.title")
		s.add(figure{Title: title, Table: s.tableOf(report.EventTable(c.Events), title), Says: says(s.say("events.words"))})
	}
	chartView{s}.freezeForm(c)
	return nil
})

// failedShare stands for charts of counts where a measure is asked for.
const failedShare = "failed"

// chartView is the page of control charts.
type chartView struct{ *study }

// charting is the chart that the address asks for.
func (s chartView) charting() (answers.ChartAsked, error) {
	q := answers.ChartAsked{Selection: s.about()}
	measure, kind, rules := s.param("measure", string(lines.Closed)), s.param("chart", ""), s.param("rules",
		answers.DefaultRules)
	keys, err := s.keys()
	if err != nil {
		return q, err
	}
	measures := []string{failedShare}
	for _, m := range lines.Measures {
		measures = append(measures, string(m))
	}
	if !slices.Contains(measures, measure) {
		return q, wrong(s.say("charts.unknown"))
	}
	counts := measure == failedShare
	kinds, groups, usual := answers.ReadingCharts, answers.SubgroupRules, string(answers.DefaultChart)
	if counts {
		kinds, groups, usual = answers.CountCharts, []string{answers.ByHour, answers.ByDay, answers.ByLot,
			answers.ByShift}, string(answers.P)
	}
	q.Kind, q.Subgroup = answers.ChartKind(cmp.Or(kind, usual)), s.param("group", groups[0])
	if was := q.Kind; !slices.Contains(kinds, q.Kind) || !slices.Contains(groups, q.Subgroup) {
		if was == "individuals" {
			return q, wrong(s.say("charts.renamed", was, answers.IMR))
		}
		return q, wrong(s.say("charts.unknown"))
	}
	if q.Rules, err = answers.ParseRules(rules); err != nil {
		return q, wrong(err.Error())
	}
	q.Size, q.Baseline, q.Last = s.asked("size", answers.SubgroupSize, 2, 50), s.asked("base",
		answers.BaselineSubgroups, 2, 500), s.asked("last", answers.Last, 20, 20000)
	s.Own = append(s.Own, s.one("measure", measure, measures...))
	var named []string
	for _, k := range kinds {
		named = append(named, string(k))
	}
	if !counts {
		key := s.param("key", keys[0])
		q.Measure, q.Keys.Labels = lines.Measure(measure), []string{key}
		s.Own = append(s.Own, s.named("key", key, keys))
	}
	s.Own = append(s.Own, s.one("chart", string(q.Kind), named...), s.one("group", q.Subgroup, groups...))
	if !counts {
		s.Own = append(s.Own, s.number("size", strconv.Itoa(q.Size)), s.number("last", strconv.Itoa(q.Last)))
	}
	s.Own = append(s.Own, s.one("rules", rules, "limits", "default", "zones", "all"),
		s.number("base", strconv.Itoa(q.Baseline)))
	return q, nil
}

// asked is a whole number of the page's own, kept within bounds.
func (s *study) asked(name string, otherwise, least, most int) int {
	n, err := strconv.Atoi(s.param(name, strconv.Itoa(otherwise)))
	if err != nil {
		s.warn("ask.notnumber", s.say("ask."+name), otherwise)
		return otherwise
	}
	if kept := min(max(n, least), most); kept != n {
		s.warn("ask.bounds", s.say("ask."+name), least, most)
		return kept
	}
	return n
}

// keys lists the keys of the newest revision chosen.
func (s *study) keys() ([]string, error) {
	pad, err := s.site.Store.Lines.Pad(s.ctx(), s.filter)
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

// panel draws one of the plots of a chart.
func (s chartView) panel(c answers.Chart, i int, p answers.Panel, words []note) {
	title := s.say("charts.title", report.Charting(s.Lang, c), report.PanelText(s.Lang, p))
	height := 320.0
	if i > 0 {
		height = 220
	}
	cc := chart.Control{
		Frame: s.frame("control"+strconv.Itoa(i), title, s.say("charts.desc", len(p.Points), p.Signals()), 1240, height),
		X:     chart.Axis{Label: s.say("axis.group." + c.Subgroup)}, Y: chart.Axis{Label: report.ChartUnit(c)},
		Baseline: c.Base, BaselineText: s.say("charts.baseline"), Zones: p.Zones,
		Points: report.ChartPoints(c, p, func(q answers.ChartPoint) string { return s.pointName(c, q) }),
	}
	if !c.Kind.Subgroups() && !c.Kind.Counts() {
		cc.X.Label = s.say("axis.unit")
	}
	if i == 0 {
		cc.Events = report.ChartEvents(c.Events)
	}
	if len(cc.Points) == 0 {
		return
	}
	last := cc.Points[len(cc.Points)-1]
	d := report.DigitsFor(last.Upper - last.Lower)
	cc.LimitText = [3]string{s.say("charts.ucl") + " " + s.num(d, last.Upper),
		s.say("charts.cl") + " " + s.num(d, last.Centre), s.say("charts.lcl") + " " + s.num(d, last.Lower)}
	s.add(figure{Title: title, Chart: cc.SVG(), Says: words})
}

// many points are named by their day alone.
const many = 300

func (s chartView) pointName(c answers.Chart, q answers.ChartPoint) string {
	switch {
	case q.Start.IsZero():
		return q.Name
	case len(c.Panels[0].Points) > many:
		return q.Start.Format("01-02")
	case c.Kind.Subgroups() && c.Subgroup == answers.ByUnits, c.Kind.Counts():
		return q.Start.Format("01-02 15:04")
	}
	return q.Name
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
func (s chartView) freezeForm(c answers.Chart) {
	if c.Base < answers.LeastBaseline {
		return
	}
	query := s.link("", s.own())
	s.Form = &signForm{Action: "/quality/freeze", Title: s.say("freeze.title"), Label: s.say("freeze.reason"),
		Button:  s.say("freeze.button"),
		Explain: s.say("freeze.explain", c.Base), Fields: []option{{Value: "query", Text: strings.TrimPrefix(query, "?")}}}
}

// freezeAction records the limits of a chart as its page shows them. They are
// computed anew from the address: what a browser sends is no limit.
var freezeAction = action{path: "/quality/freeze", who: studying, do: func(v *visit) (answer, error) {
	reason := strings.TrimSpace(v.r.FormValue("reason"))
	if reason == "" {
		return answer{}, wrong(v.say("freeze.needsreason"))
	}
	form, err := url.ParseQuery(v.r.FormValue("query"))
	if err != nil {
		return answer{}, wrong(err.Error())
	}
	then := *v
	then.r = v.r.Clone(v.ctx())
	then.r.Form, then.r.PostForm = form, url.Values{}
	s, err := then.newStudy("/quality/charts")
	if err != nil {
		return answer{}, err
	}
	q, err := chartView{s}.charting()
	if err != nil {
		return answer{}, err
	}
	_, err = answers.Freeze(v.ctx(), v.site.Store, q, v.Person.Name, reason)
	if few, is := errors.AsType[*answers.ErrFewSubgroups](err); is {
		return answer{}, wrong(v.say("freeze.few", few.Have, answers.LeastBaseline))
	}
	return answer{Say: v.say("freeze.done")}, err
}}
