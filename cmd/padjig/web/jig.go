package web

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/bench"
	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/care"
	"padjig/results/report/chart"
	"padjig/sequence"
)

// jigPage is one jig: what it states of itself, its channels, its calibrations
// and how it drifts, its worn parts and its reference units.
var jigPage = page{path: "/jigs/{lane}", name: "jig", who: fixtures, view: func(v *visit) (any, error) {
	n, lane, err := v.site.lane(v)
	if err != nil {
		return nil, err
	}
	return v.jigView(n, lane.State())
}}

type jigView struct {
	jigRow
	Facts        []factView        `json:"facts"`
	Channels     []channelView     `json:"channels"`
	Calibrations []calibrationView `json:"calibrations"`
	Drift        []template.HTML   `json:"-"`
	Parts        []partView        `json:"parts"`
	References   []referenceView   `json:"references"`
	LetGo        string            `json:"let_go"` // for somebody at the terminal: since when, as its form says it; empty: not
}

type factView struct{ Name, Value string }

// channelView is what the last zero found of a channel.
type channelView struct {
	Channel int    `json:"channel"`
	Line    string `json:"line"` // of the product, under it
	Ohm     string `json:"ohm"`
	U       string `json:"u"`
	Limit   string `json:"limit"`
	Good    bool   `json:"good"`
}

type calibrationView struct {
	Seq         int64     `json:"seq"`
	Kind        string    `json:"kind"`
	At          time.Time `json:"at"`
	Due         time.Time `json:"due"`
	By          string    `json:"by"`
	Certificate string    `json:"certificate"`
	Good        bool      `json:"good"`
	Reason      string    `json:"reason"`
}

type partView struct {
	Part, Uses, Warn, Block, Replaced string
	State                             string // "", "soon" or "now"
}

type referenceView struct {
	Unit, Last string
	Since      int
	Good       bool
	Due        string // why it must be tested now, in the record's own words
}

func (v *visit) jigView(n int, s bench.State) (any, error) {
	row, err := v.jigRow(n, s)
	if err != nil {
		return nil, err
	}
	out := jigView{jigRow: row, Facts: v.facts(s.Jig.Caps), LetGo: letGoOf(s)}
	list, err := v.site.Store.Care.Calibrations(v.r.Context(), s.Jig.Serial, s.Jig.Simulated)
	if err != nil {
		return nil, err
	}
	out.Channels = v.channels(list, s)
	out.Drift = v.drift(list)
	for _, c := range slices.Backward(list) {
		out.Calibrations = append(out.Calibrations, calibrationView{
			c.Seq, v.kindOf(c.Kind), c.Performed, c.Due(), c.Operator, strings.TrimSpace(c.BoxSerial + " " + c.Certificate), c.Good, c.Reason,
		})
	}
	if out.Parts, err = v.parts(s.Jig.Serial); err != nil {
		return nil, err
	}
	out.References, err = v.referenceViews(s)
	return out, err
}

func (v *visit) facts(c fixture.Capabilities) []factView {
	fact := func(key, value string) factView { return factView{v.say("jig.fact." + key), value} }
	ranges := make([]string, len(c.Ranges))
	for i, r := range c.Ranges {
		ranges[i] = r.Ohm.String()
	}
	return []factView{
		fact("model", c.Model), fact("firmware", c.Firmware), fact("adapter", orDash(c.Adapter)),
		fact("channels", strconv.Itoa(c.Channels)), fact("actuators", strconv.Itoa(c.Actuators)),
		fact("ranges", strings.Join(ranges, ", ")), fact("reference", c.Vref.String()),
		fact("presses", strconv.FormatUint(uint64(c.Presses), 10)), fact("matings", strconv.FormatUint(uint64(c.Matings), 10)),
		fact("interlock", v.yes(c.Interlock)), fact("emergency", v.yes(c.Emergency)), fact("loop", v.yes(c.Loop)), fact("guard", v.yes(c.Guard)),
	}
}

func orDash(text string) string {
	if text == "" {
		return "–"
	}
	return text
}

func (v *visit) yes(is bool) string {
	if is {
		return v.say("word.yes")
	}
	return v.say("word.no")
}

// channels gives what the last zero found, with the line that lies under each
// channel.
func (v *visit) channels(list []care.StoredCalibration, s bench.State) []channelView {
	at := -1
	for i, c := range list {
		if c.Kind == sequence.KindZero {
			at = i
		}
	}
	out := []channelView{}
	if at < 0 {
		for c := range s.Jig.Caps.Channels {
			out = append(out, channelView{Channel: c + 1, Line: lineUnder(s, c+1), Ohm: "–", U: "–", Limit: "–", Good: true})
		}
		return out
	}
	for _, r := range list[at].Readings {
		out = append(out, channelView{
			r.Channel, lineUnder(s, r.Channel), number(v.Lang, 3, float64(r.Measured.Value)), number(v.Lang, 3, 2*float64(r.Measured.U)),
			number(v.Lang, 2, float64(r.Limit)), r.Good,
		})
	}
	return out
}

func lineUnder(s bench.State, channel int) string {
	if channel < 1 || channel > len(s.Product.Tail) || s.Product.Tail[channel-1] == "" {
		return "–"
	}
	return s.Product.Tail[channel-1]
}

// drift draws how ranges and channels moved from one calibration to the next,
// each as a part of its limit, so that one drawing holds them all.
func (v *visit) drift(list []care.StoredCalibration) []template.HTML {
	verify, zero := newDrift(), newDrift()
	for _, c := range list {
		if c.Kind == sequence.KindZero {
			zero.step()
			for _, r := range c.Readings {
				zero.add(fmt.Sprint(r.Channel), float64(r.Deviation.Value)/float64(r.Limit))
			}
			continue
		}
		verify.step()
		for _, r := range c.Ranges() {
			verify.add(quantity.Ohm(r.Reference).String(), r.Deviation/r.Limit)
		}
	}
	var out []template.HTML
	for _, d := range []struct {
		id   string
		what *driftLines
	}{{"verify", verify}, {"zero", zero}} {
		if d.what.steps > 1 {
			out = append(out, v.driftChart(d.id, d.what))
		}
	}
	return out
}

// driftLines are values by name over the calibrations of a kind.
type driftLines struct {
	steps  int
	names  []string
	curves map[string]*chart.Curve
}

func newDrift() *driftLines { return &driftLines{curves: map[string]*chart.Curve{}} }

func (d *driftLines) step() { d.steps++ }

func (d *driftLines) add(name string, part float64) {
	c := d.curves[name]
	if c == nil {
		c = &chart.Curve{Name: name, Both: true}
		d.curves[name], d.names = c, append(d.names, name)
	}
	c.X, c.Y = append(c.X, float64(d.steps)), append(c.Y, 100*part)
}

// namedCurves is how many curves have their names on the drawing: those that
// came nearest to their limit.
const namedCurves = 4

func (d *driftLines) nearest() []string {
	last := func(name string) float64 { return math.Abs(d.curves[name].Y[len(d.curves[name].Y)-1]) }
	return slices.SortedFunc(slices.Values(d.names), func(a, b string) int { return cmp.Compare(last(b), last(a)) })
}

func (v *visit) driftChart(id string, d *driftLines) template.HTML {
	c := chart.Curves{
		Frame: chart.Frame{ID: "drift-" + id, Title: v.say("jig.drift." + id), Desc: v.say("jig.drift.desc", d.steps), Width: 620, Height: 300,
			Number: func(digits int, x float64) string { return number(v.Lang, digits, x) }},
		X: chart.Axis{Label: v.say("jig.drift.x"), From: 1, To: float64(max(d.steps, 2))}, Y: chart.Axis{Label: v.say("jig.drift.y"), From: -110, To: 110},
		Across: []chart.Across{{X: math.NaN(), Y: 100, Text: v.say("jig.drift.limit"), Kind: "limit"}, {X: math.NaN(), Y: -100, Kind: "limit"}},
	}
	for i, name := range d.nearest() {
		curve := *d.curves[name]
		if i >= namedCurves {
			curve.Name = ""
		}
		c.Curves = append(c.Curves, curve)
	}
	return c.SVG()
}

func (v *visit) parts(jig string) ([]partView, error) {
	list, err := v.site.Store.Care.Wear(v.r.Context(), jig)
	out := []partView{}
	for _, p := range list {
		row := partView{Part: p.Part, Uses: strconv.Itoa(p.Uses), Warn: "–", Block: "–", Replaced: "–"}
		if p.Block > 0 {
			row.Warn, row.Block = strconv.Itoa(p.Warn), strconv.Itoa(p.Block)
		}
		if p.Replaced != nil {
			row.Replaced = p.Replaced.At.Local().Format(time.DateOnly) + " " + p.Replaced.By
		}
		switch {
		case p.Worn():
			row.State = "now"
		case p.Wearing():
			row.State = "soon"
		}
		out = append(out, row)
	}
	return out, err
}

func (v *visit) referenceViews(s bench.State) ([]referenceView, error) {
	refs, out := s.Product.References, []referenceView{}
	if refs == nil {
		return out, nil
	}
	for _, unit := range bench.ReferenceUnits(refs) {
		state, err := v.site.Store.Care.Reference(v.r.Context(), s.Jig.Serial, unit, s.Jig.Simulated)
		if err != nil {
			return nil, err
		}
		row := referenceView{Unit: unit, Last: "–", Since: state.Since, Due: bench.Overdue(refs, state, time.Now())}
		if state.Last != nil {
			row.Last, row.Good = state.Last.Started.Local().Format("2006-01-02 15:04"), state.Last.Good
		}
		out = append(out, row)
	}
	return out, nil
}

// letGoOf names the letting go that a page shows, so that its button takes back
// that one and no other.
func letGoOf(s bench.State) string {
	if s.LetGo.IsZero() {
		return ""
	}
	return strconv.FormatInt(s.LetGo.UnixNano(), 10)
}

// letGoAction lets go of a jig, or takes it back.
var letGoAction = action{path: "/jigs/{lane}/letgo", who: fixtures, do: func(v *visit) (answer, error) {
	n, lane, err := v.site.lane(v)
	if err != nil {
		return answer{}, err
	}
	if v.r.FormValue("back") == "" {
		lane.LetGo(v.r.Context())
	} else if err := takeBack(v, lane); err != nil {
		return answer{}, err
	}
	return answer{Go: fmt.Sprintf("/jigs/%d", n)}, nil
}}

func takeBack(v *visit, lane *bench.Lane) error {
	since, err := strconv.ParseInt(v.r.FormValue("since"), 10, 64)
	if err == nil {
		err = lane.TakeBack(time.Unix(0, since))
	}
	if err != nil {
		return &problem{http.StatusConflict, v.say("jig.notletgo", lane.State().Jig.Serial)}
	}
	return nil
}

// wearAction records that a part was replaced, or its limits.
var wearAction = action{path: "/jigs/{lane}/wear", who: fixtures, do: func(v *visit) (answer, error) {
	n, lane, err := v.site.lane(v)
	if err != nil {
		return answer{}, err
	}
	part, err := care.ParsePart(v.r.FormValue("part"))
	if err != nil {
		return answer{}, wrong(err.Error())
	}
	jig := lane.State().Jig
	if jig.Serial == "" { // it was never there: nobody knows whose part it is
		return answer{}, &problem{http.StatusConflict, v.say("code.no jig", jig.Name)}
	}
	e := care.WearEvent{Jig: jig.Serial, Part: part, By: v.Person.Name, Note: strings.TrimSpace(v.r.FormValue("note"))}
	if v.r.FormValue("warn")+v.r.FormValue("block") != "" { // half of it is no replacement
		e.Warn, _ = strconv.Atoi(v.r.FormValue("warn"))
		e.Block, _ = strconv.Atoi(v.r.FormValue("block"))
		if e.Warn < 1 || e.Block < e.Warn {
			return answer{}, wrong(v.say("jig.limits.wrong"))
		}
	}
	err = v.site.Store.Care.SaveWear(v.r.Context(), e)
	lane.Refresh()
	return answer{Go: fmt.Sprintf("/jigs/%d#wear", n)}, err
}}
