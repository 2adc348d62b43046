package desk

import (
	"context"
	"errors"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/report"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// lives shows units.
type lives struct {
	store  *results.Store
	lanes  *control.Lanes
	checks checks
	stages stages
	where  Where
}

// Where gives the name of the station that a run of a number was made at, empty where there is
// one station alone.
type Where func(context.Context) (func(run int64) string, error)

// page is the life of one unit on one page: how it left, what it reads now,
// what may have happened to it, and what comes next.
func (l lives) page(v *page.Visit) (any, error) {
	serial := v.Text("serial")
	if serial == "" {
		return nil, page.NotFound(v.Say("returns.which"))
	}
	starts, err := l.store.Runs.Starts(v.Ctx(), serial) // first: one that gets its run meanwhile is not missed
	if err != nil {
		return nil, err
	}
	made, err := l.store.Runs.Unit(v.Ctx(), serial)
	if err != nil {
		return nil, err
	}
	c, err := l.store.Returns.CaseOf(v.Ctx(), serial)
	compared, failed := l.compared(v, made)
	if failed == nil {
		failed = l.placed(v, serial, compared)
	}
	if failed != nil {
		return nil, failed
	}
	view := unitView{Serial: serial, Runs: unitRuns(v.Words, made, starts, compared)}
	if failed = l.placeOf(v, view.Runs); failed != nil {
		return nil, failed
	}
	var numbers []int64
	for _, run := range made {
		numbers = append(numbers, run.Seq)
	}
	months, failed := l.store.Plant.RetiredOf(v.Ctx(), numbers)
	if failed != nil {
		return nil, failed
	}
	for _, one := range answers.Retired(months) {
		view.Retired = append(view.Retired, report.Say(v.Lang, one))
	}
	view.Simulated = len(made) > 0 && !slices.ContainsFunc(made, func(r runs.Stored) bool { return !r.Simulated })
	if len(made) > 0 {
		view.Product = made[len(made)-1].Run.Product + " " + made[len(made)-1].Revision
	}
	switch {
	case errors.Is(err, store.ErrNotFound):
		view.Intake = intakeForm(v.Words)
		return l.reworked(v, view, made)
	case err != nil:
		return nil, err
	}
	life, err := returned.Of(v.Ctx(), l.store, c)
	if err != nil {
		return nil, err
	}
	l.fill(v, &view, life)
	l.rework(v, &view)
	return view, nil
}

// compared says of each run how it compares with the units before it.
func (l lives) compared(v *page.Visit, made []runs.Stored) (map[string][]string, error) {
	said := map[string][]string{}
	for _, run := range made {
		c, err := l.store.Pads.Before(v.Ctx(), run)
		if err != nil {
			return nil, err
		}
		for _, fact := range c.Facts() {
			said[run.ID.String()] = append(said[run.ID.String()], v.Facts().Pads(fact))
		}
	}
	return said, nil
}

// placeOf says of runs at which station each was.
func (l lives) placeOf(v *page.Visit, list []unitRun) error {
	at, err := l.where(v.Ctx())
	for i, r := range list {
		if err == nil && r.Seq > 0 {
			list[i].Station = at(r.Seq)
		}
	}
	return err
}

// placed adds to what is said of runs where the unit was put when it had failed, and what is
// still owed.
func (l lives) placed(v *page.Visit, serial string, said map[string][]string) error {
	placements, err := l.store.Fails.Of(v.Ctx(), serial)
	if err != nil {
		return err
	}
	owed, err := l.store.Fails.OpenOf(v.Ctx(), serial)
	add := func(run store.ID, what sequence.Said) {
		said[run.String()] = append(said[run.String()], v.Facts().Placing(what))
	}
	for _, p := range placements {
		add(p.Run, p.Said(v.Moment(p.At)))
	}
	for _, o := range owed {
		add(o.Run, o.Said())
	}
	return err
}

// reworked adds the rework of a unit that has no case.
func (l lives) reworked(v *page.Visit, view unitView, made []runs.Stored) (any, error) {
	list, err := l.store.Returns.Reworks(v.Ctx(), view.Serial)
	at := ""
	reference := func(p *product.Product) bool { _, is := p.Reference(view.Serial); return is }
	if l.lanes.Holding(reference) == nil { // a bad one fails on purpose
		view.Mending, at = mending(made, list)
	}
	for _, r := range list {
		view.Events = append(view.Events, eventView{r.Done, v.Say("unit.rework"), returned.Reworked(r, v.Facts())})
	}
	l.rework(v, &view)
	for _, g := range view.Places {
		for i := range g.Options {
			g.Options[i].Chosen = g.Options[i].Value == at
		}
	}
	return view, err
}

// mending is what is next for a unit that failed when it was tested last for production: to be
// reworked, and at which place where there is one alone, or after that to be tested again;
// empty for any other.
func mending(made []runs.Stored, reworks []returns.Rework) (next, at string) {
	for _, r := range slices.Backward(made) {
		switch {
		case r.Purpose == sequence.Production && r.Outcome == sequence.Pass:
			return "", ""
		case r.Purpose != sequence.Production || r.Outcome != sequence.Fail:
			continue // it says nothing of how the unit stands
		case slices.ContainsFunc(reworks, func(w returns.Rework) bool { return w.AfterRun >= r.Seq }):
			return "again", ""
		}
		if key := r.Findings[0].Key; key != "" && !slices.ContainsFunc(r.Findings, func(f sequence.Finding) bool { return f.Key != key }) {
			at = returns.Place{Kind: returns.AtKey, Name: key}.String()
		}
		return "rework", at
	}
	return "", ""
}

// rework offers what can be done to the unit, and where on its product.
func (l lives) rework(v *page.Visit, view *unitView) {
	view.Deeds = deeds(v.Words)
	if p, err := l.checks.madeAs(v, l.lanes, view.Serial); err == nil {
		view.Places = places(v.Words, p)
	}
}

// placeGroup is places of one kind on a product.
type placeGroup struct {
	Name    string
	Options []page.Option
}

// places are where on a product something can be done.
func places(v page.Words, p *product.Product) (groups []placeGroup) {
	group := func(kind returns.PlaceKind, names []string) {
		g := placeGroup{Name: v.Say("place." + string(kind) + "s")}
		for _, name := range names {
			g.Options = append(g.Options, page.Option{Value: returns.Place{Kind: kind, Name: name}.String(), Text: v.Say("place."+string(kind), name)})
		}
		groups = append(groups, g)
	}
	group(returns.AtKey, store.Each(p.Keys, func(k product.Key) string { return k.Label }))
	group(returns.AtLine, store.Each(p.Lines, func(l product.Line) string { return l.Name }))
	var pins []string
	for i := range p.Tail {
		pins = append(pins, strconv.Itoa(i+1))
	}
	group(returns.AtPin, pins)
	return groups
}

func deeds(v page.Words) (options []page.Option) {
	for _, code := range returns.Deeds() {
		options = append(options, page.Option{Value: code, Text: v.Say("deed." + page.Key(code))})
	}
	return options
}

// unitView is everything known of a unit.
type unitView struct {
	Serial    string        `json:"serial"`
	Product   string        `json:"product"`
	Simulated bool          `json:"simulated"`
	Runs      []unitRun     `json:"runs"`
	Retired   []string      `json:"retired,omitempty"` // that readings of its runs are not at the plant any more, and where they are
	Case      *caseView     `json:"case,omitempty"`
	Intake    *intakeView   `json:"-"` // a form to take it in, when no case is open
	Events    []eventView   `json:"events,omitempty"`
	Shipped   string        `json:"shipped,omitempty"`
	Doubts    []string      `json:"doubts,omitempty"`
	Identity  []string      `json:"identity,omitempty"` // is it the pad that left?
	Pad       template.HTML `json:"-"`
	Keys      *page.Table   `json:"keys,omitempty"`
	Beside    bool          `json:"-"` // the pad is narrow enough to stand beside the table
	Causes    []causeView   `json:"causes,omitempty"`
	Gone      []string      `json:"gone,omitempty"` // what one stage found and a later one did not
	Photos    []photoView   `json:"photos,omitempty"`
	Deeds     []page.Option `json:"-"`
	Offers    []offerView   `json:"offers,omitempty"`
	Next      string        `json:"next,omitempty"`
	NextCode  string        `json:"next_code,omitempty"`
	Command   string        `json:"command,omitempty"`
	Steps     []stepView    `json:"steps,omitempty"`
	InJig     *inJig        `json:"in_jig,omitempty"`
	Stage     *stageView    `json:"stage,omitempty"` // what a jig is to do now
	Free      *stageView    `json:"-"`               // what it may do besides
	Watched   string        `json:"-"`               // the stream of what the jig does
	Checking  []page.Option `json:"-"`               // lanes that could do the next check
	Ohms      bool          `json:"-"`               // its keys can be watched on a lane
	CSV       string        `json:"-"`
	Heads     []head        `json:"-"`                 // of the table of keys
	Places    []placeGroup  `json:"-"`                 // where it can have been reworked
	Mending   string        `json:"mending,omitempty"` // of a unit that failed in production: "rework" or "again"
}

type unitRun struct {
	At       time.Time `json:"at,omitzero"`
	Purpose  string    `json:"purpose"`
	Outcome  string    `json:"outcome"`
	Jig      string    `json:"jig"`
	Operator string    `json:"operator"`
	Worst    string    `json:"worst"`
	Compared []string  `json:"compared,omitempty"` // with the units before
	Plant    string    `json:"plant,omitempty"`    // what became of the question to the plant before it
	Alone    string    `json:"alone,omitempty"`    // that it was decided about without the plant, in words
	ID       string    `json:"id"`
	Station  string    `json:"station,omitempty"` // at a plant
	Seq      int64     `json:"-"`                 // of the run; 0 for a start without one
}

type caseView struct {
	Number    int64         `json:"number"`
	Closed    bool          `json:"closed"`
	Complaint string        `json:"complaint"`
	Seen      string        `json:"seen"`
	From      string        `json:"from"`
	Found     string        `json:"found"`
	Result    string        `json:"result"`
	Disposal  string        `json:"disposal"`
	Answered  []string      `json:"contradictions"` // that it was closed with, and why
	Photod    bool          `json:"-"`              // or it is said why not
	Locked    bool          `json:"locked"`
	NoPhoto   string        `json:"no_photo"`
	Codes     []page.Option `json:"-"` // dispositions
	Disposals []page.Option `json:"-"`
	Asks      []askView     `json:"contradicting"`
	Unlock    bool          `json:"-"` // this person may have it tested although damaged
}

// askView is something in the records that speaks against some ways to close the case.
type askView struct {
	Code string `json:"code"`
	Say  string `json:"say"`
	With string `json:"with"` // closing with these words
}

type intakeView struct{ Complaints, Conditions []page.Option }

type eventView struct {
	At   time.Time `json:"at,omitzero"`
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
	At      time.Time `json:"at,omitzero"`
}

// stageView is a stage that a jig can make, and the jigs of the station for it.
type stageView struct {
	Purpose string    `json:"purpose"`
	Button  string    `json:"-"`
	Case    int64     `json:"-"`
	Jigs    []jigView `json:"jigs"`
	Free    int       `json:"-"` // how many of them could be had
	Nowhere string    `json:"nowhere,omitempty"`
	Quiet   bool      `json:"-"`
	Token   string    `json:"-"`
}

type offerView struct{ Word, Why string }

func (v unitView) Tables() []page.Table {
	if v.Keys == nil {
		return nil
	}
	return []page.Table{*v.Keys}
}

// unitRuns lists runs, and starts that have none, newest first.
func unitRuns(v page.Words, runs []runs.Stored, starts []runs.Start, compared map[string][]string) []unitRun {
	out := []unitRun{}
	begun := func(after int64) {
		for len(starts) > 0 && starts[len(starts)-1].AfterRun >= after {
			out = append(out, startedRun(v, starts[len(starts)-1]))
			starts = starts[:len(starts)-1]
		}
	}
	for _, r := range slices.Backward(runs) {
		begun(r.Seq)
		worst := ""
		if len(r.Findings) > 0 {
			place, _ := v.Facts().Place(r.Findings[0])
			worst = v.Say("finding."+r.Findings[0].What) + ": " + place
		}
		out = append(out, unitRun{At: r.Started, Purpose: purpose(v, r.Purpose), Outcome: v.Say("outcome." + string(r.Outcome)), Jig: r.Jig.Serial,
			Operator: r.Operator, Worst: worst, Compared: compared[r.ID.String()], Plant: r.Plant, Alone: returned.DecidedAlone(v.Facts(), r.Plant),
			ID: r.ID.String(), Seq: r.Seq})
	}
	begun(0)
	return out
}

func startedRun(v page.Words, s runs.Start) unitRun {
	outcome := "outcome.unfinished"
	if s.InHand {
		outcome = "outcome.in-hand"
	}
	return unitRun{At: s.Started, Purpose: purpose(v, s.Purpose), Outcome: v.Say(outcome), Jig: s.Jig.Serial, Operator: s.Operator,
		Plant: s.Plant, Alone: returned.DecidedAlone(v.Facts(), s.Plant)}
}

func purpose(v page.Words, p sequence.Purpose) string {
	if p == sequence.Production {
		return v.Say("purpose.production")
	}
	return v.Say("purpose." + page.Key(string(p)))
}

func intakeForm(v page.Words) *intakeView {
	form := &intakeView{}
	for _, c := range returns.Complaints {
		form.Complaints = append(form.Complaints, page.Option{Value: c, Text: v.Say("complaint." + page.Key(c))})
	}
	for _, c := range returns.Conditions {
		text := v.Say("condition." + page.Key(c))
		if returns.IsDamage(c) {
			text += " " + v.Say("condition.ends")
		}
		form.Conditions = append(form.Conditions, page.Option{Value: c, Text: text})
	}
	return form
}

func (l lives) fill(v *page.Visit, view *unitView, life *returned.Life) {
	c := life.Case
	view.Product, view.Simulated = life.Unit(), life.Simulated
	view.Case = &caseView{Number: c.Number, Closed: c.Closed(), Complaint: v.Say("complaint." + page.Key(c.Intake().Complaint)), Seen: seen(v.Words, c.Intake()),
		From: returned.CameFromIn(life, v.Facts()), Found: returned.FoundIn(life, v.Facts()), Result: returned.ResultIn(life, v.Facts())}
	if text := c.Intake().ComplaintText; text != "" {
		view.Case.Complaint += ": " + text
	}
	closing(v, view.Case, life)
	for _, code := range returns.Dispositions {
		view.Case.Codes = append(view.Case.Codes, page.Option{Value: code, Text: v.Say("dispose." + page.Key(code))})
	}
	words := v.Facts()
	for _, e := range returned.EventsIn(life, words) {
		view.Events = append(view.Events, eventView{e.At, e.What, e.Text})
	}
	view.Shipped, view.Doubts, view.Identity = returned.ShippedIn(life, words), returned.AgainstIn(life, words), life.Identified(words)
	for _, p := range c.Photos {
		view.Photos = append(view.Photos, photoView{photoAddress(c, p), p.Name, p.Note, p.At})
	}
	for _, o := range returned.OffersIn(life, words) {
		view.Offers = append(view.Offers, offerView{v.Say("dispose." + page.Key(o.Disposition)), o.Why})
	}
	view.Causes, view.Gone = causes(v.Words, life.Groups), returned.Went(life.Gone, words)
	view.Checking = l.checks.able(v, c)
	view.Ohms = c.Allows(sequence.ReturnTest) == nil && len(l.lanes.Testing(v.Words, c.Product)) > 0
	next := life.Next()
	view.NextCode, view.Next = string(next.Code), words.Desk(next.Code.Say())
	view.Steps = stepsOf(v.Words, life)
	l.inJigs(v, view, life)
	if len(life.Keys) > 0 {
		view.Pad, view.Beside = besidePad(v.Words, life), returned.PadOf(life).Roomy()
		keys := besideTable(v.Words, life)
		view.CSV = UnitAddress(c.Serial) + "&csv=" + keys.Name
		view.Heads = sortRows(&keys, v.Value("sort"), func(by string) string { return UnitAddress(c.Serial) + "&sort=" + by + "#keys" })
		view.Keys = &keys
	}
	if c.Closed() || len(c.Intake().Conditions) == 0 {
		view.Intake = intakeForm(v.Words) // it may come back again
	}
}

// closing says how the case was closed, or what speaks against each way to close it.
func closing(v *page.Visit, view *caseView, life *returned.Life) {
	c, words := life.Case, v.Facts()
	view.Photod, view.Locked, view.Unlock = c.Seen(), c.Locked(), c.Locked() && v.Person.HasRole(page.Engineers)
	if n := len(c.NoPhotos); n > 0 {
		view.NoPhoto = c.NoPhotos[n-1].Reason
	}
	if view.Disposal = c.Disposition().Disposal; c.Closed() {
		for _, a := range c.Disposition().Answered {
			view.Answered = append(view.Answered, words.Desk(a.Say())+": "+a.Answer)
		}
		return
	}
	for _, disposal := range returns.Disposals {
		view.Disposals = append(view.Disposals, page.Option{Value: disposal, Text: v.Say("disposal." + page.Key(disposal))})
	}
	evidence := returns.EvidenceOf(c, life.Shipped, life.Reworks)
	ask := func(with string, list []returns.Contradiction) {
		for _, x := range list {
			i := slices.IndexFunc(view.Asks, func(a askView) bool { return a.Code == string(x.Code) })
			if i < 0 {
				view.Asks = append(view.Asks, askView{string(x.Code), words.Desk(x.Say()), with})
			} else {
				view.Asks[i].With += ", " + with
			}
		}
	}
	for _, code := range returns.Dispositions {
		ask(v.Say("dispose."+page.Key(code)), evidence.Contradictions(code, ""))
	}
	for _, disposal := range returns.Disposals {
		ask(v.Say("disposal."+page.Key(disposal)), evidence.Contradictions("", disposal))
	}
}

func seen(v page.Words, in returns.Intake) string {
	var words []string
	for _, c := range in.Conditions {
		words = append(words, v.Say("condition."+page.Key(c)))
	}
	if in.ConditionText != "" {
		words = append(words, in.ConditionText)
	}
	return strings.Join(words, ", ")
}

func causes(v page.Words, groups []returned.Group) (out []causeView) {
	speaks := func(list []returned.Speaks) (texts []string) {
		for _, s := range list {
			texts = append(texts, s.Reading)
		}
		return texts
	}
	for _, g := range groups {
		g = g.In(v.Facts())
		out = append(out, causeView{int(math.Round(100 * g.Probability)), g.Found, g.Causes, speaks(g.For), speaks(g.Against), g.Check})
	}
	return out
}
