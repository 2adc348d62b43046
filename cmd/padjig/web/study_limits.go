package web

import (
	"errors"
	"math"
	"slices"
	"strconv"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
	"padjig/sequence/decide"
)

// limitsPage tries a limit before it is released: what it would have done to
// the last units, what the guard band does to it, and where a limit that most
// of the population keeps would lie.
var limitsPage = studyPage("/limits", "limits", func(s *study) error {
	keys, err := s.keys()
	if err != nil {
		return err
	}
	w := workbench{study: s, key: s.param("key", keys[0]), last: s.asked("last", 2000, 30, 20000)}
	s.Own = append(s.Own, s.named("key", w.key, keys), s.number("last", strconv.Itoa(w.last)))
	if err := w.gather(); err != nil {
		return err
	}
	s.Own = append(s.Own, s.number("limit", strconv.FormatFloat(w.proposed, 'f', -1, 64)), s.number("guardband", strconv.FormatFloat(w.guard, 'f', -1, 64)))
	w.trial()
	w.guardBands()
	return w.tolerance()
})

// workbench is a limit on trial: the most a key's closed resistance may be.
type workbench struct {
	*study
	key             string
	last            int
	values, u       []float64
	current         float64 // in force, NaN for none
	proposed, guard float64 // ohm; multiple of U
}

func (w *workbench) gather() error {
	series, err := w.site.Store.Readings(w.ctx(), w.filter, results.Closed, []string{w.key}, w.last)
	if err != nil {
		return err
	}
	if len(series.Points) == 0 {
		return stats.ErrEmpty
	}
	for _, p := range series.Points {
		w.values, w.u = append(w.values, p.Value), append(w.u, p.U)
	}
	if series.Beyond > 0 {
		w.warn("limits.beyond", series.Beyond)
	}
	w.current = orNone(series.Limits[w.key][1])
	w.proposed = w.current
	if math.IsNaN(w.current) {
		w.proposed = slices.Max(w.values)
	}
	w.guard = 1
	pad, err := w.site.Store.Pad(w.ctx(), w.filter)
	if err != nil {
		return err
	}
	for _, k := range pad {
		if k.Label == w.key {
			w.guard = k.Guard
		}
	}
	return errors.Join(w.given("limit", &w.proposed), w.given("guardband", &w.guard))
}

// given reads a number of the page's own, with a comma or a point.
func (w *workbench) given(name string, to *float64) error {
	text := w.param(name, "")
	if text == "" {
		return nil
	}
	v, err := parseNumber(text)
	if err != nil || v < 0 || v > 1e9 || name == "limit" && v == 0 {
		return wrong(w.say("limits.notnumber", w.say("ask."+name), text))
	}
	*to = v
	return nil
}

// outcome is what a limit does to units whose readings are known.
type outcome struct {
	rejected                 int
	escapes, wronglyRejected float64 // expected: beyond the limit and accepted, within and rejected
}

// try holds readings to a limit with a guard band.
func try(values, u []float64, limit, guard float64) (o outcome) {
	tolerance := decide.AtMost(limit)
	for i, v := range values {
		within := 1.0
		if v > limit {
			within = 0
		}
		if u[i] > 0 {
			within = decide.Conformance(v, tolerance, decide.Normal(u[i]))
		}
		if v > limit-decide.Band(guard, u[i]) {
			o.rejected++
			o.wronglyRejected += within
		} else {
			o.escapes += 1 - within
		}
	}
	return o
}

// trial compares the proposed limit with the one in force.
func (w *workbench) trial() {
	n := len(w.values)
	f := w.trialChart()
	proposed := try(w.values, w.u, w.proposed, w.guard)
	f.Says = says(w.say("limits.words", w.num(digitsFor(w.proposed), w.proposed), w.num(2, w.guard), w.whole(proposed.rejected), w.whole(n), w.partOf(proposed.rejected, n)),
		w.say("limits.escapes", w.near(proposed.escapes).Text, w.near(proposed.wronglyRejected).Text))
	if !math.IsNaN(w.current) && w.current != w.proposed {
		now := try(w.values, w.u, w.current, w.guard)
		gained, lost := w.changed()
		f.Says = append(f.Says, note{Text: w.say("limits.against", w.num(digitsFor(w.current), w.current), w.whole(now.rejected), w.whole(lost), w.whole(gained)), Kind: "say"})
		if gained > 0 {
			f.Says = append(f.Says, note{Text: w.say("limits.loosened", w.whole(gained)), Kind: "warn"})
		}
	}
	f.Says = append(f.Says, says(w.say("limits.notshown"))...)
	w.add(f)
}

// changed counts the units that only the proposed limit accepts, and those that
// only the one in force does.
func (w *workbench) changed() (gained, lost int) {
	for i, v := range w.values {
		band := decide.Band(w.guard, w.u[i])
		now, then := v <= w.current-band, v <= w.proposed-band
		if then && !now {
			gained++
		}
		if now && !then {
			lost++
		}
	}
	return gained, lost
}

func (w *workbench) trialChart() figure {
	f := w.histogram(w.key, w.values, [2]float64{0, w.proposed})
	f.Small = false
	h, err := stats.NewHistogram(w.values, 80)
	if err != nil {
		return f
	}
	title := w.say("limits.title", w.key)
	d := chart.Distribution{Frame: w.frame("trial", title, w.say("limits.desc", w.key, w.num(digitsFor(w.proposed), w.proposed)), 1180, 300),
		X: chart.Axis{Label: w.say("axis.ohm")}, Lower: math.NaN(), Upper: w.proposed, GuardUpper: decide.Band(w.guard, middle(w.u)),
		LimitText: [2]string{"", w.say("limits.proposed", w.num(digitsFor(w.proposed), w.proposed))}}
	for i, n := range h.Counts {
		low := h.Low + float64(i)*h.Width
		d.Bins = append(d.Bins, chart.Bin{Low: low, High: low + h.Width, Count: float64(n), Tip: w.whole(n)})
	}
	if !math.IsNaN(w.current) && w.current != w.proposed {
		d.Also = []chart.Across{{X: w.current, Kind: "centre", Text: w.say("limits.current", w.num(digitsFor(w.current), w.current))}}
	}
	f.Title, f.Chart = title, d.SVG()
	return f
}

func middle(values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	return sorted[len(sorted)/2]
}

// guardBands shows what the guard band does to the proposed limit.
func (w *workbench) guardBands() {
	title := w.say("limits.guards")
	t := table{Name: "guards", Caption: title, Open: true, Columns: []column{{"guard_u", w.say("col.guardu"), true}, {"band_ohm", w.say("col.guard"), true},
		{"rejected", w.say("col.rejected"), true}, {"rejected_percent", "%", true}, {"low", w.say("col.low"), true}, {"high", w.say("col.high"), true},
		{"expected_escapes", w.say("col.escapes"), true}, {"expected_wrongly_rejected", w.say("col.wrongly"), true}}}
	multiples := []float64{0, 0.5, 0.83, 1, w.guard}
	slices.Sort(multiples)
	for _, g := range slices.Compact(multiples) {
		o := try(w.values, w.u, w.proposed, g)
		share, low, high := wilson(o.rejected, len(w.values))
		t.Rows = append(t.Rows, []cell{{Text: w.num(2, g), Value: g, Mark: g == w.guard}, w.near(decide.Band(g, middle(w.u))), w.count(o.rejected), w.share(2, share),
			w.share(2, low), w.share(2, high), w.near(o.escapes), w.near(o.wronglyRejected)})
	}
	w.add(figure{Title: title, Table: &t, Says: says(w.say("limits.guards.words"))})
}

// tolerance says below which value most of the population lies.
func (w *workbench) tolerance() error {
	title := w.say("limits.tolerance")
	t := table{Name: "tolerance", Caption: title, Open: true, Columns: []column{{"coverage_percent", w.say("col.coverage"), true}, {"confidence_percent", w.say("col.confidence"), true},
		{"normal_ohm", w.say("col.normal"), true}, {"free_ohm", w.say("col.free"), true}}}
	for _, coverage := range []float64{0.95, 0.99, 0.999} {
		row := []cell{w.share(1, coverage), w.share(0, confidence)}
		normal, err := stats.NormalTolerance(w.values, stats.OnlyUpper, coverage, confidence)
		if err != nil {
			return err
		}
		free, err := stats.FreeTolerance(w.values, stats.OnlyUpper, coverage, confidence)
		if err != nil {
			free.High = math.NaN() // too few units for this coverage
		}
		t.Rows = append(t.Rows, append(row, w.near(normal.High), w.near(free.High)))
	}
	f := figure{Title: title, Table: &t, Says: says(w.say("limits.tolerance.words", w.whole(len(w.values))))}
	if ad, err := stats.AndersonDarling(w.values); err == nil && ad.P < normalEnough {
		f.Says = append(f.Says, note{Text: w.say("limits.tolerance.notnormal", w.chance(ad.P).Text), Kind: "warn"})
	}
	w.add(f)
	return nil
}
