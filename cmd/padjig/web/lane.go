package web

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/bench"
	"padjig/fixture/link"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// lanePage is where units are tested, one jig.
var lanePage = page{path: "/lane/{lane}", name: "lane", who: everyone, view: func(v *visit) (any, error) {
	n, lane, err := v.site.lane(v)
	if err != nil {
		return nil, err
	}
	return v.laneView(n, lane.State()), nil
}}

// laneView is how a lane stands, said for people.
type laneView struct {
	Lane      int    `json:"lane"`
	Lanes     int    `json:"lanes"`
	Signal    string `json:"signal"` // "idle", "run", "pass", "fail", "reseat", "harness", "look" or "lock"
	Phase     string `json:"phase"`
	Word      string `json:"word"` // one word, large
	Long      bool   `json:"-"`    // it has to be smaller to stand in one line
	Card      string `json:"card"` // the same beside other lanes, where nothing can be scanned
	Line      string `json:"line"` // one sentence
	Next      string `json:"next"` // what to do with the unit
	Note      string `json:"note"`
	Serial    string `json:"serial"`
	Product   string `json:"product"`
	Title     string `json:"title"`
	Attempt   int    `json:"attempt"`
	Limit     int    `json:"limit"`
	Step      string `json:"step"`
	Count     string `json:"count"` // how many keys of how many
	Left      string `json:"left"`  // about how long an exercise still takes
	Done      int    `json:"done"`
	Total     int    `json:"total"`
	Prompt    string `json:"prompt"`
	Simulated bool   `json:"simulated"`
	Stored    string `json:"stored"` // id of the run
	Seconds   string `json:"seconds"`
	Held      string `json:"held"` // the person at another screen that has control

	Pad        padView         `json:"pad"`
	Findings   []findingView   `json:"findings"`
	Conditions []conditionView `json:"conditions"`
	Tally      tallyView       `json:"tally"`
	Jig        jigChip         `json:"jig"`

	Tag      bool   `json:"tag"`      // a tag can be printed
	Override bool   `json:"override"` // this person may decide otherwise
	Stop     bool   `json:"stop"`     // something runs that can be stopped
	Clear    bool   `json:"clear"`    // something stands that can be taken away
	Token    string `json:"-"`
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

// conditionView is something about the jig to know before it blocks.
type conditionView struct {
	Text   string `json:"text"`
	Blocks bool   `json:"blocks"`
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

func (v *visit) laneView(n int, s bench.State) laneView {
	out := laneView{
		Lane: n, Lanes: len(v.site.Lanes), Phase: string(s.Phase), Serial: s.Unit.Serial,
		Product: s.Product.Code, Title: s.Product.Title, Attempt: s.Unit.Attempt, Limit: s.Limit,
		Simulated: s.Jig.Simulated, Pad: v.lanePad(s), Conditions: v.conditions(s.Conditions),
		Tally: v.tally(s.Tally), Jig: v.jigChip(s.Jig), Held: v.site.controls[n-1].elsewhere(v.screen()),
		Stop: s.Phase.Busy() && s.Phase != bench.Storing, Clear: s.Phase == bench.Ended || s.Phase == bench.Refused,
	}
	if s.Product.Revision != "" {
		out.Product += " " + s.Product.Revision
	}
	if v.Person != nil {
		out.Token = v.Person.token
		out.Override = overridable(s) && v.Person.may(deciding)
	}
	if s.Note != nil {
		out.Note = v.say("note."+string(s.Note.Code), each(s.Note.Args)...)
	}
	v.step(&out, s)
	v.speak(&out, s)
	return out
}

func each(args []string) []any {
	out := make([]any, len(args))
	for i, a := range args {
		out[i] = a
	}
	return out
}

func (v *visit) step(out *laneView, s bench.State) {
	if s.Phase != bench.Running {
		return
	}
	out.Done, out.Total = s.Done, s.Total
	if s.Total > 0 {
		out.Count = v.say("lane.count", s.Done, s.Total)
	}
	if s.Step != "" {
		out.Step = v.say("step." + s.Step)
	}
	switch {
	case s.Left >= time.Minute:
		out.Left = v.say("lane.left", number(v.Lang, 0, s.Left.Minutes()))
	case s.Left > 0:
		out.Left = v.say("lane.left.soon")
	}
	if s.Ask.Code != "" {
		out.Prompt = v.say("ask."+string(s.Ask.Code), strings.Join(s.Ask.Keys, ", "))
	}
}

// longestLarge is how many letters of a word fit into the panel at full size.
const longestLarge = 8

// speak chooses the signal, the word, and the sentences.
func (v *visit) speak(out *laneView, s bench.State) {
	set := func(signal, key string, args ...any) {
		out.Signal, out.Word, out.Line = signal, v.say("word."+key), v.say("line."+key, args...)
		out.Long = slices.ContainsFunc(strings.Fields(out.Word), func(w string) bool { return len([]rune(w)) > longestLarge })
		if out.Card = out.Word; v.site.text.has("card." + key) {
			out.Card = v.say("card." + key)
		}
		if v.site.text.has("next." + key) {
			out.Next = v.say("next." + key)
		}
	}
	switch s.Phase {
	case bench.Running:
		set("run", "running", s.Unit.Serial)
		if s.How == sequence.Hand {
			out.Line = v.say("line.running." + handsOn(s.Ask))
		}
	case bench.Storing:
		set("run", "storing", s.Unit.Serial)
	case bench.Lent:
		set("run", "lent", s.Unit.Serial)
	case bench.Lid:
		set("look", "lid")
	case bench.Locked:
		set("lock", "locked")
	case bench.Refused:
		set("look", "refused")
		out.Line, out.Next = v.refusal(s.Refusal), v.nextOf(s.Refusal)
	case bench.Ended:
		v.verdict(out, *s.Verdict, set)
	default:
		v.waiting(out, s, set)
	}
}

func (v *visit) waiting(out *laneView, s bench.State, set func(string, string, ...any)) {
	blocked := s.Blocked()
	switch {
	case errors.Is(s.Jig.Why, bench.ErrLetGo):
		set("look", "letgo", s.Jig.Serial)
	case !s.Jig.Present && s.Jig.Why == nil:
		set("idle", "looking", s.Jig.Name)
	case !s.Jig.Present:
		set("look", "absent", s.Jig.Name)
		if remedy := link.RemedyOf(s.Jig.Why); remedy != "" {
			out.Note = remedy
		}
	case blocked != nil:
		set("look", "blocked")
		out.Line = v.condition(blocked.Code, blocked.Args, blocked.Text)
		out.Next = v.nextOf(&bench.Refusal{Code: blocked.Code})
	default:
		set("idle", "ready")
	}
}

func (v *visit) verdict(out *laneView, done bench.Done, set func(string, string, ...any)) {
	out.Stored, out.Seconds = done.ID.String(), v.seconds(done.Duration)
	out.Simulated = done.Simulated
	out.Findings = v.findings(done.Findings)
	switch {
	case done.Reference != nil:
		v.referenceVerdict(out, done, set)
	case done.Purpose != sequence.Production:
		v.stage(out, done, set)
	case done.Outcome == sequence.Pass:
		set("pass", "pass")
	case done.Outcome == sequence.Fail:
		set("fail", "fail", len(done.Findings))
		out.Tag = true
		if done.Attempt < out.Limit {
			out.Next = v.say("next.fail.again", out.Limit-done.Attempt)
		}
	case done.Outcome == sequence.Reseat:
		set("reseat", "reseat")
	case done.Outcome == sequence.HarnessGood:
		set("harness", string(done.Outcome))
		out.Attempt = 0 // none was used
	default:
		set("look", string(done.Outcome))
		v.stopped(out, done)
		v.kept(out, done)
	}
}

// kept says of a run that was not finished whether it used an attempt: it does
// when it had found something.
func (v *visit) kept(out *laneView, done bench.Done) {
	if !runs.UsesAttempt(done.Run) {
		out.Line += " " + v.say("line.untested")
		out.Next += " " + v.say("attempt.kept")
		return
	}
	out.Line += " " + v.say("line.found")
	out.Next += " " + v.say("attempt.used", max(0, out.Limit-done.Attempt))
}

// stopped says what ended a run before it could say anything of the unit.
func (v *visit) stopped(out *laneView, done bench.Done) {
	code := bench.Stilled(done.Cause)
	if code == "" {
		if remedy := link.RemedyOf(done.Cause); remedy != "" {
			out.Note = remedy
		}
		return
	}
	out.Line = v.say("stopped." + string(code))
	out.Next = v.say("next.stopped." + string(code))
}

// stage says what came of a stage of a returns case. What is good there has not
// passed, and what was stopped has found nothing out.
func (v *visit) stage(out *laneView, done bench.Done, set func(string, string, ...any)) {
	what := v.say("purpose." + word(string(done.Purpose)))
	switch done.Outcome {
	case sequence.Aborted, sequence.Reseat:
		signal := map[sequence.Outcome]string{sequence.Aborted: "look", sequence.Reseat: "reseat"}[done.Outcome]
		set(signal, string(done.Outcome))
		v.stopped(out, done)
		out.Line += " " + v.say("line.stage.again", what)
		out.Next = v.say("next.stage." + string(done.Outcome))
		return
	}
	set("idle", "stage", what, len(done.Findings))
	if len(done.Findings) == 0 {
		out.Line = v.say("line.stage.nothing", what)
	}
}

// referenceVerdict says whether a reference unit showed what it must, which is
// not whether it passed.
func (v *visit) referenceVerdict(out *laneView, done bench.Done, set func(string, string, ...any)) {
	if done.Reference.Good() {
		set("pass", "reference.good", done.Serial)
		return
	}
	set("look", "reference.bad", done.Serial)
	for _, why := range done.Reference.Why {
		out.Note += why + " "
	}
}

func (v *visit) refusal(r *bench.Refusal) string {
	return v.condition(r.Code, r.Args, r.Error())
}

// condition says what a code means; where it has none, the error itself, which
// is better than nothing.
func (v *visit) condition(code bench.Code, args []string, text string) string {
	if key := "code." + string(code); code != "" && v.site.text.has(key) {
		shown := each(args)
		if len(shown) > 0 && v.site.text.has("kind."+args[0]) {
			shown[0] = v.say("kind." + args[0])
		}
		return v.say(key, shown...)
	}
	return text
}

func (v *visit) nextOf(r *bench.Refusal) string {
	if key := "next.code." + string(r.Code); v.site.text.has(key) {
		return v.say(key)
	}
	return v.say("next.refused")
}

func (v *visit) conditions(list []bench.Condition) []conditionView {
	out := []conditionView{}
	for _, c := range list {
		out = append(out, conditionView{v.condition(c.Code, c.Args, c.Text), c.Blocks})
	}
	return out
}

func (v *visit) findings(list []sequence.Finding) []findingView {
	out := []findingView{}
	for i, f := range list {
		out = append(out, v.finding(i+1, f))
	}
	return out
}

func (v *visit) finding(n int, f sequence.Finding) findingView {
	out := findingView{N: n, What: v.say("finding." + f.What)}
	place, known := wording.Lang(v.Lang).Place(f)
	out.Place, out.Own = place, !known
	lines := ""
	for i, l := range f.Lines {
		if i > 0 {
			lines += "–"
		}
		lines += l
	}
	out.Where, out.Detail = v.say("finding.lines", lines), ""
	if f.Key != "" {
		out.Where, out.Detail = v.say("finding.key", f.Key), lines
	}
	if f.Value != nil {
		out.Value = v.amount(*f.Value, f.Unit)
	}
	if f.Limit != nil {
		out.Limit = v.say("finding.limit", v.amount(*f.Limit, f.Unit))
	}
	return out
}

// amount writes a value with its unit, in the steps of the SI.
func (v *visit) amount(value float64, unit string) string {
	symbol := map[string]string{"ohm": "Ω", "V": "V", "ms": "ms", "%": "%"}[unit]
	switch {
	case unit == "ohm" && value >= 1e6:
		return number(v.Lang, 2, value/1e6) + " MΩ"
	case unit == "ohm" && value >= 1e4:
		return number(v.Lang, 1, value/1e3) + " kΩ"
	case unit == "ohm":
		return number(v.Lang, 1, value) + " Ω"
	}
	return strconv.FormatFloat(value, 'g', 4, 64) + " " + symbol
}

func (v *visit) tally(t bench.Tally) tallyView {
	out := tallyView{
		Since: t.Since.Local().Format("15:04"), Units: t.Units, First: t.First, Retest: t.Retest, Failed: t.Failed, Open: t.Open,
		FirstPass: "–", Takt: "–", Machine: "–", Handling: "–", Share: 100,
	}
	kind := "real"
	if t.Of.Simulated {
		kind = "simulated"
	}
	out.Counts = v.say("tally.counts."+kind, t.Of.Product, t.Of.Jig, out.Since)
	if t.Of.Jig == "" {
		out.Counts = v.say("tally.counts.none")
	}
	if t.Begun > 0 {
		out.FirstPass = number(v.Lang, 1, 100*float64(t.AtOnce)/float64(t.Begun)) + " %"
	}
	if t.Takt > 0 {
		out.Takt = v.seconds(t.Takt)
	}
	if t.Machine > 0 {
		out.Machine = v.seconds(t.Machine)
	}
	if t.Handling > 0 {
		out.Handling = v.seconds(t.Handling)
		out.Share = int(100 * t.Machine / (t.Machine + t.Handling))
	}
	return out
}

func (v *visit) seconds(d time.Duration) string { return number(v.Lang, 1, d.Seconds()) + " s" }

func (v *visit) jigChip(j bench.JigState) jigChip {
	name := j.Serial
	if name == "" {
		name = j.Name
	}
	say := v.say("jig.present", name)
	if !j.Present {
		say = v.say("jig.absent", name)
	}
	return jigChip{name, j.Present, say}
}

// lanePad is the pad with what is known of the unit in hand. A verdict is about
// stored readings only.
func (v *visit) lanePad(s bench.State) padView {
	var findings []sequence.Finding
	if s.Verdict != nil {
		findings = s.Verdict.Findings
	}
	good, bad := 0, 0
	hidden := s.Phase == bench.Locked
	pad := drawPad(s.Product, func(k int) (string, string) {
		if k >= len(s.Keys) || hidden {
			return "wait", ""
		}
		class, mark := v.keyMark(s.Keys[k], findings)
		if s.Phase == bench.Running && s.How == sequence.Hand {
			class = asked(class, s.Ask, s.Keys[k].Key)
		}
		switch class {
		case "good":
			good++
		case "bad":
			bad++
		}
		return class, mark
	})
	pad.Say = v.say("pad.say", s.Product.Code, good, bad, len(s.Product.Keys))
	pad.Simulated = s.Jig.Simulated
	return pad
}

// handsOn says whether a person who presses the keys is to press now.
func handsOn(ask sequence.Ask) string {
	switch ask.Code {
	case "":
		return "wait"
	case sequence.AskHandsOff:
		return "over"
	}
	return "hand"
}

// asked is how a key looks to a person who presses them: the ones that are
// left, the next of them, and the one that may be let go.
func asked(class string, ask sequence.Ask, key string) string {
	switch {
	case class != "wait" || handsOn(ask) != "hand":
		return class
	case ask.Code == sequence.AskLetGo && slices.Contains(ask.Keys, key):
		return "held"
	case ask.Code == sequence.AskNext && slices.Contains(ask.Keys, key):
		return "ask next"
	}
	return "ask"
}

func (v *visit) keyMark(k sequence.KeyResult, findings []sequence.Finding) (class, mark string) {
	if class = classOf(k.Verdict); class == "wait" {
		return class, "" // nothing is said of it yet
	}
	mark = shortOhms(v.Lang, k)
	if n := findingOf(findings, k); class == "bad" && n > 0 && len(findings) > 1 {
		mark = fmt.Sprintf("%d", n)
	}
	return class, mark
}

// laneStream sends what changes on a lane's page.
var laneStream = stream{path: "/lane/{lane}/live", who: everyone, run: func(v *visit, e *events) error {
	n, lane, err := v.site.lane(v)
	if err != nil {
		return err
	}
	control := v.site.controls[n-1]
	defer control.arrive(v.screen())()
	changes, stop := lane.Listen()
	defer stop()
	turns, stopTurns := control.bell.Listen()
	defer stopTurns()
	sent := sentLane{visit: v, n: n}
	return v.follow(e, changes, turns, func() error { return sent.update(e, lane.State()) })
}}

// sentLane is what a browser was told last.
type sentLane struct {
	*visit
	n     int
	any   bool
	epoch uint64
	held  string
	keys  []keyView
}

// update sends the whole lane when anything but the progress changed, else the
// keys that changed and how far it is.
func (s *sentLane) update(e *events, state bench.State) error {
	view := s.laneView(s.n, state)
	at := state.Changed.UnixMicro()
	if s.any && s.epoch == state.Epoch && s.held == view.Held {
		return s.progress(e, view, at)
	}
	if !s.any { // how it stood before anybody looked says nothing of the way here
		at = 0
	}
	html, err := s.site.part(s.Lang, "lane", "lane-live", view)
	if err != nil {
		return err
	}
	s.any, s.epoch, s.held, s.keys = true, state.Epoch, view.Held, view.Pad.Keys
	return e.send("lane", map[string]any{"html": html, "at": at})
}

func (s *sentLane) progress(e *events, view laneView, at int64) error {
	changed := []keyView{}
	for k, key := range view.Pad.Keys {
		if key.Class != s.keys[k].Class || key.Mark != s.keys[k].Mark {
			changed = append(changed, key)
		}
	}
	s.keys = view.Pad.Keys
	return e.send("progress", map[string]any{
		"keys": changed, "step": view.Step, "done": view.Done, "total": view.Total, "count": view.Count, "left": view.Left,
		"prompt": view.Prompt, "line": view.Line, "at": at,
	})
}
