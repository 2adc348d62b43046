package lane

import (
	"cmp"
	"errors"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	"padjig/fixture/caught"
	"padjig/fixture/link"
	"padjig/results/runs"
	"padjig/sequence"
)

// View is how a lane stands, said for people.
type View struct {
	Lane      int      `json:"lane"`
	Lanes     int      `json:"lanes"`
	Signal    string   `json:"signal"` // "idle", "run", "pass", "fail", "reseat", "harness", "look" or "lock"
	Phase     string   `json:"phase"`
	Sign      string   `json:"-"`     // its shape; that of the signal, or "halt"
	Word      string   `json:"word"`  // one word, large
	Letters   int      `json:"-"`     // in its longest line, see letters
	Two       bool     `json:"-"`     // it stands in two lines
	Card      string   `json:"card"`  // the same beside other lanes, where nothing can be scanned
	Line      string   `json:"line"`  // one sentence
	Next      string   `json:"next"`  // what to do with the unit
	Steps     []string `json:"steps"` // in this order
	Note      string   `json:"note"`
	Serial    string   `json:"serial"`
	Product   string   `json:"product"`
	Title     string   `json:"title"`
	Attempt   int      `json:"attempt"`
	Limit     int      `json:"limit"`
	Step      string   `json:"step"`
	Count     string   `json:"count"` // how many keys of how many
	Left      string   `json:"left"`  // about how long an exercise still takes
	Done      int      `json:"done"`
	Total     int      `json:"total"`
	Prompt    string   `json:"prompt"`
	Simulated bool     `json:"simulated"`
	Stored    string   `json:"stored"` // id of the run
	Seconds   string   `json:"seconds"`
	Proved    string   `json:"proved"` // what the run proved, in a line
	Held      string   `json:"held"`   // the person at another screen that has control

	Pad        pad.View            `json:"pad"`
	Findings   []findingView       `json:"findings"`
	Conditions []control.Condition `json:"conditions"`
	Halt       *haltView           `json:"halt"` // the stop that holds here; null for none
	Tally      tallyView           `json:"tally"`
	Jig        jigChip             `json:"jig"`

	Tag      bool   `json:"tag"`      // a tag can be printed
	Override bool   `json:"override"` // this person may decide otherwise
	Lift     bool   `json:"lift"`     // it is to go on without a unit that is not placed
	Start    bool   `json:"start"`    // it waits for the start, with the lid closed
	Stop     bool   `json:"stop"`     // something runs that can be stopped
	Clear    bool   `json:"clear"`    // something stands that can be taken away
	Small    string `json:"small"`    // the screen is too small to be read from where people stand; for engineers
	Token    string `json:"-"`

	Products []string `json:"products,omitempty"` // that could be tested here in place of this one; of the whole page alone

	SerialLetters int `json:"-"`
	sounds        []soundView
}

// findingView is one thing wrong, said for an operator.
type findingView struct {
	N      int    `json:"n"`
	What   string `json:"what"`
	Where  string `json:"where"` // the key, or the lines
	Detail string `json:"detail"`
	Value  string `json:"value"`
	Limit  string `json:"limit"`
	Place  string `json:"place"`
	Own    bool   `json:"-"` // place is in the words of the record, which are English
}

// tallyView is the shift in figures.
type tallyView struct {
	Since     string `json:"since"`
	Counts    string `json:"counts"` // what is counted, in a sentence
	Units     int    `json:"units"`  // the next four add up to it
	First     int    `json:"first"`
	Retest    int    `json:"retest"`
	Failed    int    `json:"failed"`
	Open      int    `json:"open"`
	FirstPass string `json:"first_pass"`
	Takt      string `json:"takt"`
	Machine   string `json:"machine"`
	Handling  string `json:"handling"`
	Share     int    `json:"share"` // of the machine in the last unit's time, percent
}

// jigChip is the jig in one line.
type jigChip struct {
	Name    string `json:"name"`
	Present bool   `json:"present"`
	Say     string `json:"say"`
}

// view says how lane n stands to who visits.
func (p *Pages) view(v *page.Visit, n int, s station.State) View {
	out := View{
		Lane: n, Lanes: len(p.lanes.All()), Phase: string(s.Phase), Serial: s.Unit.Serial,
		Product: s.Product.Code, Title: s.Product.Title, Attempt: s.Unit.Attempt, Limit: s.Limit,
		Simulated: s.Jig.Simulated, Pad: padInHand(v.Words, s), Conditions: control.Conditions(v.Words, dues(s.Conditions)),
		Tally: tally(v.Words, s.Tally), Jig: chip(v.Words, s.Jig), Held: p.lanes.Elsewhere(n, v.Screen()),
		Start: s.Phase == station.Armed, Stop: s.Phase.Busy() && s.Phase != station.Storing, Clear: s.Phase == station.Ended || s.Phase == station.Refused,
	}
	if s.Product.Revision != "" {
		out.Product += " " + s.Product.Revision
	}
	if v.Person != nil {
		out.Token = v.Person.Token
		out.Override = overridable(s, v.Person)
		out.Lift = out.Override && s.Refusal.Code == station.FailNotPlaced
	}
	for note := s.Note; note != nil; note = note.More {
		said := v.Say("note."+string(note.Code), page.Each(note.Args)...)
		out.Note = strings.TrimLeft(out.Note+" "+said, " ")
	}
	out.Halt = halt(v, s)
	said := saying{v.Words, &out}
	said.step(s)
	said.speak(s)
	out.Sign = cmp.Or(out.Sign, out.Signal)
	out.Letters, out.Two = letters(out.Word)
	out.SerialLetters, _ = letters(cmp.Or(out.Serial, v.Say("lane.nounit")))
	out.Small, out.sounds = small(v, p.screen), heard(v.Words)
	if out.Halt != nil && s.Phase == station.Ended && s.Verdict.Purpose == sequence.Production && s.Verdict.Reference == nil {
		out.Next = out.Halt.Next // and not: scan it again
	}
	return out
}

// saying puts into words how a lane stands.
type saying struct {
	page.Words
	out *View
}

func (v saying) step(s station.State) {
	p := control.ProgressOf(v.Words, s)
	v.out.Done, v.out.Total, v.out.Step, v.out.Count, v.out.Left, v.out.Prompt = p.Done, p.Total, p.Step, p.Count, p.Left, p.Prompt
}

// set chooses the signal, the word, and the sentences of a key.
func (v saying) set(signal, key string, args ...any) {
	v.out.Signal, v.out.Word, v.out.Line = signal, v.Say("word."+key), v.Say("line."+key, args...)
	if v.out.Card = v.out.Word; v.Has("card." + key) {
		v.out.Card = v.Say("card." + key)
	}
	if v.Has("next." + key) {
		v.out.Next = v.Say("next." + key)
	}
}

// speak says what a lane does, or waits for.
func (v saying) speak(s station.State) {
	switch s.Phase {
	case station.Running:
		v.set("run", "running", s.Unit.Serial)
		if hands := handsOn(s.Ask); s.How == sequence.Hand || hands == "tail" {
			v.out.Line = v.Say("line.running." + hands)
		}
	case station.Storing:
		v.set("run", "storing", s.Unit.Serial)
	case station.Changing:
		v.set("run", "changing")
	case station.Exclusive:
		if s.Unit.Serial == "" { // on the jig itself
			v.set("run", "calibrating", s.Jig.Serial)
			break
		}
		v.set("run", "lent", s.Unit.Serial)
	case station.Lid:
		v.lid(s.Refusal)
		v.out.Next += " " + v.Say(map[bool]string{false: "next.lid.press", true: "next.lid.starts"}[s.LidStarts])
	case station.Armed:
		v.set("look", "armed", s.Unit.Serial)
	case station.Locked:
		v.set("lock", "locked")
	case station.Refused:
		if s.Refusal.Code == station.FailNotPlaced {
			v.owed(s.Refusal.Args[0], s.Refusal.Args[2])
			break
		}
		v.set("look", "refused")
		if s.Refusal.Stop != nil {
			v.out.Sign = "halt"
		}
		v.out.Line, v.out.Next = control.Refusal(v.Words, s.Refusal), v.nextOf(s.Refusal)
	case station.Ended:
		v.verdict(s, *s.Verdict)
		v.waits(s)
	default:
		v.waiting(s)
	}
}

// lid says what the lid has to be opened or closed for.
func (v saying) lid(why *station.Refusal) {
	switch {
	case why != nil && why.Code == station.NotReseated:
		v.set("look", "seatanew", why.Args[0])
		return
	case why == nil || why.Code != station.NotOpened:
		v.set("look", "lid")
		return
	}
	in, scanned := why.Args[0], why.Args[1]
	v.set("look", "exchange", in)
	v.out.Next = v.Say("next.exchange", in, scanned)
}

func (v saying) waiting(s station.State) {
	blocked, jig := s.Blocked(), cmp.Or(s.Jig.Serial, s.Jig.Name)
	_, fell := errors.AsType[*caught.Panicked](s.Jig.Why)
	fell = fell && errors.Is(s.Jig.Why, station.ErrLetGo) // at the line alone, the lane finds its jig again by itself
	switch {
	case fell:
		v.set("look", "fell", jig)
	case errors.Is(s.Jig.Why, station.ErrLetGo):
		v.set("look", "letgo", jig)
	case !s.Jig.Present && s.Jig.Why == nil:
		v.set("idle", "looking", jig)
	case !s.Jig.Present:
		v.set("look", "absent", jig)
		v.out.Note = cmp.Or(link.RemedyOf(s.Jig.Why), v.out.Note)
	case blocked != nil && blocked.Stop > 0:
		v.set("look", "halted")
		v.out.Sign, v.out.Line, v.out.Next = "halt", v.out.Halt.Line, v.out.Halt.Next
	case blocked != nil:
		v.set("look", "blocked")
		v.out.Line = control.Say(v.Words, blocked.Code, blocked.Args, blocked.Text)
		v.out.Next = v.nextOf(&station.Refusal{Code: blocked.Code, Args: blocked.Args})
	case len(s.Owed) > 0:
		v.owed(s.Owed[0].Serial, v.Words.Times().Since(s.Owed[0].Started, time.Now()))
	default:
		v.set("idle", "ready")
	}
}

// waits says what is to be done with the unit of the verdict before another is tested.
func (v saying) waits(s station.State) {
	for _, o := range s.Owed {
		if o.Run != s.Verdict.ID {
			continue
		}
		switch left := v.out.Limit - s.Verdict.Attempt; {
		case s.Verdict.Outcome != sequence.Fail: // it was stopped, and how to go on with it is said
			v.out.Next += " " + v.Say("next.wait")
		case left > 0:
			v.out.Next = v.Say("next.wait.again", left)
		default:
			v.out.Next = v.Say("next.wait")
		}
		v.out.Tag = true
		v.steps(o.Serial)
	}
}

// taggable reports whether a run has found what a tag is for.
func taggable(done station.Done) bool {
	return done.Outcome == sequence.Fail || len(done.Findings) > 0
}

func (v saying) verdict(s station.State, done station.Done) {
	v.out.Stored, v.out.Seconds = done.ID.String(), seconds(v.Words, time.Duration(done.Duration))
	v.out.Simulated = done.Simulated
	v.out.Findings = findings(v.Words, done.Findings)
	v.out.Proved = v.Facts().Proved(done.Run)
	passes := done.Outcome != sequence.Fail && done.Purpose != sequence.Exercise // or may yet
	if missing := v.Facts().MissingAtAGlance(done.Run); passes && missing != "" {
		v.out.Proved += "; " + missing
	}
	switch {
	case done.Reference != nil:
		v.referenceVerdict(done)
	case done.Purpose != sequence.Production:
		v.stage(s, done)
	case done.Outcome == sequence.Pass:
		v.set("pass", "pass")
	case done.Outcome == sequence.Fail:
		v.set("fail", "fail", len(done.Findings))
		v.out.Tag = true
		if done.Attempt < v.out.Limit {
			v.out.Next = v.Say("next.fail.again", v.out.Limit-done.Attempt)
		}
		if done.Why.Code == sequence.SamePad {
			v.out.Note = v.Say("line.same pad", done.Why.Args[0])
		}
	case done.Outcome == sequence.Reseat:
		v.set("reseat", "reseat")
	case done.Outcome == sequence.HarnessGood:
		v.set("harness", string(done.Outcome))
		v.out.Attempt = 0 // none was used
	case done.Why.Code == sequence.SamePad:
		v.set("look", string(done.Why.Code), done.Why.Args[0])
		v.out.Next += " " + v.Say("attempt.kept")
	default:
		v.set("look", string(done.Outcome))
		v.stopped(done)
		v.kept(done)
		if done.Why.Code == sequence.NotCompared {
			v.out.Note, _ = v.Facts().Why(done.Run)
		}
	}
}

// kept says of a run that was not finished whether it used an attempt: it does
// when it had found something.
func (v saying) kept(done station.Done) {
	if !runs.UsesAttempt(done.Run) {
		v.out.Line += " " + v.Say("line.untested")
		v.out.Next += " " + v.Say("attempt.kept")
		return
	}
	v.out.Line += " " + v.Say("line.found")
	v.out.Next += " " + v.Say("attempt.used", max(0, v.out.Limit-done.Attempt))
}

// stopped says what ended a run before it could say anything of the unit.
func (v saying) stopped(done station.Done) {
	code := station.Stilled(done.Cause)
	if code == "" {
		v.out.Note = cmp.Or(link.RemedyOf(done.Cause), v.out.Note)
		return
	}
	v.out.Line = v.Say("stopped." + string(code))
	v.out.Next = v.Say("next.stopped." + string(code))
}

// stage says what came of a stage of a returns case. What is good there has not
// passed, and what was stopped has found nothing out: how far it came is said.
func (v saying) stage(s station.State, done station.Done) {
	what := v.Say("purpose." + page.Key(string(done.Purpose)))
	switch done.Outcome {
	case sequence.Aborted, sequence.Reseat:
		signal := map[sequence.Outcome]string{sequence.Aborted: "look", sequence.Reseat: "reseat"}[done.Outcome]
		v.set(signal, string(done.Outcome))
		v.stopped(done)
		v.out.Line += " " + v.Say("line.stage.again", what)
		if s.Total > 0 && v.out.Signal == "look" {
			v.out.Line += " " + v.Say("line.stage.far", v.Say("step."+s.Step), s.Done, s.Total)
		}
		v.out.Next = v.Say("next.stage." + string(done.Outcome))
		return
	}
	v.set("idle", "stage", what, len(done.Findings))
	why, part := v.Facts().Why(done.Run)
	part = part && done.Outcome == sequence.Incomplete
	asked := done.Why.Code == sequence.SomeExercised // all that was to be done was done
	switch none := len(done.Findings) == 0; {
	case none && part && !asked:
		v.out.Line = v.Say("line.stage.part", why)
		return
	case none:
		v.out.Line = v.Say("line.stage.nothing", what)
	}
	if part {
		v.out.Line += " " + v.Say("line.stage.part", why)
	}
}

// referenceVerdict says whether a reference unit showed what it must, which is
// not whether it passed.
func (v saying) referenceVerdict(done station.Done) {
	if done.Reference.Good() {
		v.set("pass", "reference.good", done.Serial)
		return
	}
	v.set("look", "reference.bad", done.Serial)
	for _, why := range done.Reference.Why {
		v.out.Note += v.Facts().Check(why, done.Run) + " "
	}
}

func (v saying) nextOf(r *station.Refusal) string {
	if key := v.Key("next.code."+string(r.Code), r.Args); v.Has(key) {
		return v.Say(key, page.Each(r.Args)...)
	}
	return v.Say("next.refused")
}

func findings(v page.Words, list []sequence.Finding) []findingView {
	out := []findingView{}
	for i, f := range list {
		out = append(out, finding(v, i+1, f))
	}
	return out
}

func finding(v page.Words, n int, f sequence.Finding) findingView {
	out := findingView{N: n, What: v.Say("finding." + f.What)}
	place, known := v.Facts().Place(f)
	out.Place, out.Own = place, !known
	lines := strings.Join(f.Lines, "–")
	out.Where, out.Detail = v.Say("finding.lines", lines), ""
	if f.Key != "" {
		out.Where, out.Detail = v.Say("finding.key", f.Key), lines
	}
	if f.Value != nil {
		out.Value = amount(v, float64(*f.Value), f.Unit)
	}
	if f.Limit != nil {
		out.Limit = v.Say("finding.limit", amount(v, float64(*f.Limit), f.Unit))
	}
	return out
}

// amount writes a value with its unit, in the steps of the SI.
func amount(v page.Words, value float64, unit string) string {
	symbol := map[string]string{"ohm": "Ω", "V": "V", "ms": "ms", "%": "%"}[unit]
	switch {
	case unit == "ohm" && value >= 1e6:
		return v.Num(2, value/1e6) + " MΩ"
	case unit == "ohm" && value >= 1e4:
		return v.Num(1, value/1e3) + " kΩ"
	case unit == "ohm":
		return v.Num(1, value) + " Ω"
	}
	return strconv.FormatFloat(value, 'g', 4, 64) + " " + symbol
}

func tally(v page.Words, t station.Tally) tallyView {
	out := tallyView{
		Since: v.Clock(t.Since), Units: t.Units, First: t.First, Retest: t.Retest, Failed: t.Failed, Open: t.Open,
		FirstPass: "–", Takt: "–", Machine: "–", Handling: "–", Share: 100,
	}
	kind := "real"
	if t.Of.Simulated {
		kind = "simulated"
	}
	out.Counts = v.Say("tally.counts."+kind, t.Of.Product, t.Of.Jig, out.Since)
	if t.Of.Jig == "" {
		out.Counts = v.Say("tally.counts.none")
	}
	if t.Begun > 0 {
		out.FirstPass = v.Num(1, 100*float64(t.AtOnce)/float64(t.Begun)) + " %"
	}
	if t.Takt > 0 {
		out.Takt = seconds(v, t.Takt)
	}
	if t.Machine > 0 {
		out.Machine = seconds(v, t.Machine)
	}
	if t.Handling > 0 {
		out.Handling = seconds(v, t.Handling)
		out.Share = int(100 * t.Machine / (t.Machine + t.Handling))
	}
	return out
}

func seconds(v page.Words, d time.Duration) string { return v.Num(1, d.Seconds()) + " s" }

func chip(v page.Words, j station.JigState) jigChip {
	name := cmp.Or(j.Serial, j.Name)
	say := v.Say("jig.present", name)
	if !j.Present {
		say = v.Say("jig.absent", name)
	}
	return jigChip{name, j.Present, say}
}
