package web

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"padjig/results/answers"
	"padjig/results/gauge"
	"padjig/results/report"
	"padjig/results/report/chart"
	"padjig/results/runs"
	"padjig/sequence/product"
)

// gaugeView is the page of gauge studies.
type gaugeView struct{ *study }

// gaugePage is about gauge studies: planned here, run on the jigs, and what came
// of them. They are no production, so there is an answer without any run.
var gaugePage = page{path: "/quality/gauge", name: "gauge", who: studying, view: func(v *visit) (any, error) {
	s, err := v.newStudy("/quality/gauge")
	if err != nil || s.wrong != "" {
		return s, err
	}
	if err := (gaugeView{s}).gauge(); err != nil && !s.told(err) {
		return nil, err
	}
	return s, nil
}}

func (s gaugeView) gauge() error {
	all, err := s.site.Store.Gauge.Studies(s.ctx())
	if err != nil {
		return err
	}
	chosen := s.param("study", "")
	for _, one := range all {
		if strconv.FormatInt(one.Number, 10) == chosen {
			return s.measured(one)
		}
	}
	if chosen != "" {
		s.warn("gauge.nosuch", chosen)
	}
	if jig := s.param("ofjig", ""); jig != "" {
		return s.gaugeOfJig(jig, s.param("unit", ""))
	}
	s.Own = append(s.Own, ask{Name: "ofjig", Label: s.say("ask.ofjig"), Kind: "text"},
		ask{Name: "unit", Label: s.say("ask.unit"), Kind: "text"})
	s.studies(all)
	s.planForm()
	return nil
}

// studies lists what was planned.
func (s gaugeView) studies(all []gauge.Study) {
	t := table{Name: "studies", Caption: s.say("gauge.list"), Open: true,
		Columns: []column{{"study", s.say("gauge.number"), true}, {"product", s.say("ask.product"), false},
			{"across", s.say("gauge.across"), false}, {"parts", s.say("gauge.parts"), true}, {"appraisers",
				s.say("gauge.appraisers"), true}, {"repeats", s.say("ask.repeats"), true},
			{"taken", s.say("col.done"), true}, {"planned", s.say("col.due"), true}, {"by", s.say("col.by"), false}, {"at",
				s.say("col.at"), false}, {"note", s.say("gauge.note"), false}}}
	for _, one := range all {
		number := strconv.FormatInt(one.Number, 10)
		t.Rows = append(t.Rows, []cell{{Text: number, Value: int(one.Number), Link: s.Plain + "?study=" + number},
			plainWords(one.Product + " " + one.Revision),
			{Text: s.say("ask.by." + string(one.Across)),
				Value: string(one.Across)}, s.count(len(one.Parts)), s.count(len(one.Appraisers)), s.count(one.Repeats),
			s.count(len(one.Readings)), s.count(len(one.Plan)), plainWords(one.By), {Text: s.moment(one.At),
				Value: one.At}, plainWords(one.Note)})
	}
	f := figure{Title: s.say("gauge.list"), Says: says(s.say("gauge.words"))}
	if len(t.Rows) > 0 {
		f.Table = &t
	}
	s.add(f)
}

// products are those of the lanes, which a study can be planned for.
func (v *visit) products() (out []*product.Product) {
	for _, lane := range v.site.Lanes {
		p := lane.State().Product
		if !slices.ContainsFunc(out, func(q *product.Product) bool { return q.Hash() == p.Hash() }) {
			out = append(out, p)
		}
	}
	return out
}

func (s gaugeView) planForm() {
	var codes []string
	for _, p := range s.products() {
		codes = append(codes, p.Code)
	}
	if len(codes) == 0 {
		return
	}
	lines := func(name string) ask { return ask{Name: name, Label: s.say("gauge." + name), Kind: "lines"} }
	s.Form = &signForm{Action: "/quality/gauge", Title: s.say("gauge.plan"), Explain: s.say("gauge.plan.words"),
		Button: s.say("gauge.plan.button"), Asks: []ask{
			s.named("product", codes[0], codes), s.one("across", string(gauge.AcrossJigs), string(gauge.AcrossJigs),
				string(gauge.AcrossOperators)),
			lines("parts.list"), lines("appraisers.list"), s.number("repeats", "3"), {Name: "note",
				Label: s.say("gauge.note"), Kind: "text"},
		}}
}

// planAction plans a study: every part by every appraiser so many times, in an
// order nobody chose.
var planAction = action{path: "/quality/gauge", who: studying, do: func(v *visit) (answer, error) {
	i := slices.IndexFunc(v.products(), func(p *product.Product) bool { return p.Code == v.r.FormValue("product") })
	repeats, err := strconv.Atoi(strings.TrimSpace(v.r.FormValue("repeats")))
	if i < 0 || err != nil {
		return answer{}, wrong(v.say("charts.unknown"))
	}
	p := v.products()[i]
	study := gauge.Study{
		Across: gauge.Across(v.r.FormValue("across")), Parts: strings.Fields(v.r.FormValue("parts.list")),
		Appraisers: listed(v.r.FormValue("appraisers.list")), Repeats: repeats, Note: v.r.FormValue("note"), By: v.Person.Name,
		Seed: seedOf(v.r.FormValue("parts.list")),
	}
	if study.Plan, err = answers.PlanStudy(len(study.Parts), len(study.Appraisers), repeats, study.Seed); err != nil {
		return answer{}, wrong(v.say("gauge.two"))
	}
	stored, err := v.site.Store.Gauge.PlanStudy(v.ctx(), runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision,
		Hash: p.Hash(), Definition: p.Canonical()}, study)
	if err != nil {
		return answer{}, wrong(err.Error())
	}
	return answer{Go: "/quality/gauge?study=" + strconv.FormatInt(stored.Number, 10)}, nil
}}

// listed are the lines of a text that hold anything.
func listed(text string) (out []string) {
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// seedOf draws the order from what is measured: the same study has the same
// order, and nobody could pick it.
func seedOf(text string) uint64 {
	seed := uint64(14695981039346656037) // FNV-1a
	for _, b := range []byte(text) {
		seed = (seed ^ uint64(b)) * 1099511628211
	}
	return seed
}

// measured shows a study: what it found so far, and the order of its readings.
func (s gaugeView) measured(of gauge.Study) error {
	s.Simulated = of.Simulated()
	s.Said, s.Counted = s.say("gauge.is", of.Number, of.Product+" "+of.Revision), s.say("gauge.taken",
		len(of.Readings), len(of.Plan))
	s.Own = append(s.Own, ask{Name: "study", Label: s.say("gauge.number"), Kind: "number",
		Value: strconv.FormatInt(of.Number, 10)})
	if len(of.Readings) > 0 {
		g, err := answers.AskGauge(s.ctx(), s.site.Store, answers.GaugeAsked{Study: of, Key: s.param("key", "")})
		few, isFew := errors.AsType[*answers.IncompleteError](err)
		switch {
		case isFew:
			s.note("gauge.incomplete", few.Planned-few.Taken)
		case err != nil:
			if !s.told(err) {
				return err
			}
		default:
			s.gauged(g)
		}
	}
	s.order(of)
	return nil
}

// gauged draws a key's readings and says where their variance comes from.
func (s gaugeView) gauged(g answers.Gauge) {
	keys := make([]string, len(g.Rows))
	for i, k := range g.Rows {
		keys[i] = k.Key
	}
	s.Own = append(s.Own, s.named("key", g.Shown.Key, keys))
	s.Notes = append(s.Notes, s.tell(g.Conclusions)...)
	s.scatter(g)
	for _, one := range []struct {
		table report.Table
		title string
		open  bool
	}{
		{report.ComponentTable(g), s.say("gauge.components", g.Shown.Key), true}, {report.AnovaTable(g.Shown),
			s.say("gauge.anova"), false},
		{report.GaugeTable(g), s.say("gauge.keys"), false}, {report.AgreementTable(g), s.say("gauge.verdicts"), true},
	} {
		t := s.tableOf(one.table, one.title)
		t.Open = one.open
		s.add(figure{Title: one.title, Table: t})
	}
}

func (s gaugeView) scatter(g answers.Gauge) {
	title, y := s.say("gauge.scatter", g.Shown.Key), g.Shown.Readings
	c := chart.Curves{Frame: s.frame("gauge", title, s.say("gauge.scatter.desc", len(g.Study.Parts),
		len(g.Study.Appraisers)), 1180, 300),
		X: chart.Axis{Label: s.say("gauge.parts"), From: -0.5,
			To: float64(len(y)) - 0.5}, Y: chart.Axis{Label: s.say("axis.ohm")}}
	t := report.Table{Name: "readings", Columns: []report.Column{{Name: "part"}, {Name: "appraiser"}, {Name: "repeat"},
		{Name: "value", Unit: g.Measure.Unit(), Digits: 3}}}
	wide := 0.7 / float64(len(g.Study.Appraisers))
	for j, name := range g.Study.Appraisers {
		curve := chart.Curve{Name: name, Points: true}
		for i := range y {
			for k, v := range y[i][j] {
				curve.X, curve.Y = append(curve.X, float64(i)-0.35+wide*(float64(j)+0.5)), append(curve.Y, v)
				t.Rows = append(t.Rows, []any{g.Study.Parts[i], name, k + 1, v})
			}
		}
		c.Curves = append(c.Curves, curve)
	}
	for i, part := range g.Study.Parts {
		c.XNames = append(c.XNames, chart.Name{X: float64(i), Text: part})
	}
	s.add(figure{Title: title, Chart: c.SVG(), Table: s.tableOf(t, title), Says: says(s.say("gauge.scatter.words"))})
}

// order lists the readings in their order, and which is next.
func (s gaugeView) order(of gauge.Study) {
	t := table{Name: "order", Caption: s.say("gauge.order"), Open: !of.Complete(),
		Columns: []column{{"order", s.say("col.order"), true}, {"part", s.say("col.part"), false},
			{"by", s.say("col.by"), false}, {"repeat", s.say("col.repeat"), true}, {"outcome", s.say("col.done"), false}}}
	outcomes := map[int]string{}
	for _, r := range of.Readings {
		outcomes[r.Place] = s.say("outcome." + string(r.Outcome))
	}
	next, more := of.Next("")
	for place, at := range of.Plan {
		t.Rows = append(t.Rows, []cell{{Text: strconv.Itoa(place + 1), Value: place + 1, Mark: more && place == next},
			plainWords(of.Parts[at.Part]),
			plainWords(of.Appraisers[at.Appraiser]), s.count(at.Repeat + 1), plainWords(outcomes[place])})
	}
	f := figure{Title: s.say("gauge.order"), Table: &t, Says: says(s.say("gauge.done"))}
	if more {
		at := of.Plan[next]
		f.Says = says(s.say("gauge.next", next+1, of.Parts[at.Part], of.Appraisers[at.Appraiser]),
			s.say("gauge.how", of.Number))
	}
	s.add(f)
}

// gaugeOfJig tells how a jig reads reference resistors, and a reference unit
// over time.
func (s gaugeView) gaugeOfJig(jig, unit string) error {
	s.Own = append(s.Own, ask{Name: "ofjig", Label: s.say("ask.ofjig"), Kind: "text", Value: jig},
		ask{Name: "unit", Label: s.say("ask.unit"), Kind: "text", Value: unit})
	l, err := answers.AskLinearity(s.ctx(), s.site.Store, answers.LinearityAsked{Jig: jig, Simulated: s.filter.Simulated})
	switch {
	case errors.Is(err, answers.ErrNoVerification):
		s.note("gauge.noverification", jig)
	case err != nil:
		return err
	default:
		s.add(figure{Title: s.say("gauge.bias"), Table: s.tableOf(report.BiasTable(l), s.say("gauge.bias")),
			Says: s.tell(l.Conclusions)})
		s.add(figure{Title: s.say("gauge.linearity"), Table: s.tableOf(report.LinearityTable(l), s.say("gauge.linearity"))})
	}
	if unit == "" {
		return nil
	}
	st, err := answers.AskStability(s.ctx(), s.site.Store,
		answers.StabilityAsked{Jig: jig, Unit: unit, Simulated: s.filter.Simulated})
	few, isFew := errors.AsType[*answers.TooFewError](err)
	switch {
	case errors.Is(err, answers.ErrNoChecks):
		s.note("gauge.nochecks", unit, jig)
	case isFew:
		s.note("why.few", few.Have, few.Need)
	case err != nil:
		return err
	default:
		s.add(figure{Title: s.say("gauge.stability"), Table: s.tableOf(report.StabilityTable(st),
			s.say("gauge.stability")), Says: s.tell(st.Conclusions)})
	}
	return nil
}
