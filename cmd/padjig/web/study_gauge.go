package web

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
	"padjig/sequence/product"
)

// gaugePage is about gauge studies: planned here, run on the jigs, and what came
// of them. They are no production, so there is an answer without any run.
var gaugePage = page{path: "/quality/gauge", name: "gauge", who: studying, view: func(v *visit) (any, error) {
	s, err := v.newStudy("/quality/gauge")
	if err != nil || s.wrong != "" {
		return s, err
	}
	if err := s.gauge(); err != nil && !s.told(err) {
		return nil, err
	}
	return s, nil
}}

func (s *study) gauge() error {
	all, err := s.site.Store.Studies(s.ctx())
	if err != nil {
		return err
	}
	chosen := s.param("study", "")
	for _, one := range all {
		if strconv.FormatInt(one.Number, 10) == chosen {
			return gauging{study: s, of: one}.page()
		}
	}
	if chosen != "" {
		s.warn("gauge.nosuch", chosen)
	}
	s.studies(all)
	s.planForm()
	return nil
}

// studies lists what was planned.
func (s *study) studies(all []results.Study) {
	t := table{Name: "studies", Caption: s.say("gauge.list"), Open: true, Columns: []column{{"study", s.say("gauge.number"), true}, {"product", s.say("ask.product"), false},
		{"across", s.say("gauge.across"), false}, {"parts", s.say("gauge.parts"), true}, {"appraisers", s.say("gauge.appraisers"), true}, {"repeats", s.say("ask.repeats"), true},
		{"taken", s.say("col.done"), true}, {"planned", s.say("col.due"), true}, {"by", s.say("col.by"), false}, {"at", s.say("col.at"), false}, {"note", s.say("gauge.note"), false}}}
	for _, one := range all {
		number := strconv.FormatInt(one.Number, 10)
		t.Rows = append(t.Rows, []cell{{Text: number, Value: int(one.Number), Link: s.Plain + "?study=" + number}, plainWords(one.Product + " " + one.Revision),
			{Text: s.say("ask.by." + string(one.Across)), Value: string(one.Across)}, s.count(len(one.Parts)), s.count(len(one.Appraisers)), s.count(one.Repeats),
			s.count(len(one.Readings)), s.count(len(one.Plan)), plainWords(one.By), {Text: s.moment(one.At), Value: one.At}, plainWords(one.Note)})
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

func (s *study) planForm() {
	var codes []string
	for _, p := range s.products() {
		codes = append(codes, p.Code)
	}
	if len(codes) == 0 {
		return
	}
	lines := func(name string) ask { return ask{Name: name, Label: s.say("gauge." + name), Kind: "lines"} }
	s.Form = &signForm{Action: "/quality/gauge", Title: s.say("gauge.plan"), Explain: s.say("gauge.plan.words"), Button: s.say("gauge.plan.button"), Asks: []ask{
		s.named("product", codes[0], codes), s.one("across", string(results.AcrossJigs), string(results.AcrossJigs), string(results.AcrossOperators)),
		lines("parts.list"), lines("appraisers.list"), s.number("repeats", "3"), {Name: "note", Label: s.say("gauge.note"), Kind: "text"},
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
	study := results.Study{
		Across: results.Across(v.r.FormValue("across")), Parts: strings.Fields(v.r.FormValue("parts.list")),
		Appraisers: listed(v.r.FormValue("appraisers.list")), Repeats: repeats, Note: v.r.FormValue("note"), By: v.Person.Name,
		Seed: seedOf(v.r.FormValue("parts.list")),
	}
	order, err := stats.PlanStudy(len(study.Parts), len(study.Appraisers), repeats, study.Seed)
	if err != nil {
		return answer{}, wrong(v.say("gauge.two"))
	}
	for _, at := range order {
		study.Plan = append(study.Plan, results.Planned{Part: at.Part, Appraiser: at.Operator, Repeat: at.Repeat})
	}
	stored, err := v.site.Store.PlanStudy(v.ctx(), results.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}, study)
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

// gauging is one study.
type gauging struct {
	*study
	of   results.Study
	runs map[int]results.Stored // by place in the plan
}

func (g gauging) page() error {
	g.Simulated = g.of.Simulated()
	g.Said, g.Counted = g.say("gauge.is", g.of.Number, g.of.Product+" "+g.of.Revision), g.say("gauge.taken", len(g.of.Readings), len(g.of.Plan))
	g.runs = map[int]results.Stored{}
	for _, r := range g.of.Readings {
		run, err := g.site.Store.Run(g.ctx(), r.Run)
		if err != nil {
			return err
		}
		g.runs[r.Place] = run
	}
	keys := g.keysOf()
	if len(keys) > 0 {
		key := g.param("key", keys[0])
		g.Own = append(g.Own, ask{Name: "study", Label: g.say("gauge.number"), Kind: "number", Value: strconv.FormatInt(g.of.Number, 10)}, g.named("key", key, keys))
		if err := g.results(key); err != nil && !g.told(err) {
			return err
		}
		if err := g.verdicts(); err != nil && !g.told(err) {
			return err
		}
	}
	g.plan()
	return nil
}

func (g gauging) keysOf() (keys []string) {
	for _, run := range g.runs {
		for _, k := range run.Keys {
			keys = append(keys, k.Key)
		}
		return keys
	}
	return nil
}

// value is the closed resistance of a key in a run, NaN for none.
func value(run results.Stored, key string) float64 {
	for _, k := range run.Keys {
		if k.Key == key && k.Closed != nil && !k.Closed.AtLeast {
			return float64(k.Closed.Value)
		}
	}
	return math.NaN()
}

// readings are those of one key by part, appraiser and repeat, once all are there.
func (g gauging) readings(key string) ([][][]float64, error) {
	if !g.of.Complete() {
		return nil, wrong(g.say("gauge.incomplete", len(g.of.Plan)-len(g.of.Readings)))
	}
	y := make([][][]float64, len(g.of.Parts))
	for i := range y {
		y[i] = make([][]float64, len(g.of.Appraisers))
	}
	for place, at := range g.of.Plan {
		v := value(g.runs[place], key)
		if math.IsNaN(v) {
			return nil, wrong(g.say("gauge.noreading", place+1, key))
		}
		y[at.Part][at.Appraiser] = append(y[at.Part][at.Appraiser], v)
	}
	return y, nil
}

// results draws a key's readings and says where their variance comes from.
func (g gauging) results(key string) error {
	y, err := g.readings(key)
	if err != nil {
		return err
	}
	anova, err := stats.NewCrossed(y)
	if err != nil {
		return err
	}
	result, err := anova.Reduced().Study(confidence)
	if err != nil {
		return err
	}
	g.scatter(key, y)
	limits, err := g.site.Store.KeyLimits(g.ctx(), g.of.Hash, results.Closed)
	if err != nil {
		return err
	}
	g.components(key, result, limits[key])
	g.anova(anova)
	return nil
}

func (g gauging) scatter(key string, y [][][]float64) {
	title := g.say("gauge.scatter", key)
	c := chart.Curves{Frame: g.frame("gauge", title, g.say("gauge.scatter.desc", len(g.of.Parts), len(g.of.Appraisers)), 1180, 300),
		X: chart.Axis{Label: g.say("gauge.parts"), From: -0.5, To: float64(len(y)) - 0.5}, Y: chart.Axis{Label: g.say("axis.ohm")}}
	t := table{Name: "readings", Caption: title, Columns: []column{{"part", g.say("col.part"), false}, {"by", g.say("col.by"), false}, {"repeat", g.say("col.repeat"), true}, {"ohm", g.say("axis.ohm"), true}}}
	wide := 0.7 / float64(len(g.of.Appraisers))
	for j, name := range g.of.Appraisers {
		curve := chart.Curve{Name: name, Points: true}
		for i := range y {
			for k, v := range y[i][j] {
				curve.X = append(curve.X, float64(i)-0.35+wide*(float64(j)+0.5))
				curve.Y = append(curve.Y, v)
				t.Rows = append(t.Rows, []cell{plainWords(g.of.Parts[i]), plainWords(name), g.count(k + 1), g.near(v)})
			}
		}
		c.Curves = append(c.Curves, curve)
	}
	for i, part := range g.of.Parts {
		c.XNames = append(c.XNames, chart.Name{X: float64(i), Text: part})
	}
	g.add(figure{Title: title, Chart: c.SVG(), Table: &t, Says: says(g.say("gauge.scatter.words"))})
}

// components tells gauge from parts.
func (g gauging) components(key string, result stats.GaugeStudy, limits [2]float64) {
	title := g.say("gauge.components", key)
	width := math.NaN()
	switch {
	case limits[0] > 0 && limits[1] > 0:
		width = limits[1] - limits[0]
	case limits[1] > 0:
		width = 2 * (limits[1] - result.Anova.Mean)
	}
	t := table{Name: "components", Caption: title, Open: true, Columns: []column{{"source", g.say("col.source"), false}, {"sd_ohm", g.say("col.sd"), true},
		{"low", g.say("col.low"), true}, {"high", g.say("col.high"), true}, {"contribution", g.say("col.contribution"), true}, {"tolerance", g.say("col.tolerance"), true}}}
	for _, c := range result.Components {
		t.Rows = append(t.Rows, []cell{{Text: g.say("gauge." + strings.ReplaceAll(c.Name, " ", "-")), Value: c.Name}, g.near(c.SD()), g.near(math.Sqrt(max(c.Interval.Low, 0))),
			g.near(math.Sqrt(max(c.Interval.High, 0))), g.value(1, c.Contribution), g.value(1, c.Tolerance(width))})
	}
	gauge := result.Component(stats.Gauge)
	g.add(figure{Title: title, Table: &t, Says: says(g.say("gauge.verdict", g.num(1, gauge.Tolerance(width)), g.num(1, gauge.Contribution), result.Categories), g.say("gauge.notshown"))})
}

func (g gauging) anova(a stats.Crossed) {
	title := g.say("gauge.anova")
	t := table{Name: "anova", Caption: title, Columns: []column{{"source", g.say("col.source"), false}, {"df", g.say("col.df"), true}, {"ss", g.say("col.ss"), true}, {"f", "F", true}, {"p", "p", true}}}
	for _, line := range []struct {
		name string
		of   stats.Source
	}{{"part-to-part", a.Part}, {"operator", a.Operator}, {"operator-x-part", a.Cross}, {"repeatability", a.Error}, {"total", a.All}} {
		p := g.value(3, line.of.P)
		if !math.IsNaN(line.of.P) {
			p = g.chance(line.of.P)
		}
		t.Rows = append(t.Rows, []cell{{Text: g.say("gauge." + line.name), Value: line.name}, g.count(line.of.DF), g.near(line.of.SS), g.near(line.of.F), p})
	}
	words := g.say("gauge.kept", g.chance(a.Cross.P).Text)
	if a.Cross.P > stats.PoolAbove {
		words = g.say("gauge.pooled", g.chance(a.Cross.P).Text)
	}
	g.add(figure{Title: title, Table: &t, Says: says(words)})
}

// verdicts says how well pass and fail agree.
func (g gauging) verdicts() error {
	if !g.of.Complete() {
		return nil
	}
	byPart := make([][]string, len(g.of.Parts))
	agreed := 0
	for place, at := range g.of.Plan {
		byPart[at.Part] = append(byPart[at.Part], string(g.runs[place].Outcome))
	}
	for _, list := range byPart {
		if len(slices.Compact(slices.Clone(list))) == 1 {
			agreed++
		}
	}
	f := figure{Title: g.say("gauge.verdicts"), Says: says(g.say("gauge.agreed", agreed, len(byPart), g.partOf(agreed, len(byPart))))}
	if kappa, err := stats.FleissKappa(byPart, confidence); err == nil {
		f.Says = append(f.Says, note{Text: g.say("gauge.kappa", g.num(2, kappa.Value), g.num(2, kappa.Interval.Low), g.num(2, kappa.Interval.High)), Kind: "say"})
	} else {
		f.Says = append(f.Says, note{Text: g.say("gauge.nokappa"), Kind: "say"})
	}
	g.add(f)
	return nil
}

// plan lists the readings in their order, and which is next.
func (g gauging) plan() {
	t := table{Name: "plan", Caption: g.say("gauge.order"), Open: !g.of.Complete(), Columns: []column{{"order", g.say("col.order"), true}, {"part", g.say("col.part"), false},
		{"by", g.say("col.by"), false}, {"repeat", g.say("col.repeat"), true}, {"outcome", g.say("col.done"), false}}}
	next, more := g.of.Next("")
	for place, at := range g.of.Plan {
		done := ""
		if run, ok := g.runs[place]; ok {
			done = g.say("outcome." + string(run.Outcome))
		}
		t.Rows = append(t.Rows, []cell{{Text: strconv.Itoa(place + 1), Value: place + 1, Mark: more && place == next}, plainWords(g.of.Parts[at.Part]),
			plainWords(g.of.Appraisers[at.Appraiser]), g.count(at.Repeat + 1), plainWords(done)})
	}
	f := figure{Title: g.say("gauge.order"), Table: &t, Says: says(g.say("gauge.done"))}
	if more {
		at := g.of.Plan[next]
		f.Says = says(g.say("gauge.next", next+1, g.of.Parts[at.Part], g.of.Appraisers[at.Appraiser]), g.say("gauge.how", g.of.Number))
	}
	g.add(f)
}
