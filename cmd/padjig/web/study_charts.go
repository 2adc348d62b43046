package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// chartsPage holds a characteristic against control limits: which one, in what
// subgroups, by which rules and from which baseline is chosen on the page.
var chartsPage = studyPage("/charts", "charts", func(s *study) error {
	c, err := s.newCharting()
	if err != nil {
		return err
	}
	if err := c.gather(); err != nil {
		return err
	}
	return c.draw()
})

// charting is a control chart that was asked for.
type charting struct {
	*study
	measure          string // of a [results.Measure], or "failed" for the share of failed units
	key              string
	kind             string // of chart
	group            string // what makes a subgroup
	size, base, last int
	ruleSet          string
	rules            stats.Rules
	groups           []subgroup
	beyond           int
	frozen           *results.Baseline
	limits           [2]float64 // of the product
}

// subgroup is what one point of a chart stands for.
type subgroup struct {
	name    string
	values  []float64
	sample  stats.Sample // of a chart of shares
	seq     int64        // of its first run
	started time.Time
}

const failedShare = "failed"

var chartKinds = []string{"individuals", "xbar-s", "xbar-r", "ewma", "cusum"}

func (s *study) newCharting() (*charting, error) {
	c := &charting{study: s, measure: s.param("measure", string(results.Closed)), ruleSet: s.param("rules", "default")}
	c.kind, c.group = s.param("chart", "xbar-s"), s.param("group", "units")
	c.size, c.base, c.last = s.asked("size", 5, 2, 50), s.asked("base", 25, 2, 500), s.asked("last", 500, 20, 20000)
	var err error
	if c.rules, err = stats.ParseRules(c.ruleSet); err != nil {
		return nil, wrong(err.Error())
	}
	keys, err := s.keys()
	if err != nil {
		return nil, err
	}
	c.key = s.param("key", keys[0])
	groups := []string{"units", "hour", "lot", "shift"}
	measures := []string{failedShare}
	for _, m := range results.Measures {
		measures = append(measures, string(m))
	}
	if !slices.Contains(measures, c.measure) || !slices.Contains(chartKinds, c.kind) || !slices.Contains(groups, c.group) {
		return nil, wrong(s.say("charts.unknown"))
	}
	s.Own = append(s.Own, s.one("measure", c.measure, measures...))
	if c.measure == failedShare {
		c.kind = "p"
		if c.group != "hour" && c.group != "day" {
			c.group = "day"
		}
		s.Own = append(s.Own, s.one("group", c.group, "day", "hour"))
	} else {
		s.Own = append(s.Own, s.named("key", c.key, keys), s.one("chart", c.kind, chartKinds...), s.one("group", c.group, groups...),
			s.number("size", strconv.Itoa(c.size)), s.number("last", strconv.Itoa(c.last)))
	}
	s.Own = append(s.Own, s.one("rules", c.ruleSet, "limits", "default", "zones", "all"), s.number("base", strconv.Itoa(c.base)))
	return c, nil
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
	pad, err := s.site.Store.Pad(s.ctx(), s.filter)
	if err != nil {
		return nil, err
	}
	var keys []string
	for _, k := range pad {
		keys = append(keys, k.Label)
	}
	if len(keys) == 0 {
		return nil, results.ErrNoUnits
	}
	return keys, nil
}

// subject names what is charted, as frozen limits are found by it.
func (c *charting) subject() string {
	if c.kind == "p" {
		return "failed share, " + c.filter.Product
	}
	return fmt.Sprintf("%s of key %s, %s", c.measure, c.key, c.filter.Product)
}

func (c *charting) gather() (err error) {
	if c.frozen, err = c.site.Store.FrozenLimits(c.ctx(), c.subject(), c.filter.Simulated); err != nil {
		return err
	}
	if c.kind == "p" {
		return c.gatherShares()
	}
	series, err := c.site.Store.Readings(c.ctx(), c.filter, results.Measure(c.measure), []string{c.key}, c.last)
	if err != nil {
		return err
	}
	c.beyond, c.limits = series.Beyond, series.Limits[c.key]
	single := c.kind == "individuals" || c.kind == "ewma" || c.kind == "cusum"
	for i, p := range series.Points {
		name, begins := c.groupOf(p, i)
		if single || len(c.groups) == 0 || begins || c.groups[len(c.groups)-1].name != name && c.group != "units" {
			if single {
				name = p.Serial
			}
			c.groups = append(c.groups, subgroup{name: name, seq: p.Seq, started: p.Started})
		}
		g := &c.groups[len(c.groups)-1]
		g.values = append(g.values, p.Value)
	}
	c.complete(single)
	return nil
}

// groupOf names the subgroup of a reading; begins says that it is the first of
// the next.
func (c *charting) groupOf(p results.Point, i int) (name string, begins bool) {
	switch c.group {
	case "hour":
		return p.Started.In(c.zone()).Format("01-02 15:00"), false
	case "lot":
		return strconv.FormatInt(p.Lots, 10), false
	case "shift":
		return c.shiftAt(p.Started), false
	}
	return p.Started.In(c.zone()).Format("01-02 15:04"), i%c.size == 0
}

// shiftAt names the shift of a time with its day.
func (v *visit) shiftAt(t time.Time) string {
	plan, err := v.site.Store.Shifts(v.r.Context())
	local := t.In(v.zone())
	if err != nil || plan == nil {
		return local.Format("01-02")
	}
	minute := local.Hour()*60 + local.Minute()
	for _, shift := range plan.Shifts {
		inside := minute >= shift.Begins && minute < shift.Ends
		if shift.Begins >= shift.Ends {
			inside = minute >= shift.Begins || minute < shift.Ends
			if minute < shift.Ends {
				local = local.AddDate(0, 0, -1) // it began the day before
			}
		}
		if inside {
			return local.Format("01-02 ") + shift.Name
		}
	}
	return local.Format("01-02")
}

// complete drops a last subgroup that is not full, and those too small to have
// a spread.
func (c *charting) complete(single bool) {
	if single {
		return
	}
	all := len(c.groups)
	c.groups = slices.DeleteFunc(c.groups, func(g subgroup) bool {
		return len(g.values) < 2 || c.group == "units" && len(g.values) < c.size
	})
	if dropped := all - len(c.groups); dropped > 0 {
		c.note("charts.dropped", dropped)
	}
}

func (c *charting) gatherShares() error {
	by := results.ByDay
	if c.group == "hour" {
		by = results.ByHour
	}
	y, err := c.site.Store.Yields(c.ctx(), c.filter, by)
	if err != nil {
		return err
	}
	c.pooled("")
	for _, row := range y.Rows[max(0, len(y.Rows)-mostPoints):] {
		if row.Units == 0 {
			continue
		}
		c.groups = append(c.groups, subgroup{name: row.Groups[0][5:], seq: row.FirstRun,
			sample: stats.Sample{Count: row.Units - row.FirstPassed, Size: float64(row.Units)}})
	}
	return nil
}

// mostPoints is how many points a chart of shares holds.
const mostPoints = 1000

// baseline is what limits are computed from: frozen, or the first points.
type baseline struct {
	Mean, Sigma float64
	points      int // of the chart that are part of it, 0 when frozen
}

func (c *charting) baseline() (baseline, error) {
	if c.frozen != nil {
		var b baseline
		err := json.Unmarshal(c.frozen.Limits, &b)
		if err == nil && b.Sigma > 0 {
			c.note("charts.frozen", c.moment(c.frozen.At), c.frozen.By, c.frozen.Reason, c.frozen.Points)
			return b, nil
		}
	}
	n := min(c.base, len(c.groups))
	first := c.groups[:n]
	c.note("charts.base", n, len(c.groups))
	switch c.kind {
	case "p":
		p, err := stats.NewProportions(samplesOf(first))
		return baseline{Mean: p.Share, Sigma: math.Sqrt(p.Share * (1 - p.Share)), points: n}, err
	case "xbar-s":
		b, err := stats.NewXbarS(valuesOf(first))
		return baseline{b.Mean, b.Sigma, n}, err
	case "xbar-r":
		b, err := stats.NewXbarR(valuesOf(first))
		return baseline{b.Mean, b.Sigma, n}, err
	}
	b, err := stats.NewIndividuals(singles(first))
	return baseline{b.Mean, b.Sigma, n}, err
}

func valuesOf(groups []subgroup) (out [][]float64) {
	for _, g := range groups {
		out = append(out, g.values)
	}
	return out
}

func singles(groups []subgroup) (out []float64) {
	for _, g := range groups {
		out = append(out, g.values...)
	}
	return out
}

func samplesOf(groups []subgroup) (out []stats.Sample) {
	for _, g := range groups {
		out = append(out, g.sample)
	}
	return out
}

// plotted is a chart's points with their limits and standardized values.
type plotted struct {
	value, z []float64
	limits   []stats.Limits
}

// plot puts the points of the main chart together.
func (c *charting) plot(b baseline) (plotted, error) {
	p := plotted{}
	add := func(v float64, l stats.Limits, sigma float64) {
		p.value, p.limits, p.z = append(p.value, v), append(p.limits, l), append(p.z, (v-l.Center)/sigma)
	}
	switch c.kind {
	case "p":
		chart := stats.Proportions{Share: b.Mean}
		for _, g := range c.groups {
			add(float64(g.sample.Count)/g.sample.Size, chart.Limits(int(g.sample.Size)), b.Sigma/math.Sqrt(g.sample.Size))
		}
	case "ewma":
		e := stats.EWMA{Target: b.Mean, Sigma: b.Sigma, Lambda: ewmaWeight, L: ewmaLimit, Widening: true}
		z, err := e.Values(singles(c.groups))
		if err != nil {
			return p, err
		}
		for i, v := range z {
			l := e.Limits(i + 1)
			add(v, l, (l.Upper-l.Center)/3)
		}
	default:
		for _, g := range c.groups {
			n := float64(len(g.values))
			l := stats.Limits{Lower: b.Mean - 3*b.Sigma/math.Sqrt(n), Center: b.Mean, Upper: b.Mean + 3*b.Sigma/math.Sqrt(n)}
			add(mean(g.values), l, b.Sigma/math.Sqrt(n))
		}
	}
	return p, nil
}

// Weight and limits of the moving average, allowance and limit of the sums:
// the usual ones for finding a shift of one sigma.
const (
	ewmaWeight, ewmaLimit = 0.2, 2.962
	cusumK, cusumH        = 0.5, 5.0
)

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

func (c *charting) draw() error {
	if len(c.groups) == 0 {
		return stats.ErrEmpty
	}
	b, err := c.baseline()
	if err != nil {
		return err
	}
	if !(b.Sigma > 0) {
		return stats.ErrNoSpread
	}
	if c.beyond > 0 {
		c.warn("charts.beyond", c.beyond)
	}
	if c.kind == "cusum" {
		return c.drawSums(b)
	}
	p, err := c.plot(b)
	if err != nil {
		return err
	}
	rules := c.rules
	if c.kind == "ewma" {
		rules = stats.OnlyLimits // the average remembers already: run rules would see ghosts
	}
	events, marks, err := c.events()
	if err != nil {
		return err
	}
	c.mainChart(p, b, rules, marks)
	if c.kind == "xbar-s" || c.kind == "xbar-r" || c.kind == "individuals" {
		if err := c.spreadChart(b, marks); err != nil {
			return err
		}
	}
	if len(events.Rows) > 0 {
		c.add(figure{Title: c.say("events.title"), Table: &events, Says: says(c.say("events.words"))})
	}
	c.freezeForm(b)
	return nil
}

// unit is that of the charted values.
func (c *charting) unit() string {
	if c.kind == "p" {
		return "%"
	}
	return c.say("in." + results.Measure(c.measure).Unit())
}

func (c *charting) title() string {
	if c.kind == "p" {
		return c.say("charts.failed")
	}
	return c.say("charts.title", c.say("ask.measure."+c.measure), c.key, c.say("ask.chart."+c.kind))
}

// scaleOf turns shares into per cent.
func (c *charting) scaleOf() float64 {
	if c.kind == "p" {
		return 100
	}
	return 1
}

func (c *charting) mainChart(p plotted, b baseline, rules stats.Rules, marks []chart.Event) {
	f, title := c.scaleOf(), c.title()
	cc := chart.Control{
		Frame: c.frame("control", title, "", 1240, 320), Baseline: b.points, BaselineText: c.say("charts.baseline"),
		X: chart.Axis{Label: c.say("axis.group." + c.group)}, Y: chart.Axis{Label: c.unit()}, Events: marks, Zones: len(rules) > 2,
	}
	t := table{Name: "chart", Caption: title, Columns: []column{{"point", c.say("col.point"), true}, {"name", c.say("col.group"), false},
		{"n", "n", true}, {"value", c.unit(), true}, {"lower", c.say("col.lower"), true}, {"centre", c.say("col.centre"), true},
		{"upper", c.say("col.upper"), true}, {"signals", c.say("col.signals"), false}}}
	flags, counts := rules.Flags(p.z), map[stats.Rule]int{}
	for i, g := range c.groups {
		point := chart.Point{Value: f * p.value[i], Lower: f * p.limits[i].Lower, Centre: f * p.limits[i].Center, Upper: f * p.limits[i].Upper,
			Name: c.pointName(g), Tip: g.name + ": " + c.num(digitsFor(f*p.value[i]), f*p.value[i]) + " " + c.unit()}
		signals := ""
		for _, rule := range flags[i] {
			counts[rule]++
			if point.Signal == 0 {
				point.Signal = slices.Index(rules, rule) + 1
			}
			signals += rule.String() + " "
		}
		cc.Points = append(cc.Points, point)
		n := len(g.values)
		if c.kind == "p" {
			n = int(g.sample.Size)
		}
		t.Rows = append(t.Rows, []cell{c.count(i + 1), plainWords(g.name), c.count(n), c.near(point.Value), c.near(point.Lower), c.near(point.Centre),
			c.near(point.Upper), {Text: signals, Value: signals, Mark: signals != ""}})
	}
	last := cc.Points[len(cc.Points)-1]
	d := digitsFor(last.Upper - last.Lower)
	cc.LimitText = [3]string{c.num(d, last.Upper), c.num(d, last.Centre), c.num(d, last.Lower)}
	cc.Desc = c.say("charts.desc", len(cc.Points), signalled(cc.Points))
	c.add(figure{Title: title, Chart: cc.SVG(), Table: &t, Says: append(c.ruleWords(rules, counts), c.runLength(rules)...)})
}

func signalled(points []chart.Point) (n int) {
	for _, p := range points {
		if p.Signal > 0 {
			n++
		}
	}
	return n
}

func (c *charting) pointName(g subgroup) string {
	if len(c.groups) > many && c.kind != "p" {
		return g.started.In(c.zone()).Format("01-02")
	}
	return g.name
}

// many points are named by their day alone.
const many = 300

// ruleWords say which rules found something and what that may mean.
func (c *charting) ruleWords(rules stats.Rules, counts map[stats.Rule]int) []note {
	var out []note
	for i, rule := range rules {
		if counts[rule] > 0 {
			out = append(out, note{Text: c.say("charts.rule", i+1, c.say("rule."+rule.String()), counts[rule]), Kind: "warn"})
		}
	}
	if out == nil {
		out = says(c.say("charts.calm"))
	}
	return out
}

// runLength states how often the chosen rules give false alarm, and how soon
// they find a shift.
func (c *charting) runLength(rules stats.Rules) []note {
	if c.kind == "ewma" {
		e := stats.EWMA{Sigma: 1, Lambda: ewmaWeight, L: ewmaLimit}
		return says(c.say("charts.arl", c.num(0, e.RunLength(0)), c.num(1, e.RunLength(1))), c.say("charts.notshown"))
	}
	quiet, shifted := runLengths.of(rules)
	return says(c.say("charts.arl", c.num(0, quiet.Mean), c.num(1, shifted.Mean)), c.say("charts.notshown"))
}

// spreadChart is the chart of what varies within subgroups.
func (c *charting) spreadChart(b baseline, marks []chart.Event) error {
	title := c.say("charts.spread." + c.kind)
	cc := chart.Control{Frame: c.frame("within", title, "", 1240, 220), Events: marks, Baseline: b.points,
		X: chart.Axis{Label: c.say("axis.group." + c.group)}, Y: chart.Axis{Label: c.unit()}}
	t := table{Name: "within", Caption: title, Columns: []column{{"point", c.say("col.point"), true}, {"name", c.say("col.group"), false},
		{"value", c.unit(), true}, {"upper", c.say("col.upper"), true}}}
	spread := map[string]stats.Spread{"xbar-r": stats.ByRange}[c.kind]
	if c.kind == "xbar-s" {
		spread = stats.BySD
	}
	ranges := stats.MovingRanges(singles(c.groups))
	for i, g := range c.groups {
		value, limits := math.NaN(), stats.Limits{}
		if c.kind == "individuals" {
			if i > 0 {
				value = ranges[i-1]
			}
			limits = rangeLimits(b.Sigma)
		} else {
			var err error
			value = spread.Of(g.values)
			if limits, err = (stats.Subgrouped{Spread: spread, Sigma: b.Sigma}).SpreadLimits(len(g.values)); err != nil {
				return err
			}
		}
		point := chart.Point{Value: value, Lower: limits.Lower, Centre: limits.Center, Upper: limits.Upper, Name: c.pointName(g)}
		if value > limits.Upper || value < limits.Lower {
			point.Signal = 1
		}
		cc.Points = append(cc.Points, point)
		t.Rows = append(t.Rows, []cell{c.count(i + 1), plainWords(g.name), c.near(value), c.near(limits.Upper)})
	}
	cc.Desc = c.say("charts.desc", len(cc.Points), signalled(cc.Points))
	words := says(c.say("charts.spread.calm"))
	if n := signalled(cc.Points); n > 0 {
		words = []note{{Text: c.say("charts.spread.out", n), Kind: "warn"}}
	}
	c.add(figure{Title: title, Chart: cc.SVG(), Table: &t, Says: words})
	return nil
}

// rangeLimits are those of moving ranges of two.
func rangeLimits(sigma float64) stats.Limits {
	k, err := stats.ChartConstants(2)
	if err != nil {
		return stats.Limits{}
	}
	return stats.Limits{Lower: 0, Center: k.D2 * sigma, Upper: k.R2 * sigma}
}

// drawSums is the cumulative sum chart, both sides on one plot.
func (c *charting) drawSums(b baseline) error {
	sums, err := stats.Cusum{Target: b.Mean, K: cusumK * b.Sigma, H: cusumH * b.Sigma}.Points(singles(c.groups))
	if err != nil {
		return err
	}
	title := c.title()
	high, low := chart.Curve{Name: c.say("cusum.high")}, chart.Curve{Name: c.say("cusum.low")}
	t := table{Name: "chart", Caption: title, Columns: []column{{"point", c.say("col.point"), true}, {"name", c.say("col.group"), false},
		{"value", c.unit(), true}, {"sum_above", c.say("cusum.high"), true}, {"sum_below", c.say("cusum.low"), true}, {"signal", c.say("col.signals"), false}}}
	first := -1
	for i, p := range sums {
		high.X, high.Y = append(high.X, float64(i+1)), append(high.Y, p.High)
		low.X, low.Y = append(low.X, float64(i+1)), append(low.Y, -p.Low)
		signal := ""
		if p.Signal {
			signal = "x"
			if first < 0 {
				first = i
			}
		}
		t.Rows = append(t.Rows, []cell{c.count(i + 1), plainWords(c.groups[i].name), c.near(c.groups[i].values[0]), c.near(p.High), c.near(p.Low), plainWords(signal)})
	}
	limit, nan := cusumH*b.Sigma, math.NaN()
	cc := chart.Curves{Frame: c.frame("control", title, c.say("cusum.desc", len(sums)), 1240, 320), X: chart.Axis{Label: c.say("axis.unit")},
		Y: chart.Axis{Label: c.unit()}, Curves: []chart.Curve{high, low}, Across: []chart.Across{
			{X: nan, Y: limit, Kind: "limit"}, {X: nan, Y: -limit, Kind: "limit"}}}
	words := says(c.say("charts.calm"))
	if first >= 0 {
		began := first + 1 - max(sums[first].HighRun, sums[first].LowRun)
		words = []note{{Text: c.say("cusum.signal", first+1, c.groups[first].name, began+1), Kind: "warn"}}
	}
	words = append(words, says(c.say("charts.arl", c.num(0, stats.CusumRunLength(cusumK, cusumH, 0)), c.num(1, stats.CusumRunLength(cusumK, cusumH, 1))),
		c.say("charts.notshown"))...)
	c.add(figure{Title: title, Chart: cc.SVG(), Table: &t, Says: words})
	c.freezeForm(b)
	return nil
}

// events are what happened between the points, with a mark each.
func (c *charting) events() (table, []chart.Event, error) {
	t := table{Name: "events", Caption: c.say("events.title"), Open: true, Columns: []column{{"mark", c.say("col.mark"), false},
		{"at", c.say("col.at"), false}, {"jig", c.say("col.jig"), false}, {"kind", c.say("col.kind"), false}, {"what", c.say("col.what"), false},
		{"before_point", c.say("col.beforepoint"), true}}}
	happenings, err := c.site.Store.Happenings(c.ctx(), c.filter)
	if err != nil {
		return t, nil, err
	}
	var marks []chart.Event
	last := -1
	for _, h := range happenings {
		at := slices.IndexFunc(c.groups, func(g subgroup) bool { return g.seq > h.AfterRun })
		if at < 0 || at == 0 && h.AfterRun < c.groups[0].seq-1 {
			continue
		}
		if at != last || len(marks) == 0 {
			marks = append(marks, chart.Event{Before: at, Mark: letter(len(marks)), Tip: h.Text})
			last = at
		}
		t.Rows = append(t.Rows, []cell{plainWords(marks[len(marks)-1].Mark), {Text: c.moment(h.At), Value: h.At}, plainWords(h.Jig),
			{Text: c.say("event." + h.Kind), Value: h.Kind}, {Text: h.Text, Value: h.Text, Lang: "en"}, c.count(at + 1)})
	}
	return t, marks, nil
}

// letter marks the nth event: A to Z, then A1 and so on.
func letter(n int) string {
	text := string(rune('A' + n%26))
	if n >= 26 {
		text += strconv.Itoa(n / 26)
	}
	return text
}

// freezeForm lets the limits be frozen as they are.
func (c *charting) freezeForm(b baseline) {
	if b.points == 0 || c.filter.Product == "" {
		return
	}
	query := c.link("", c.own())
	c.Form = &signForm{Action: "/quality/freeze", Title: c.say("freeze.title"), Label: c.say("freeze.reason"), Button: c.say("freeze.button"),
		Explain: c.say("freeze.explain", b.points), Fields: []option{{Value: "query", Text: strings.TrimPrefix(query, "?")}}}
}

// freezeAction records the limits of a chart as its page shows them. They are
// computed anew from the address: what a browser sends is no limit.
var freezeAction = action{path: "/quality/freeze", who: studying, do: func(v *visit) (answer, error) {
	reason := strings.TrimSpace(v.r.FormValue("reason"))
	if reason == "" {
		return answer{}, wrong(v.say("freeze.needsreason"))
	}
	c, err := v.chartingOf(v.r.FormValue("query"))
	if err != nil {
		return answer{}, err
	}
	b, err := c.baseline()
	if err != nil {
		return answer{}, err
	}
	if b.points == 0 || c.filter.Product == "" {
		return answer{}, wrong(v.say("charts.unknown"))
	}
	limits, err := json.Marshal(b)
	if err != nil {
		return answer{}, err
	}
	return answer{Say: v.say("freeze.done")}, v.site.Store.SaveBaseline(v.ctx(), results.Baseline{
		Subject: c.subject(), Selection: c.filter.Values().Encode(), Points: b.points,
		Limits: limits, Simulated: c.filter.Simulated, By: v.Person.Name, Reason: reason,
	})
}}

// chartingOf makes the chart that a query asks for.
func (v *visit) chartingOf(query string) (*charting, error) {
	form, err := url.ParseQuery(query)
	if err != nil {
		return nil, wrong(err.Error())
	}
	then := *v
	then.r = v.r.Clone(v.ctx())
	then.r.Form, then.r.PostForm = form, url.Values{}
	s, err := then.newStudy("/quality/charts")
	if err != nil {
		return nil, err
	}
	c, err := s.newCharting()
	if err != nil {
		return nil, err
	}
	return c, c.gather()
}
