package jigs

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/care"
	"padjig/results/report/chart"
	"padjig/sequence"
	"padjig/sequence/calibrate"
)

// jig is the page of one jig: what it states of itself, its channels, its calibrations
// and how it drifts, its worn parts and its reference units.
func (p *pages) jig(v *page.Visit, n int, lane *station.Lane) (any, error) {
	return p.view(v, n, lane.State())
}

type View struct {
	Row
	Facts        []factView        `json:"facts"`
	Channels     []channelView     `json:"channels"`
	Calibrations []calibrationView `json:"calibrations"`
	Drift        []template.HTML   `json:"-"`
	Parts        []partView        `json:"parts"`
	Places       []string          `json:"-"` // of the jig that take a part
	References   []referenceView   `json:"references"`
	Windows      []windowView      `json:"windows"` // in which units may have been misjudged
	LetGo        string            `json:"let_go"`  // for somebody at the terminal: since when, as its form says it; empty: not
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

type referenceView struct {
	Unit, Last string
	Since      int
	Good       bool
	Due        string // why it must be tested now, in the record's own words
}

func (p *pages) view(v *page.Visit, n int, s station.State) (any, error) {
	row, err := p.row(v, n, s)
	if err != nil {
		return nil, err
	}
	out := View{Row: row, Facts: facts(v.Words, s.Jig.Caps), LetGo: letGoOf(s)}
	list, err := p.store.Care.Calibrations(v.Ctx(), s.Jig.Serial, s.Jig.Simulated)
	if err != nil {
		return nil, err
	}
	out.Channels = channels(v.Words, list, s)
	out.Drift = drift(v.Words, list)
	for _, c := range slices.Backward(list) {
		out.Calibrations = append(out.Calibrations, calibrationView{
			c.Seq, v.Say("kind." + string(c.Kind)), c.Performed, c.Due(), c.Operator, strings.TrimSpace(c.BoxSerial + " " + c.Certificate), c.Good, c.Reason,
		})
	}
	if out.Parts, err = p.parts(v, s.Jig); err != nil {
		return nil, err
	}
	out.Places = places(out.Parts)
	if out.Windows, err = p.windows(v, s.Jig); err != nil {
		return nil, err
	}
	out.References, err = p.references(v, s)
	return out, err
}

func facts(w page.Words, c fixture.Capabilities) []factView {
	fact := func(key, value string) factView { return factView{w.Say("jig.fact." + key), value} }
	ranges := make([]string, len(c.Ranges))
	for i, r := range c.Ranges {
		ranges[i] = r.Ohm.String()
	}
	return []factView{
		fact("model", c.Model), fact("firmware", c.Firmware), fact("adapter", cmp.Or(c.Adapter, "–")),
		fact("channels", strconv.Itoa(c.Channels)), fact("actuators", strconv.Itoa(c.Actuators)),
		fact("ranges", strings.Join(ranges, ", ")), fact("reference", c.Vref.String()),
		fact("presses", strconv.FormatUint(uint64(c.Presses), 10)), fact("matings", strconv.FormatUint(uint64(c.Matings), 10)),
		fact("interlock", yes(w, c.Interlock)), fact("emergency", yes(w, c.Emergency)), fact("loop", yes(w, c.Loop)), fact("guard", yes(w, c.Guard)),
	}
}

func yes(w page.Words, is bool) string {
	if is {
		return w.Say("word.yes")
	}
	return w.Say("word.no")
}

// channels gives what the last zero found, with the line that lies under each
// channel.
func channels(w page.Words, list []care.StoredCalibration, s station.State) []channelView {
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
			r.Channel, lineUnder(s, r.Channel), w.Num(3, float64(r.Measured.Value)), w.Num(3, 2*float64(r.Measured.U)),
			w.Num(2, float64(r.Limit)), r.Good,
		})
	}
	return out
}

func lineUnder(s station.State, channel int) string {
	if channel < 1 || channel > len(s.Product.Tail) || s.Product.Tail[channel-1] == "" {
		return "–"
	}
	return s.Product.Tail[channel-1]
}

// drift draws how ranges and channels moved from one calibration to the next,
// each as a part of its limit, so that one drawing holds them all.
func drift(w page.Words, list []care.StoredCalibration) []template.HTML {
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
		for _, r := range calibrate.Ranges(c.Calibration) {
			verify.add(quantity.Ohm(r.Reference).String(), r.Deviation/r.Limit)
		}
	}
	var out []template.HTML
	for _, d := range []struct {
		id   string
		what *driftLines
	}{{"verify", verify}, {"zero", zero}} {
		if d.what.steps > 1 {
			out = append(out, driftChart(w, d.id, d.what))
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

func driftChart(w page.Words, id string, d *driftLines) template.HTML {
	c := chart.Curves{
		Frame: chart.Frame{ID: "drift-" + id, Title: w.Say("jig.drift." + id), Desc: w.Say("jig.drift.desc", d.steps), Width: 620, Height: 300,
			Number: w.Num},
		X: chart.Axis{Label: w.Say("jig.drift.x"), From: 1, To: float64(max(d.steps, 2))}, Y: chart.Axis{Label: w.Say("jig.drift.y"), From: -110, To: 110},
		Across: []chart.Across{{X: math.NaN(), Y: 100, Text: w.Say("jig.drift.limit"), Kind: "limit"}, {X: math.NaN(), Y: -100, Kind: "limit"}},
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

func (p *pages) references(v *page.Visit, s station.State) ([]referenceView, error) {
	refs, out := s.Product.References, []referenceView{}
	if refs == nil {
		return out, nil
	}
	for _, unit := range station.ReferenceUnits(refs) {
		state, err := p.store.Care.Reference(v.Ctx(), s.Jig.Serial, unit, s.Jig.Simulated)
		if err != nil {
			return nil, err
		}
		row := referenceView{Unit: unit, Last: "–", Since: state.Since, Due: station.Overdue(refs, state, time.Now())}
		if state.Last != nil {
			row.Last, row.Good = v.Moment(state.Last.Started), state.Last.Good
		}
		out = append(out, row)
	}
	return out, nil
}

// letGoOf names the letting go that a page shows, so that its button takes back
// that one and no other.
func letGoOf(s station.State) string {
	if s.LetGo.IsZero() {
		return ""
	}
	return strconv.FormatInt(s.LetGo.UnixNano(), 10)
}

// letGo lets go of a jig, or takes it back.
func (p *pages) letGo(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
	if v.Value("back") == "" {
		lane.LetGo(v.Ctx())
	} else if err := takeBack(v, lane); err != nil {
		return page.Answer{}, err
	}
	return page.Answer{Go: fmt.Sprintf("/jigs/%d", n)}, nil
}

func takeBack(v *page.Visit, lane *station.Lane) error {
	since, err := strconv.ParseInt(v.Value("since"), 10, 64)
	if err == nil {
		err = lane.TakeBack(time.Unix(0, since))
	}
	if err != nil {
		return page.Conflict(v.Say("jig.notletgo", lane.State().Jig.Serial))
	}
	return nil
}
