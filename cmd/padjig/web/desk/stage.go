package desk

import (
	"cmp"
	"errors"
	"html/template"
	"slices"
	"strconv"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	drawing "padjig/results/report/pad"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/decide"
)

// stages has the jigs of the station make the stages of cases, and shows how far they are.
type stages struct {
	finder
	lanes *control.Lanes
}

// The exercise that the page offers: no miss in so many presses bounds how often
// a key misses at 1 % with 95 % confidence; then each key is held and watched.
const (
	boundOfExercise = 0.01
	heldInExercise  = 2 * time.Second
)

// jigView is a jig of the station that a case could take, or why it cannot have it now.
type jigView struct {
	Lane    int    `json:"lane"`
	Text    string `json:"text"`
	Refused string `json:"refused,omitempty"`
}

// jigs are those of the lanes that test a product, for a unit of which what is known is from simulated
// jigs or from real ones; nil where nothing is known. None where no lane tests it.
func jigs(v *page.Visit, lanes *control.Lanes, product string, simulated *bool) (list []jigView) {
	for i, lane := range lanes.All() {
		s := lane.State()
		if s.Product.Code != product {
			continue
		}
		list = append(list, jigView{i + 1, v.Say("stage.lane", i+1, cmp.Or(s.Jig.Serial, s.Jig.Name)), taken(v, lanes, i+1, s, simulated)})
	}
	return list
}

// taken says why a jig cannot be had now; empty where it can.
func taken(v *page.Visit, lanes *control.Lanes, n int, s station.State, simulated *bool) string {
	held, blocked := lanes.Elsewhere(n, control.DeskOf(v)), s.Blocked()
	switch {
	case errors.Is(s.Jig.Why, station.ErrLetGo):
		return v.Say("stage.letgo")
	case !s.Jig.Present:
		return v.Say("stage.away")
	case s.Phase.Busy():
		return v.Say("stage.busy", s.Unit.Serial)
	case simulated != nil && *simulated != s.Jig.Simulated:
		return v.Say("stage.othersort")
	case blocked != nil:
		return control.Say(v.Words, blocked.Code, blocked.Args, blocked.Text)
	case held != "":
		return v.Say("control.held", held)
	}
	return ""
}

// sortOf says whether a case is on simulated jigs; nil before its first stage.
func sortOf(c returns.Case) *bool {
	if len(c.Stages) == 0 {
		return nil
	}
	return new(c.Simulated())
}

// begin has a stage of a case made on a lane, and shows it on the page of the unit. The store
// refuses what is out of order.
func (g stages) begin(v *page.Visit, c returns.Case) (page.Answer, error) {
	n, lane, err := g.lanes.Asked(v)
	if err != nil {
		return page.Answer{}, err
	}
	reworks, err := g.store.Returns.Reworks(v.Ctx(), c.Serial)
	if err != nil {
		return page.Answer{}, err
	}
	r := &station.Return{Case: c, Purpose: sequence.Purpose(v.Value("purpose"))}
	if r.Purpose == sequence.Exercise {
		r.Exercising = sequence.Exercising{Presses: decide.PressesFor(boundOfExercise), Hold: heldInExercise}
	}
	if err := c.Allows(r.Purpose); err != nil {
		return page.Answer{}, said(v.Words, err)
	}
	if at := g.lanes.With(c.Serial); at > 0 && at != n {
		return page.Answer{}, page.Wrong(v.Say("stage.runs", at))
	}
	if c.Done(r.Purpose) && c.Next(reworks).Purpose() != r.Purpose { // from a page that was loaded before: the page itself offers it no more
		return page.Answer{}, page.Wrong(v.Say("stage.made", purpose(v.Words, r.Purpose)))
	}
	if err := g.lanes.UseAtDesk(v, n); err != nil {
		return page.Answer{}, err
	}
	lane.Scan(station.Scan{Serial: c.Serial, Operator: v.Person.Name, Return: r})
	return page.Answer{Go: UnitAddress(c.Serial)}, nil
}

// start starts the stage of a case that waits for that with the lid closed.
func (g stages) start(v *page.Visit, c returns.Case) (page.Answer, error) {
	n := g.lanes.With(c.Serial)
	if n == 0 || v.Late() {
		return page.Answer{}, page.Conflict(v.Say("start.late"))
	}
	if err := g.lanes.UseAtDesk(v, n); err != nil {
		return page.Answer{}, err
	}
	g.lanes.All()[n-1].Start(c.Serial)
	return page.Answer{Go: UnitAddress(c.Serial)}, nil
}

// stop stops what a jig does with the unit of a case: it lets go, and what it read is stored as
// far as it was.
func (g stages) stop(v *page.Visit, c returns.Case) (page.Answer, error) {
	if n := g.lanes.With(c.Serial); n > 0 {
		g.lanes.All()[n-1].Stop()
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, nil
}

// giveBack takes away what a lane says of the unit of a case: the jig is anybody's again.
func (g stages) giveBack(v *page.Visit, c returns.Case) (page.Answer, error) {
	if n := g.showing(c.Serial); n > 0 {
		g.lanes.All()[n-1].Clear()
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, nil
}

// showing is the lane that has a unit in hand or still says something of it, 0 for none.
func (g stages) showing(serial string) int {
	for i, lane := range g.lanes.All() {
		if s := lane.State(); s.Unit.Serial == serial && s.Phase != station.Ready {
			return i + 1
		}
	}
	return 0
}

// inJig is what a jig does with the unit of a case, or why it does not.
type inJig struct {
	control.Progress
	Case  int64         `json:"case"`
	Lane  int           `json:"lane"`
	Phase string        `json:"phase"`
	Say   string        `json:"say"`
	Moves bool          `json:"moves"` // it is in hand
	Start bool          `json:"-"`     // it waits for the start
	Stop  bool          `json:"-"`     // it can be stopped
	Back  bool          `json:"-"`     // the jig can be given back
	Over  bool          `json:"-"`     // it is what a stage came to, and the jig is given back by itself
	Pad   template.HTML `json:"-"`
	Keys  []pad.Key     `json:"-"`
	Token string        `json:"-"`
}

// inJig says what the jig does with the unit of a case; nil where none has to do with it.
func (g stages) inJig(v *page.Visit, c returns.Case) *inJig {
	n := g.showing(c.Serial)
	if n == 0 {
		return nil
	}
	s := g.lanes.All()[n-1].State()
	out := &inJig{Progress: control.ProgressOf(v.Words, s), Case: c.Number, Lane: n, Phase: string(s.Phase), Moves: s.Phase.Busy(),
		Start: s.Phase == station.Armed, Stop: s.Phase.Busy() && s.Phase != station.Storing, Back: !s.Phase.Busy(), Over: stageOver(s), Token: v.Person.Token}
	jig := cmp.Or(s.Jig.Serial, s.Jig.Name)
	switch s.Phase {
	case station.Lid:
		out.Say = v.Say("stage.lid", n, jig)
		if s.Refusal != nil && s.Refusal.Code == station.NotOpened {
			out.Say = v.Say("next.exchange", s.Refusal.Args[0], s.Refusal.Args[1])
		}
	case station.Armed:
		out.Say = v.Say("stage.armed", n, jig)
	case station.Storing:
		out.Say = v.Say("stage.storing", n, jig)
	case station.Exclusive:
		out.Say = v.Say("line.lent", c.Serial)
	case station.Refused:
		out.Say = v.Say("stage.refused", n, jig, control.Refusal(v.Words, s.Refusal))
	case station.Running:
		out.Say = v.Say("stage.running", n, jig)
	default:
		out.Say = v.Say("stage.shows", n, jig)
	}
	if s.Phase == station.Running || s.Phase == station.Storing {
		drawn := pad.OfRun(v.Lang, s.Product, s.Keys, nil)
		for i := range drawn.Keys {
			if s.How == sequence.Hand && s.Ask.Code == sequence.AskNext && slices.Contains(s.Ask.Keys, drawn.Keys[i].Label) {
				drawn.Keys[i].State = drawing.Next
			}
		}
		view := pad.Show(drawn, v.Say("pad.say", s.Product.Code, 0, 0, len(s.Product.Keys)))
		out.Pad, out.Keys = view.Live(), view.Keys
	}
	return out
}

// live sends how far a stage is to the page of its unit, until the lane is done with it; then
// the jig is given back.
func (g stages) live(v *page.Visit, e *page.Events) error {
	c, err := g.placed(v)
	if err != nil {
		return err
	}
	n := g.lanes.With(c.Serial)
	if n == 0 { // it was over before its page had come
		if n = g.showing(c.Serial); n > 0 && stageOver(g.lanes.All()[n-1].State()) {
			g.lanes.All()[n-1].Clear()
		}
		return e.Send("fresh", map[string]string{"go": UnitAddress(c.Serial)})
	}
	lane := g.lanes.All()[n-1]
	holds, leave := g.lanes.Watch(n, control.DeskOf(v))
	defer leave()
	changes, stop := lane.Subscribe()
	defer stop()
	var sent sentStage
	err = e.Follow(v, changes, holds, func() error {
		s := lane.State()
		if s.Unit.Serial == c.Serial && s.Phase.Busy() {
			return sent.update(e, g.inJig(v, c), s.Epoch)
		}
		if s.Unit.Serial == c.Serial && stageOver(s) {
			lane.Clear()
		}
		return cmp.Or(e.Send("fresh", map[string]string{"go": UnitAddress(c.Serial)}), errOver)
	})
	if errors.Is(err, errOver) {
		return nil
	}
	return err
}

// stageOver reports that a lane shows what a stage of a case came to.
func stageOver(s station.State) bool {
	return s.Phase == station.Ended && s.Verdict.Purpose != sequence.Production
}

// errOver ends a stream that has said all.
var errOver = errors.New("over")

// sentStage is what a browser was told last of a stage.
type sentStage struct {
	any   bool
	epoch uint64
	keys  []pad.Key
}

// update sends all of it when anything but the progress changed, else the keys that changed and how far it is.
func (sent *sentStage) update(e *page.Events, now *inJig, epoch uint64) error {
	if now == nil {
		return nil // it was over between two looks, and the next change says so
	}
	if !sent.any || sent.epoch != epoch || len(sent.keys) != len(now.Keys) {
		html, err := e.Part("unit", "case-jig", now)
		if err != nil {
			return err
		}
		sent.any, sent.epoch, sent.keys = true, epoch, now.Keys
		return e.Send("lane", map[string]any{"html": html})
	}
	changed := []pad.Key{}
	for i, key := range now.Keys {
		if key.Class != sent.keys[i].Class || key.Mark != sent.keys[i].Mark {
			changed = append(changed, key)
		}
	}
	sent.keys = now.Keys
	return e.Send("progress", map[string]any{"keys": changed, "step": now.Step, "done": now.Done, "total": now.Total, "count": now.Count,
		"left": now.Left, "prompt": now.Prompt, "line": now.Say})
}

// said turns what cannot be done at this point of a case into something a person is told,
// in words of their language where it has a code.
func said(v page.Words, err error) error {
	if why := returns.WhyNot(err); why.Code != "" {
		if field := fieldOf[why.Code]; field != "" {
			return page.WrongField(field, v.Facts().Desk(why))
		}
		return page.Wrong(v.Facts().Desk(why))
	}
	if errors.Is(err, returns.ErrStage) || errors.Is(err, returns.ErrWords) || errors.Is(err, returns.ErrRework) {
		return page.Wrong(v.Told(err))
	}
	return err
}

// fieldOf is the field of its form that a refusal is about.
var fieldOf = map[sequence.Code]string{"not now.note": "note", "not now.where": "at", "not now.lot": "lot", "not now.no lot": "lot",
	"not now.why suspected": "reason", "not now.place": "at", "not now.no place": "at",
	"not now.no place, near": "at"}

// watched is the address of the stream of a case.
func watched(c int64) string { return "/returns/case/" + strconv.FormatInt(c, 10) + "/live" }
