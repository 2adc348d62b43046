package web

import (
	"errors"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/results/report/chart"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// unitPage is the life of one unit on one page: how it left, what it reads now,
// what may have happened to it, and what comes next.
var unitPage = page{path: "/unit", name: "unit", who: desk, view: func(v *visit) (any, error) {
	serial := strings.TrimSpace(v.r.FormValue("serial"))
	if serial == "" {
		return nil, notFound(v.say("returns.which"))
	}
	starts, err := v.site.Store.Runs.Starts(v.ctx(), serial) // first: one that gets its run meanwhile is not missed
	if err != nil {
		return nil, err
	}
	made, err := v.site.Store.Runs.Unit(v.ctx(), serial)
	if err != nil {
		return nil, err
	}
	c, err := v.site.Store.Returns.CaseOf(v.ctx(), serial)
	view := unitView{Serial: serial, Runs: v.unitRuns(made, starts)}
	view.Simulated = len(made) > 0 && !slices.ContainsFunc(made, func(r runs.Stored) bool { return !r.Simulated })
	if len(made) > 0 {
		view.Product = made[len(made)-1].Run.Product + " " + made[len(made)-1].Revision
	}
	switch {
	case errors.Is(err, store.ErrNotFound):
		view.Intake = v.intakeForm()
		return view, nil
	case err != nil:
		return nil, err
	}
	life, err := returned.Of(v.ctx(), v.site.Store, c)
	if err != nil {
		return nil, err
	}
	v.fillLife(&view, life)
	return view, nil
}}

// unitView is everything known of a unit.
type unitView struct {
	Serial    string        `json:"serial"`
	Product   string        `json:"product"`
	Simulated bool          `json:"simulated"`
	Runs      []unitRun     `json:"runs"`
	Case      *caseView     `json:"case,omitempty"`
	Intake    *intakeView   `json:"-"` // a form to take it in, when no case is open
	Events    []eventView   `json:"events,omitempty"`
	Shipped   string        `json:"shipped,omitempty"`
	Doubts    []string      `json:"doubts,omitempty"`
	Pad       template.HTML `json:"-"`
	Keys      *table        `json:"keys,omitempty"`
	Causes    []causeView   `json:"causes,omitempty"`
	Photos    []photoView   `json:"photos,omitempty"`
	Offers    []offerView   `json:"offers,omitempty"`
	Next      string        `json:"next,omitempty"`
	Command   string        `json:"command,omitempty"`
	Stage     *stageView    `json:"-"` // what can be done on a lane now
	Checking  []option      `json:"-"` // lanes that could do the next check
	Ohms      bool          `json:"-"` // its keys can be watched on a lane
	CSV       string        `json:"-"`
}

type unitRun struct {
	At       time.Time `json:"at"`
	Purpose  string    `json:"purpose"`
	Outcome  string    `json:"outcome"`
	Jig      string    `json:"jig"`
	Operator string    `json:"operator"`
	Worst    string    `json:"worst"`
	ID       string    `json:"id"`
}

type caseView struct {
	Number    int64    `json:"number"`
	Closed    bool     `json:"closed"`
	Complaint string   `json:"complaint"`
	Seen      string   `json:"seen"`
	From      string   `json:"from"`
	Found     string   `json:"found"`
	Result    string   `json:"result"`
	Reopen    bool     `json:"-"`
	Codes     []option `json:"-"` // dispositions
}

type intakeView struct{ Complaints, Conditions []option }

type eventView struct {
	At   time.Time `json:"at"`
	What string    `json:"what"`
	Text string    `json:"text"`
}

type causeView struct {
	Percent int              `json:"percent"`
	Found   bool             `json:"found"`
	Causes  []returned.Cause `json:"causes"`
	For     []string         `json:"for"`
	Against []string         `json:"against"`
	Check   string           `json:"check,omitempty"`
}

type photoView struct {
	Address string    `json:"address"`
	Name    string    `json:"name"`
	Note    string    `json:"note"`
	At      time.Time `json:"at"`
}

// stageView is the next stage and the lanes that could make it.
type stageView struct {
	Purpose, Button string
	Case            int64
	Lanes           []option
	Running         int // the lane that works on the unit now; 0 for none
}

type offerView struct{ Word, Why string }

func (v unitView) tables() []table {
	if v.Keys == nil {
		return nil
	}
	return []table{*v.Keys}
}

// unitRuns lists runs, and starts that have none, newest first.
func (v *visit) unitRuns(runs []runs.Stored, starts []runs.Start) []unitRun {
	out := []unitRun{}
	begun := func(after int64) {
		for len(starts) > 0 && starts[len(starts)-1].AfterRun >= after {
			out = append(out, v.startedRun(starts[len(starts)-1]))
			starts = starts[:len(starts)-1]
		}
	}
	for _, r := range slices.Backward(runs) {
		begun(r.Seq)
		worst := ""
		if len(r.Findings) > 0 {
			place, _ := wording.Lang(v.Lang).Place(r.Findings[0])
			worst = v.say("finding."+r.Findings[0].What) + ": " + place
		}
		out = append(out, unitRun{r.Started, v.purpose(r.Purpose), v.say("outcome." + string(r.Outcome)), r.Jig.Serial, r.Operator, worst, r.ID.String()})
	}
	begun(0)
	return out
}

func (v *visit) startedRun(s runs.Start) unitRun {
	outcome := "outcome.unfinished"
	if s.InHand {
		outcome = "outcome.in-hand"
	}
	return unitRun{At: s.Started, Purpose: v.purpose(s.Purpose), Outcome: v.say(outcome), Jig: s.Jig.Serial, Operator: s.Operator}
}

func (v *visit) purpose(p sequence.Purpose) string {
	if p == sequence.Production {
		return v.say("purpose.production")
	}
	return v.say("purpose." + word(string(p)))
}

func (v *visit) intakeForm() *intakeView {
	form := &intakeView{}
	for _, c := range returns.Complaints {
		form.Complaints = append(form.Complaints, option{Value: c, Text: v.say("complaint." + word(c))})
	}
	for _, c := range returns.Conditions {
		text := v.say("condition." + word(c))
		if returns.IsDamage(c) {
			text += " " + v.say("condition.ends")
		}
		form.Conditions = append(form.Conditions, option{Value: c, Text: text})
	}
	return form
}

func (v *visit) fillLife(view *unitView, life *returned.Life) {
	c := life.Case
	view.Product, view.Simulated = life.Unit(), life.Simulated
	view.Case = &caseView{Number: c.Number, Closed: c.Closed(), Complaint: v.say("complaint." + word(c.Intake().Complaint)), Seen: v.seen(c.Intake()),
		From: life.CameFrom(), Found: life.FoundLine(), Result: life.ResultLine()}
	if text := c.Intake().ComplaintText; text != "" {
		view.Case.Complaint += ": " + text
	}
	for _, code := range returns.Dispositions {
		view.Case.Codes = append(view.Case.Codes, option{Value: code, Text: v.say("dispose." + word(code))})
	}
	for _, e := range life.Events {
		view.Events = append(view.Events, eventView{e.At, e.What, e.Text})
	}
	view.Shipped, view.Doubts = life.ShippedLine(), life.Against()
	for _, p := range c.Photos {
		view.Photos = append(view.Photos, photoView{photoAddress(c, p), p.Name, p.Note, p.At})
	}
	for _, o := range life.Offers {
		view.Offers = append(view.Offers, offerView{v.say("dispose." + word(o.Disposition)), o.Why})
	}
	view.Causes = v.causes(life.Groups)
	view.Checking = v.checkingOf(c)
	view.Ohms = c.Allows(sequence.ReturnTest) == nil && len(v.lanesFor(c.Product)) > 0
	view.Next, view.Stage = v.nextStep(life), v.stageOf(c)
	if view.Stage == nil && v.measures(c) {
		view.Command = life.Next().Command
	}
	if len(life.Keys) > 0 {
		view.Pad = v.besidePad(life)
		keys := v.besideTable(life)
		view.Keys, view.CSV = &keys, unitAddress(c.Serial)+"&csv="+keys.Name
	}
	if c.Closed() {
		view.Intake = v.intakeForm() // it may come back again
	}
}

func (v *visit) seen(in returns.Intake) string {
	var words []string
	for _, c := range in.Conditions {
		words = append(words, v.say("condition."+word(c)))
	}
	if in.ConditionText != "" {
		words = append(words, in.ConditionText)
	}
	return strings.Join(words, ", ")
}

// nextStep says what the order of the stages asks for.
func (v *visit) nextStep(life *returned.Life) string {
	switch c := life.Case; {
	case c.Closed():
		return v.say("next.closed")
	case c.Intake().EndsTesting:
		return v.say("next.damaged")
	case !c.Done(sequence.FirstPress):
		return v.say("next.firstpress")
	case !c.Done(sequence.ReturnTest):
		return v.say("next.test")
	case len(life.Findings) == 0 && !c.Done(sequence.Exercise):
		return v.say("next.exercise")
	}
	return v.say("next.dispose")
}

func (v *visit) causes(groups []returned.Group) (out []causeView) {
	speaks := func(list []returned.Speaks) (texts []string) {
		for _, s := range list {
			texts = append(texts, s.Reading)
		}
		return texts
	}
	for _, g := range groups {
		out = append(out, causeView{int(math.Round(100 * g.Probability)), g.Found, g.Causes, speaks(g.For), speaks(g.Against), g.Check})
	}
	return out
}

// today is the reading that counts now.
func today(k returned.Beside) *fixture.Resistance {
	if k.Test != nil {
		return k.Test
	}
	return k.First
}

// besidePad draws each key with its resistance as shipped and now, shaded by
// how much it really changed.
func (v *visit) besidePad(life *returned.Life) template.HTML {
	pad := chart.Pad{Frame: chart.Frame{ID: "beside", Title: v.say("unit.beside"), Desc: v.say("unit.beside.desc", life.Case.Serial), Quiet: true, Width: 1000, Number: v.num},
		Scale: [2]string{v.say("unit.nochange"), v.say("unit.mostchange")}}
	places := map[string]product.Key{}
	for _, key := range life.Drawing() {
		places[key.Label] = key
	}
	for _, k := range life.Keys {
		d, drawn := places[k.Key]
		if !drawn {
			continue
		}
		change := 0.0
		if k.Change != nil && k.Change.Real() {
			change = math.Abs(float64(k.Change.Value))
		}
		now := today(k)
		switch {
		case now == nil:
			change = math.NaN() // it never closed, or was not tested
		case now.AtLeast:
			change = math.Inf(1)
		}
		pad.Keys = append(pad.Keys, chart.PadKey{Label: k.Key, X: d.X, Y: d.Y, W: d.W, H: d.H, Value: change,
			Text: v.brief(k.Shipped) + " › " + v.brief(now), Chosen: k.Wrong, Tip: k.Key + ": " + v.exact(k.Shipped) + " › " + v.exact(now)})
	}
	pad.Most = mostChange(pad.Keys)
	return pad.SVG()
}

// mostChange is the largest change that is a number: a key that is open is
// darker than any.
func mostChange(keys []chart.PadKey) float64 {
	most := 0.0
	for _, k := range keys {
		if !math.IsInf(k.Value, 1) {
			most = max(most, k.Value)
		}
	}
	if most == 0 {
		return 1
	}
	return most
}

// brief is a resistance in a key; exact says it with its uncertainty, k = 2.
func (v *visit) brief(r *fixture.Resistance) string {
	switch {
	case r == nil:
		return "–"
	case r.AtLeast || r.Value.IsOpen():
		return "∞"
	}
	return v.num(0, float64(r.Value))
}

func (v *visit) exact(r *fixture.Resistance) string {
	switch {
	case r == nil:
		return "–"
	case r.AtLeast || r.Value.IsOpen():
		return v.say("unit.open")
	case r.U.IsOpen() || r.U == 0:
		return v.near(float64(r.Value)).Text + " Ω"
	}
	digits := max(0, 1-int(math.Floor(math.Log10(2*float64(r.U)))))
	return v.num(digits, float64(r.Value)) + " ± " + v.num(digits, 2*float64(r.U)) + " Ω"
}

func ohmsOf(r *fixture.Resistance) float64 {
	switch {
	case r == nil:
		return math.NaN()
	case r.AtLeast:
		return math.Inf(1)
	}
	return float64(r.Value)
}

func (v *visit) besideTable(life *returned.Life) table {
	t := table{Name: "keys", Caption: v.say("unit.beside"), Columns: []column{{"key", v.say("col.key"), false}, {"limit_ohm", v.say("col.upper"), true},
		{"shipped_ohm", v.say("unit.shipped"), true}, {"first_press_ohm", v.say("purpose.first-press"), true}, {"return_test_ohm", v.say("purpose.return-test"), true},
		{"change_ohm", v.say("unit.change"), true}, {"change_u_ohm", "U", true}}}
	for _, k := range life.Keys {
		limit := orNone(float64(k.Limit))
		change, u := math.NaN(), math.NaN()
		if k.Change != nil {
			change, u = float64(k.Change.Value), float64(k.Change.U)
		}
		row := []cell{{Text: k.Key, Value: k.Key, Mark: k.Wrong}, v.near(limit)}
		for _, r := range []*fixture.Resistance{k.Shipped, k.First, k.Test} {
			row = append(row, cell{Text: v.exact(r), Value: ohmsOf(r)})
		}
		t.Rows = append(t.Rows, append(row, cell{Text: v.near(change).Text, Value: change, Mark: k.Change != nil && k.Change.Real()}, v.near(u)))
	}
	return t
}

// stageOf offers the first stage that the case allows, where there is a lane for
// its product.
func (v *visit) stageOf(c returns.Case) *stageView {
	if n := v.laneWith(c.Serial); n > 0 {
		return &stageView{Running: n}
	}
	for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise} {
		if c.Done(p) || c.Allows(p) != nil {
			continue
		}
		s := &stageView{Purpose: string(p), Button: v.say("stage." + word(string(p))), Case: c.Number}
		if s.Lanes = v.lanesFor(c.Product); len(s.Lanes) > 0 {
			return s
		}
	}
	return nil
}

// measures reports whether a stage is still to be made: at a terminal then,
// where no lane of this station tests the product.
func (v *visit) measures(c returns.Case) bool {
	return c.Allows(sequence.FirstPress) == nil || c.Allows(sequence.ReturnTest) == nil && !c.Done(sequence.ReturnTest)
}
