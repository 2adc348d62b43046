package quality

import (
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/gauge"
	"padjig/results/report"
	"padjig/results/report/chart"
	"padjig/results/runs"
	"padjig/results/studies"
	"padjig/sequence/product"
)

// gaugeView is the page of gauge studies.
type gaugeView struct {
	*study
	products []*product.Product // which a study can be planned for
	lanes    *control.Lanes
}

// gauge is about gauge studies: planned here, run on the jigs, and what came
// of them. They are no production, so there is an answer without any run.
func (p *pages) gauge(v *page.Visit) (any, error) {
	s, err := p.newStudy(v, "/quality/gauge")
	if err != nil || s.wrong != "" {
		return s, err
	}
	if err := (gaugeView{s, p.lanes.Products(), p.lanes}).gauge(); err != nil && !s.told(err) {
		return nil, err
	}
	return s, nil
}

func (s gaugeView) gauge() error {
	all, err := s.store.Studies.Studies(s.ctx)
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
	s.offer(s.text("ofjig", ""), s.text("unit", ""))
	s.studies(all)
	s.planForm()
	return nil
}

// studies lists what was planned.
func (s gaugeView) studies(all []studies.Study) {
	t := page.Table{Name: "studies", Caption: s.Say("gauge.list"), Open: true,
		Columns: []page.Column{
			page.NumCol("study", s.Say("gauge.number")), page.Col("product", s.Say("ask.product")), page.Col("across", s.Say("gauge.across")),
			page.NumCol("parts", s.Say("gauge.parts")), page.NumCol("appraisers", s.Say("gauge.appraisers")),
			page.NumCol("repeats", s.Say("ask.repeats")), page.NumCol("taken", s.Say("col.done")), page.NumCol("planned", s.Say("col.due")),
			page.Col("by", s.Say("col.by")), page.Col("at", s.Say("col.at")), page.Col("note", s.Say("gauge.note")),
		}}
	for _, one := range all {
		number := strconv.FormatInt(one.Number, 10)
		t.Rows = append(t.Rows, []page.Cell{{Text: number, Value: int(one.Number), Link: s.Plain + "?study=" + number},
			page.Plain(one.Product + " " + one.Revision),
			{Text: s.Say("ask.by." + string(one.Across)),
				Value: string(one.Across)}, page.Count(len(one.Parts)), page.Count(len(one.Appraisers)), page.Count(one.Repeats),
			page.Count(len(one.Readings)), page.Count(len(one.Plan)), page.Plain(one.By), {Text: s.moment(one.At),
				Value: one.At}, page.Plain(one.Note)})
	}
	f := figure{Title: s.Say("gauge.list"), Says: says(s.Say("gauge.words"))}
	if len(t.Rows) > 0 {
		f.Table = &t
	}
	s.add(f)
}

func (s gaugeView) planForm() {
	var codes []string
	for _, p := range s.products {
		codes = append(codes, p.Code)
	}
	if len(codes) == 0 {
		return
	}
	lines := func(name string) ask { return ask{Name: name, Label: s.Say("gauge." + name), Kind: "lines"} }
	s.Form = &signForm{Action: "/quality/gauge", Title: s.Say("gauge.plan"), Explain: s.Say("gauge.plan.words"),
		Button: s.Say("gauge.plan.button"), Asks: []ask{
			s.named("product", codes[0], codes), s.one("across", string(studies.AcrossJigs), string(studies.AcrossJigs),
				string(studies.AcrossOperators)),
			lines("parts.list"), lines("appraisers.list"), s.number("repeats", "3"), {Name: "note",
				Label: s.Say("gauge.note"), Kind: "text"},
		}}
}

// planStudy plans a study: every part by every appraiser so many times, in an
// order nobody chose.
func (p *pages) planStudy(v *page.Visit) (page.Answer, error) {
	of := p.lanes.Holding(func(p *product.Product) bool { return p.Code == v.Value("product") })
	repeats, err := strconv.Atoi(v.Text("repeats"))
	if of == nil {
		return page.Answer{}, page.WrongField("product", v.Say("charts.unknown"))
	}
	if err != nil {
		return page.Answer{}, page.WrongField("repeats", v.Say("limits.notnumber", v.Say("ask.repeats"), v.Text("repeats")))
	}
	study := studies.Study{
		Across: studies.Across(v.Value("across")), Parts: strings.Fields(v.Value("parts.list")),
		Appraisers: listed(v.Value("appraisers.list")), Repeats: repeats, Note: v.Value("note"), By: v.Person.Name,
		Seed: seedOf(v.Value("parts.list")),
	}
	if study.Plan, err = gauge.PlanStudy(len(study.Parts), len(study.Appraisers), repeats, study.Seed); err != nil {
		return page.Answer{}, page.WrongField("parts.list", v.Say("gauge.two"))
	}
	stored, err := p.store.Studies.PlanStudy(v.Ctx(), runs.Revision{Code: of.Code, Title: of.Title, Label: of.Revision,
		Hash: of.Hash(), Definition: of.Canonical()}, study)
	if err != nil {
		return page.Answer{}, page.Wrong(v.Told(err))
	}
	return page.Answer{Go: "/quality/gauge?study=" + strconv.FormatInt(stored.Number, 10)}, nil
}

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
func (s gaugeView) measured(of studies.Study) error {
	s.Simulated = of.Simulated()
	s.Said, s.Counted = s.Say("gauge.is", of.Number, of.Product+" "+of.Revision), s.Say("gauge.taken",
		len(of.Readings), len(of.Plan))
	s.offer(ask{Name: "study", Label: s.Say("gauge.number"), Kind: "number", Value: strconv.FormatInt(of.Number, 10)})
	if len(of.Readings) > 0 {
		g, err := gauge.AskGauge(s.ctx, s.store, gauge.GaugeAsked{Study: of, Key: s.param("key", "")})
		few, isFew := errors.AsType[*gauge.IncompleteError](err)
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
func (s gaugeView) gauged(g gauge.Gauge) {
	keys := make([]string, len(g.Rows))
	for i, k := range g.Rows {
		keys[i] = k.Key
	}
	s.offer(s.named("key", g.Shown.Key, keys))
	s.Notes = append(s.Notes, tell(s.Words, g.Conclusions)...)
	s.scatter(g)
	for _, one := range []struct {
		table report.Table
		title string
		open  bool
	}{
		{report.ComponentTable(g), s.Say("gauge.components", g.Shown.Key), true}, {report.AnovaTable(g.Shown),
			s.Say("gauge.anova"), false},
		{report.GaugeTable(g), s.Say("gauge.keys"), false}, {report.AgreementTable(g), s.Say("gauge.verdicts"), true},
	} {
		s.show(one.title, one.table, one.open)
	}
}

func (s gaugeView) scatter(g gauge.Gauge) {
	title, y := s.Say("gauge.scatter", g.Shown.Key), g.Shown.Readings
	c := chart.Curves{Frame: s.frame("gauge", title, s.Say("gauge.scatter.desc", len(g.Study.Parts),
		len(g.Study.Appraisers)), 1180, 300),
		X: chart.Axis{Label: s.Say("gauge.parts"), From: -0.5,
			To: float64(len(y)) - 0.5}, Y: chart.Axis{Label: s.Say("axis.ohm")}}
	t := report.Table{Name: "readings", Columns: report.Columns("part, appraiser, repeat, value .3 " + g.Measure.Unit())}
	wide := 0.7 / float64(len(g.Study.Appraisers))
	for j, name := range g.Study.Appraisers {
		curve := chart.Curve{Name: name, Points: true}
		for i := range y {
			for k, v := range y[i][j] {
				curve.X, curve.Y = append(curve.X, float64(i)-0.35+wide*(float64(j)+0.5)), append(curve.Y, v)
				curve.Spots = append(curve.Spots, chart.Spot{Link: "/unit?serial=" + url.QueryEscape(g.Study.Parts[i]),
					Tip: g.Study.Parts[i] + "\n" + s.Near(v) + " " + g.Measure.Unit() + "\n" + name + ", " + s.Say("col.repeat") + " " + report.Whole(k+1)})
				t.Rows = append(t.Rows, []any{g.Study.Parts[i], name, k + 1, v})
			}
		}
		c.Curves = append(c.Curves, curve)
	}
	for i, part := range g.Study.Parts {
		c.XNames = append(c.XNames, chart.Name{X: float64(i), Text: part})
	}
	s.add(figure{Title: title, Chart: c.SVG(), Table: s.TableOf(t, title), Says: says(s.Say("gauge.scatter.words"))})
}

// order lists the readings in their order, and which is next.
func (s gaugeView) order(of studies.Study) {
	t := page.Table{Name: "order", Caption: s.Say("gauge.order"), Open: !of.Complete(),
		Columns: []page.Column{page.NumCol("order", s.Say("col.order")), page.Col("part", s.Say("gauge.part")),
			page.Col("by", s.Say("col.by")), page.NumCol("repeat", s.Say("col.repeat")), page.Col("outcome", s.Say("col.done"))}}
	outcomes := map[int]string{}
	for _, r := range of.Readings {
		outcomes[r.Place] = s.Say("outcome." + string(r.Outcome))
	}
	next, more := of.Next("")
	for place, at := range of.Plan {
		done := page.Plain(outcomes[place])
		if more && place == next {
			done = s.measureNext(of, of.Appraisers[at.Appraiser])
		}
		t.Rows = append(t.Rows, []page.Cell{{Text: strconv.Itoa(place + 1), Value: place + 1, Mark: more && place == next},
			page.Plain(of.Parts[at.Part]),
			page.Plain(of.Appraisers[at.Appraiser]), page.Count(at.Repeat + 1), done})
	}
	f := figure{Title: s.Say("gauge.order"), Table: &t, Says: says(s.Say("gauge.done"))}
	if more {
		at := of.Plan[next]
		f.Says = says(s.Say("gauge.next", next+1, of.Parts[at.Part], of.Appraisers[at.Appraiser]),
			s.Say("gauge.how", of.Number))
	}
	s.add(f)
}

// measureNext leads to where the next reading is taken: a lane that tests the study's revision, on the
// jig whose turn it is where jigs are compared.
func (s gaugeView) measureNext(of studies.Study, turn string) page.Cell {
	for i, lane := range s.lanes.All() {
		state := lane.State()
		if state.Product.Hash() == of.Hash && (of.Across == studies.AcrossOperators || state.Jig.Serial == turn) {
			return page.Cell{Text: s.Say("gauge.onlane", i+1), Value: "", Link: fmt.Sprintf("/jigs/%d/study/%d", i+1, of.Number)}
		}
	}
	return page.Plain("")
}

// gaugeOfJig tells how a jig reads reference resistors, and a reference unit
// over time.
func (s gaugeView) gaugeOfJig(jig, unit string) error {
	s.offer(s.text("ofjig", jig), s.text("unit", unit))
	l, err := gauge.AskLinearity(s.ctx, s.store, gauge.LinearityAsked{Jig: jig, Simulated: s.filter.Simulated})
	switch {
	case errors.Is(err, gauge.ErrNoVerification):
		s.note("gauge.noverification", jig)
	case err != nil:
		return err
	default:
		s.show(s.Say("gauge.bias"), report.BiasTable(l), false, tell(s.Words, l.Conclusions)...)
		s.show(s.Say("gauge.linearity"), report.LinearityTable(l), false)
	}
	if unit == "" {
		return nil
	}
	st, err := gauge.AskStability(s.ctx, s.store,
		gauge.StabilityAsked{Jig: jig, Unit: unit, Simulated: s.filter.Simulated})
	few, isFew := errors.AsType[*answers.TooFewError](err)
	switch {
	case errors.Is(err, gauge.ErrNoChecks):
		s.note("gauge.nochecks", unit, jig)
	case isFew:
		s.note("why.few", few.Have, few.Need)
	case err != nil:
		return err
	default:
		s.show(s.Say("gauge.stability"), report.StabilityTable(st), false, tell(s.Words, st.Conclusions)...)
	}
	return nil
}
