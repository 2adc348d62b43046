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
	"padjig/results/accounts"
	"padjig/results/answers/upkeep"
	"padjig/results/care"
	"padjig/results/report/chart"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/product"
)

// jig is the page of the jig of a lane: what is due and what to do next, what it states of
// itself, its channels, its calibrations and how it drifts, its parts and reference units.
func (p *pages) jig(v *page.Visit, n int, lane *station.Lane) (any, error) {
	return p.view(v, n, lane.State())
}

// kept is the page of a jig that the records know, wherever it is.
func (p *pages) kept(v *page.Visit) (any, error) {
	serial, simulated := v.Value("serial"), v.Value("simulated") == "true"
	if serial == "" {
		return page.Elsewhere("/jigs"), nil
	}
	if n := p.laneOf(serial, simulated); n > 0 {
		return page.Elsewhere(fmt.Sprintf("/jigs/%d", n)), nil
	}
	s, err := p.state(v, serial, simulated)
	if err != nil {
		return nil, err
	}
	return p.view(v, 0, s)
}

// state is how a jig stands that is at no lane: as the records know it.
func (p *pages) state(v *page.Visit, serial string, simulated bool) (s station.State, err error) {
	known, err := p.store.Care.Jigs(v.Ctx())
	if err != nil {
		return s, err
	}
	i := slices.IndexFunc(known, func(k care.Known) bool { return k.Jig.Serial == serial && k.Simulated == simulated })
	if i < 0 {
		return s, page.NotFound(v.Say("jigs.nosuch", serial))
	}
	k := known[i].Jig
	s.Jig = station.JigState{Name: k.Serial, Serial: k.Serial, Model: k.Model, Firmware: k.Firmware, Simulated: simulated,
		Caps: fixture.Capabilities{Serial: k.Serial, Model: k.Model, Firmware: k.Firmware, Adapter: k.Adapter, Simulated: simulated}}
	s.Product = &product.Product{Code: known[i].Product}
	if made := known[i].Made; made != nil {
		run, err := p.store.Runs.Run(v.Ctx(), *made)
		if err != nil {
			return s, err
		}
		if of, err := p.store.Runs.Product(v.Ctx(), run); err == nil { // else not understood by this version any more
			s.Product = of
		}
	}
	return s, nil
}

// View is the page of a jig.
type View struct {
	Row
	Next         nextView          `json:"next"`
	Facts        []factView        `json:"facts"`
	Channels     []channelView     `json:"channels"`
	Unused       int               `json:"unused"` // channels that are not shown, since no line lies under them
	Calibrations []calibrationView `json:"calibrations"`
	Commission   commissionView    `json:"commissioning"`
	Drifts       []template.HTML   `json:"-"`
	Measuring    measuringView     `json:"measuring"`
	Parts        []PartView        `json:"parts"`
	Places       []page.Option     `json:"-"` // of the jig that take a part
	Tips         []page.Option     `json:"-"` // shapes of them
	References   []referenceView   `json:"references"`
	Windows      []windowView      `json:"windows"` // in which units may have been misjudged
	LetGo        string            `json:"let_go"`  // for somebody at the terminal: since when, as its form says it; empty: not
}

// nextView is what to do next.
type nextView struct {
	Say    string        `json:"say"`
	Button string        `json:"button"`
	Path   string        `json:"path"`
	Due    bool          `json:"due"` // now; else it is only what comes first
	Stops  bool          `json:"stops"`
	Then   []troubleView `json:"then"` // what is to do besides
}

// nextOf is what to do next at a jig.
func nextOf(w page.Words, r Row) nextView {
	do := func(what string) nextView {
		out := nextView{Say: w.Say("jig.next.none"), Then: []troubleView{}}
		if len(r.Troubles) > 0 {
			first := r.Troubles[0]
			out.Say, out.Due, out.Stops, out.Then = first.Say, true, first.Stops, r.Troubles[1:]
		}
		switch {
		case what == "wear", what == "suspects", what == "commissioning":
			out.Button, out.Path = w.Say("jig.next."+what), "#"+what
		case r.Lane == 0:
			out.Say += " " + w.Say("jig.next.nolane")
		case !r.Present:
			out.Say += " " + w.Say("jig.next.absent")
		default:
			out.Button, out.Path = w.Say("jig.next."+what), fmt.Sprintf("/jigs/%d/do/%s", r.Lane, what)
		}
		return out
	}
	for _, t := range r.Troubles {
		switch upkeep.Code(t.Code) {
		case upkeep.ZeroBad, upkeep.ZeroNever, upkeep.ZeroOver, upkeep.ZeroSoon:
			return do("zero")
		case upkeep.VerifyBad, upkeep.VerifyNever, upkeep.VerifyOver, upkeep.VerifySoon, upkeep.Drifting:
			if !r.kept.Zero.Holds() {
				return do("zero")
			}
			return do("verify")
		case upkeep.ReferenceBad, upkeep.ReferenceDue:
			return do("references")
		case upkeep.PartWorn, upkeep.PartWearing:
			return do("wear")
		case upkeep.Suspects:
			return do("suspects")
		case upkeep.CommissionFailed, upkeep.CommissionOther, upkeep.CommissionOpen, upkeep.CommissionNever:
			return do("commissioning")
		}
	}
	if r.kept.Zero.Holds() && r.Verify.Days < r.Zero.Days {
		return do("verify")
	}
	return do("zero")
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

	Zero       float64 `json:"zero"` // part of its limit; below zero where there is none
	Verify     float64 `json:"verify"`
	VerifySay  string  `json:"verify_says"`
	Insulation float64 `json:"insulation"`
	InsulSay   string  `json:"insulation_says"`
}

// Bars are how long those of a channel are, in percent; none where nothing was read.
func (c channelView) Bars() []channelBar {
	return []channelBar{{"zero", c.Zero, c.Ohm}, {"verify", c.Verify, c.VerifySay}, {"insulation", c.Insulation, c.InsulSay}}
}

type channelBar struct {
	Name string
	Part float64
	Say  string
}

// None reports whether nothing was read.
func (b channelBar) None() bool { return b.Part < 0 }

// Long is its length.
func (b channelBar) Long() int { return bar(b.Part) }

// Over reports whether it is beyond its limit.
func (b channelBar) Over() bool { return b.Part > 1 }

type calibrationView struct {
	Seq         int64     `json:"seq"`
	Kind        string    `json:"kind"`
	At          time.Time `json:"at,omitzero"`
	Due         time.Time `json:"due,omitzero"`
	By          string    `json:"by"`
	Certificate string    `json:"certificate"`
	Good        bool      `json:"good"`
	Reason      string    `json:"reason"`
}

type referenceView struct {
	Unit  string
	Last  time.Time `json:",omitzero"` // zero: never
	Since int
	Good  bool
	Due   string // why it must be tested now, in the record's own words
}

func (p *pages) view(v *page.Visit, n int, s station.State) (any, error) {
	kept, err := upkeep.OfJig(v.Ctx(), p.store, upkeep.Asked{Now: time.Now()}, s.Jig.Serial, s.Jig.Simulated)
	if err != nil {
		return nil, err
	}
	row := p.row(v.Words, kept, n)
	out := View{Row: row, Next: nextOf(v.Words, row), Facts: facts(v.Words, s.Jig.Caps), LetGo: letGoOf(s)}
	if len(p.lanes.All()) > 0 { // it is decided and kept at a jig's own station
		start, err := p.store.Accounts.LidStart(v.Ctx(), s.Jig.Serial, s.Jig.Simulated)
		if err != nil {
			return nil, err
		}
		out.Facts = append(out.Facts, startOf(v.Words, start))
	}
	list, err := p.store.Care.Calibrations(v.Ctx(), s.Jig.Serial, s.Jig.Simulated)
	if err != nil {
		return nil, err
	}
	out.Channels = channels(v.Words, list, s)
	if err := p.insulated(v, out.Channels, kept, s); err != nil {
		return nil, err
	}
	if all := out.Channels; v.Value("channels") != "all" {
		used := slices.DeleteFunc(slices.Clone(all), func(c channelView) bool { return c.Line == "–" })
		if len(used) > 0 {
			out.Channels, out.Unused = used, len(all)-len(used)
		}
	}
	if out.Commission, err = p.commissioned(v, s.Jig); err != nil {
		return nil, err
	}
	out.Drifts = drift(v.Words, list)
	self, err := p.store.Care.SelfTests(v.Ctx(), s.Jig.Serial, s.Jig.Simulated)
	if err != nil {
		return nil, err
	}
	out.Measuring = measuringOf(v.Words, kept.Verify.Last, self)
	for _, c := range slices.Backward(list) {
		out.Calibrations = append(out.Calibrations, calibrationView{
			c.Seq, v.Say("kind." + string(c.Kind)), c.Performed, c.Due(), c.Operator, strings.TrimSpace(c.BoxSerial + " " + c.Certificate), c.Good, c.Reason,
		})
	}
	if out.Parts, err = p.parts(v, s.Jig); err != nil {
		return nil, err
	}
	out.Places, out.Tips = places(v.Words, out.Parts), tips(v.Words, out.Parts)
	if out.Windows, err = p.windows(v, s.Jig); err != nil {
		return nil, err
	}
	out.References, err = p.references(v, s)
	return out, err
}

// insulated adds what the newest run read between the line under each channel and others with
// nothing pressed, as a part of what its product allows.
func (p *pages) insulated(v *page.Visit, channels []channelView, kept upkeep.Jig, s station.State) error {
	if kept.Made == nil || len(s.Product.Keys) == 0 {
		return nil
	}
	run, err := p.store.Runs.Run(v.Ctx(), *kept.Made)
	if err != nil {
		return err
	}
	least := s.Product.Keys[0].Limits.RestMin
	for _, k := range s.Product.Keys {
		least = max(least, k.Limits.RestMin)
	}
	for i, c := range channels {
		for _, r := range run.Insulation {
			if !slices.Contains(r.Feed, c.Line) && !slices.Contains(r.Ground, c.Line) || r.Ohm.Value <= 0 {
				continue
			}
			if part := float64(least / r.Ohm.Value); part > channels[i].Insulation {
				channels[i].Insulation, channels[i].InsulSay = part, r.Ohm.Value.String()
				if r.Ohm.AtLeast {
					channels[i].InsulSay = "≥ " + channels[i].InsulSay
				}
			}
		}
	}
	return nil
}

func facts(w page.Words, c fixture.Capabilities) []factView {
	fact := func(key, value string) factView { return factView{w.Say("jig.fact." + key), value} }
	ranges := make([]string, len(c.Ranges))
	for i, r := range c.Ranges {
		ranges[i] = r.Ohm.String()
	}
	named := []factView{fact("model", c.Model), fact("firmware", c.Firmware), fact("adapter", cmp.Or(c.Adapter, "–"))}
	if c.Channels == 0 {
		return named // it was never here: the records know no more of it
	}
	return append(named,
		fact("channels", strconv.Itoa(c.Channels)), fact("actuators", strconv.Itoa(c.Actuators)),
		fact("ranges", strings.Join(ranges, ", ")), fact("reference", known(w, c)),
		fact("bend", ppm(w, c.Bend)), fact("bias", "± "+c.Bias.String()), fact("drift", ppm(w, c.Drift)),
		fact("presses", strconv.FormatUint(uint64(c.Presses), 10)), fact("matings", strconv.FormatUint(uint64(c.Matings), 10)),
		fact("interlock", yes(w, c.Interlock)), fact("emergency", yes(w, c.Emergency)), fact("loop", yes(w, c.Loop)), fact("guard", yes(w, c.Guard)))
}

// startOf is how a jig starts where its lid was open, as it was decided at the terminal.
func startOf(w page.Words, l accounts.LidStart) factView {
	key := "press"
	if l.On {
		key = "lid"
	}
	say := w.Say("jig.start." + key)
	if l.By != "" {
		say += " " + w.Say("jig.start.decided", w.Date(l.At), l.By, l.Assessment)
	}
	return factView{w.Say("jig.fact.start"), say}
}

// known is the reference voltage as the jig states it, k = 1.
func known(w page.Words, c fixture.Capabilities) string {
	return c.Vref.String() + " ± " + ppm(w, c.VrefU)
}

func ppm(w page.Words, x float64) string { return w.Num(0, x*1e6) + " ppm" }

func yes(w page.Words, is bool) string {
	if is {
		return w.Say("word.yes")
	}
	return w.Say("word.no")
}

// channels gives what the last zero and the last verification found, with the line that lies
// under each channel.
func channels(w page.Words, list []care.StoredCalibration, s station.State) []channelView {
	var zero, verify *care.StoredCalibration
	most := s.Jig.Caps.Channels
	for i, c := range list {
		if c.Kind == sequence.KindZero {
			zero = &list[i]
			most = max(most, len(c.Readings))
		} else {
			verify = &list[i]
		}
	}
	out := make([]channelView, most)
	for c := range out {
		out[c] = channelView{Channel: c + 1, Line: lineUnder(s, c+1), Ohm: "–", U: "–", Limit: "–", Good: true, Zero: -1, Verify: -1, Insulation: -1}
	}
	if zero != nil {
		for _, r := range zero.Readings {
			c := &out[r.Channel-1]
			c.Ohm, c.U, c.Limit, c.Good = w.Num(3, float64(r.Measured.Value)), w.Num(3, 2*float64(r.Measured.U)), w.Num(2, float64(r.Limit)), r.Good
			c.Zero = abs(float64(r.Measured.Value / r.Limit))
		}
	}
	if verify != nil {
		for _, ch := range calibrate.Channels(verify.Calibration) {
			if ch.Channel <= most {
				part := abs(float64(ch.Worst.Deviation.Value / ch.Worst.Limit))
				out[ch.Channel-1].Verify, out[ch.Channel-1].VerifySay = part, w.Near(float64(ch.Worst.Deviation.Value))
			}
		}
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
			zero.step(c.Performed)
			for _, r := range c.Readings {
				zero.add(w, w.Say("guide.channel", r.Channel), float64(r.Deviation.Value)/float64(r.Limit))
			}
			continue
		}
		verify.step(c.Performed)
		for _, r := range calibrate.Ranges(c.Calibration) {
			verify.add(w, quantity.Ohm(r.Reference).String(), r.Deviation/r.Limit)
		}
	}
	var out []template.HTML
	for _, d := range []struct {
		id   string
		what *driftLines
	}{{"verify", verify}, {"zero", zero}} {
		if len(d.what.times) > 1 {
			out = append(out, driftChart(w, d.id, d.what))
		}
	}
	return out
}

// driftLines are values by name over the calibrations of a kind.
type driftLines struct {
	times  []time.Time
	names  []string
	curves map[string]*chart.Curve
}

func newDrift() *driftLines { return &driftLines{curves: map[string]*chart.Curve{}} }

func (d *driftLines) step(at time.Time) { d.times = append(d.times, at) }

func (d *driftLines) add(w page.Words, name string, part float64) {
	c := d.curves[name]
	if c == nil {
		c = &chart.Curve{Name: name, Both: true}
		d.curves[name], d.names = c, append(d.names, name)
	}
	c.X, c.Y = append(c.X, float64(len(d.times))), append(c.Y, 100*part)
	c.Tips = append(c.Tips, name+"\n"+w.Num(0, 100*part)+" % "+w.Say("jig.drift.of")+"\n"+w.Moment(d.times[len(d.times)-1]))
}

// narrow is how wide drawings for phones are.
const narrow = 324

// namedCurves is how many curves have their names on the drawing: those that
// came nearest to their limit.
const namedCurves = 4

func (d *driftLines) nearest() []string {
	last := func(name string) float64 { return math.Abs(d.curves[name].Y[len(d.curves[name].Y)-1]) }
	return slices.SortedFunc(slices.Values(d.names), func(a, b string) int { return cmp.Compare(last(b), last(a)) })
}

func driftChart(w page.Words, id string, d *driftLines) template.HTML {
	c := chart.Curves{
		Frame: chart.Frame{ID: "drift-" + id, Title: w.Say("jig.drift." + id), Desc: w.Say("jig.drift.desc", len(d.times)), Width: 620, Height: 300,
			Number: w.Num, Narrow: narrow},
		X: chart.Axis{Label: w.Say("jig.drift.x"), From: 1, To: float64(max(len(d.times), 2))}, Y: chart.Axis{Label: w.Say("jig.drift.y"), From: -110, To: 110},
		Across: []chart.Across{{X: math.NaN(), Y: 100, Text: w.Say("jig.drift.limit"), Kind: "limit"}, {X: math.NaN(), Y: -100, Text: w.Say("jig.drift.limit"), Kind: "limit"}},
	}
	for i, at := range d.times {
		c.XNames = append(c.XNames, chart.Name{X: float64(i + 1), Text: w.Date(at)})
	}
	for i, name := range d.nearest() {
		curve := *d.curves[name]
		if i >= namedCurves {
			curve.Name, curve.Quiet, curve.Tips = "", true, nil
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
	for _, unit := range refs.All() {
		state, err := p.store.Care.Reference(v.Ctx(), s.Jig.Serial, unit, s.Jig.Simulated)
		if err != nil {
			return nil, err
		}
		row := referenceView{Unit: unit, Since: state.Since, Due: state.Overdue(refs, time.Now())}
		if state.Last != nil {
			row.Last, row.Good = state.Last.Started, state.Last.Good
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
