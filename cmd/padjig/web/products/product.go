package products

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	view "padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	"padjig/results/answers/trial"
	"padjig/results/releases"
	"padjig/results/report"
	"padjig/results/report/pad"
	"padjig/results/runs"
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

// productPage is the name of the page of one product.
const productPage = "product"

// product is one product: its file with the mistakes in it, what would
// change, and the releases.
func (p *pages) product(v *page.Visit) (any, error) {
	code := v.Place("code")
	return p.view(v, code, p.file(code).Text, "")
}

// View is a product with a text of its file.
type View struct {
	Row
	Path     string        `json:"path"`
	Text     string        `json:"text"`
	Mistakes []mistakeView `json:"mistakes"`
	Changes  []change      `json:"changes"`
	Same     bool          `json:"same"` // means what holds already
	Label    string        `json:"label"`
	Reason   string        `json:"-"`
	Say      string        `json:"say,omitempty"`
	Releases []releaseView `json:"releases"`
	Loosens  bool          `json:"loosens"` // it needs a second person
	Classed  []classed     `json:"classed"` // what it changes against what is in force
	Trial    []string      `json:"trial"`   // what it would have done
	From     string        `json:"-"`       // serial number as it was typed
	Open     *openView     `json:"open,omitempty"`
	Pad      view.View     `json:"-"`
	Strong   bool          `json:"-"`
	Engineer bool          `json:"-"`
}

// classed is a change in words.
type classed struct {
	Class revise.Class `json:"class"`
	Way   string       `json:"way"`
	Text  string       `json:"text"`
}

// openView is what waits for a second person.
type openView struct {
	Label   string    `json:"label"`
	Hash    string    `json:"hash"`
	By      string    `json:"by"`
	Reason  string    `json:"reason"`
	At      time.Time `json:"at"`
	From    string    `json:"from_serial"`
	Classed []classed `json:"classed"`
	Trial   []string  `json:"trial"`
	Source  string    `json:"source"`
	Own     bool      `json:"own"` // proposed by who looks at it
}

// mistakeView is a mistake with the line it is in and a mark below its place.
type mistakeView struct {
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Message string `json:"message"`
	Source  string `json:"source"`
	Mark    string `json:"mark"`
}

type releaseView struct {
	Seq    int64     `json:"seq"`
	Label  string    `json:"label"`
	Hash   string    `json:"hash"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Reason string    `json:"reason"`
	Back   bool      `json:"back"`
	Holds  bool      `json:"holds"`

	Approved string `json:"approved,omitempty"`    // by whom
	From     string `json:"from_serial,omitempty"` // of the first unit that may be tested by it
	First    string `json:"first_tested,omitempty"`
}

func (p *pages) view(v *page.Visit, code, text, say string) (View, error) {
	now := p.lanes.Holding(func(p *product.Product) bool { return p.Code == code })
	if now == nil {
		return View{}, page.NotFound(v.Say("error.product"))
	}
	row, err := p.row(v, now)
	if err != nil {
		return View{}, err
	}
	out := View{
		Row: row, Path: p.sources[code].Path, Text: text, Say: say, Reason: v.Value("reason"), From: v.Value("from"),
		Engineer: v.Person.Role == account.Engineer, Classed: []classed{}, Trial: []string{},
		Pad: view.Show(pad.Of(now.Keys, pad.Plain), v.Say("product.pad", code)), Strong: v.Person.Strong,
	}
	out.Pad.Say = v.Say("product.pad", now.Code)
	candidate, mistakes := parse(code, text)
	out.Mistakes = mistakes
	if candidate != nil {
		out.Label, out.Same = candidate.Revision, candidate.Hash() == now.Hash()
		out.Changes = changes(now.Canonical(), candidate.Canonical())
		if err := p.labelTaken(v, &out, candidate); err != nil {
			return out, err
		}
		if err := p.would(v, &out, candidate); err != nil {
			return out, err
		}
	}
	if out.Open, err = p.open(v, code); err != nil {
		return out, err
	}
	out.Releases, err = p.releases(v, code)
	return out, err
}

// would says what a candidate changes, and what it would have done to units of before.
func (p *pages) would(v *page.Visit, out *View, candidate *product.Product) error {
	t, changes, err := p.try(v, candidate)
	if err != nil || len(changes) == 0 {
		return err
	}
	out.Loosens, out.Classed, out.Trial = revise.NeedsTwo(changes), inWords(v, changes), conclusions(v, candidate.Code, t.Tried)
	return nil
}

// try has a candidate tried on units of before, and says what it changes.
func (p *pages) try(v *page.Visit, candidate *product.Product) (trial.Trial, []revise.Change, error) {
	before, err := p.store.Releases.Against(v.Ctx(), candidate.Code)
	var changes []revise.Change
	if err == nil && before != nil {
		changes = revise.Between(before, candidate)
	}
	if err != nil || before != nil && len(changes) == 0 {
		return trial.Trial{}, nil, err
	}
	t, err := trial.Of(v.Ctx(), p.store, trial.Asked{Proposed: candidate, InForce: before})
	return t, changes, err
}

func inWords(v *page.Visit, changes []revise.Change) []classed {
	out := []classed{}
	words := v.Facts()
	for _, c := range changes {
		out = append(out, classed{c.Class, words.Class(c.Class), words.Change(c)})
	}
	return out
}

// conclusions tells what a trial came to, with the changes that do not show in it.
func conclusions(v *page.Visit, code string, t releases.Tried) []string {
	out := []string{}
	for _, s := range trial.Words(code, t) {
		out = append(out, report.Told(v.Lang, s))
	}
	for _, c := range t.Blind {
		out = append(out, v.Say("product.blind", v.Facts().Change(c)))
	}
	return out
}

// open is what waits for a second person, nil for nothing.
func (p *pages) open(v *page.Visit, code string) (*openView, error) {
	asked, err := p.store.Releases.Open(v.Ctx(), code)
	if err != nil || asked == nil {
		return nil, err
	}
	return &openView{
		Label: asked.Label, Hash: asked.Hash, By: asked.By, Reason: asked.Reason, At: asked.At, From: asked.FromSerial,
		Classed: inWords(v, asked.Changes), Trial: conclusions(v, code, asked.Trial), Source: asked.Source,
		Own: releases.SamePerson(asked.By, v.Person.Name),
	}, nil
}

// labelTaken says that the candidate's label is known with another definition,
// and in what they differ.
func (p *pages) labelTaken(v *page.Visit, out *View, candidate *product.Product) error {
	err := p.store.Runs.CheckLabel(v.Ctx(), station.RevisionOf(candidate))
	taken, is := errors.AsType[*runs.LabelTaken](err)
	if !is {
		return err
	}
	out.Say = takenBy(v.Words, taken)
	return nil
}

func takenBy(v page.Words, by *runs.LabelTaken) string {
	return v.Say("product.taken", by.Known, product.SayDifferences(by.Differences))
}

func (p *pages) releases(v *page.Visit, code string) ([]releaseView, error) {
	list, err := p.store.Runs.Releases(v.Ctx(), code)
	out := []releaseView{}
	for i, r := range list {
		one := releaseView{r.Seq, r.Label, r.Hash, r.At, r.By, r.Reason, r.Back, i == 0, r.Approved, r.FromSerial, ""}
		if err == nil && i == 0 && r.FromSerial != "" {
			one.First, err = p.store.Releases.FirstTested(v.Ctx(), r)
		}
		out = append(out, one)
	}
	return out, err
}

// parse reads a product file at hand; the mistakes come with their lines.
func parse(code, text string) (*product.Product, []mistakeView) {
	p, err := product.Parse(code, []byte(text))
	if err == nil && p.Code != code {
		err = product.Mistakes{{Line: 1, Column: 1, Message: fmt.Sprintf("this is product %s, not %s", p.Code, code)}}
	}
	if err == nil {
		return p, []mistakeView{}
	}
	list, ok := errors.AsType[product.Mistakes](err)
	if !ok {
		list = product.Mistakes{{Line: 1, Column: 1, Message: err.Error()}}
	}
	lines := strings.Split(text, "\n")
	var out []mistakeView
	for _, m := range list {
		view := mistakeView{Line: m.Line, Column: m.Column, Message: m.Message}
		if m.Line >= 1 && m.Line <= len(lines) {
			view.Source = strings.TrimRight(lines[m.Line-1], "\r")
			view.Mark = strings.Repeat(" ", max(m.Column-1, 0)) + "▲"
		}
		out = append(out, view)
	}
	return nil, out
}

// change is one thing that is tested or drawn otherwise.
type change struct {
	Where string `json:"where"`
	From  string `json:"from"`
	To    string `json:"to"`
}

// changes are the differences between two canonical products.
func changes(from, to []byte) []change {
	out := []change{}
	for _, d := range product.Differences(from, to) {
		out = append(out, change(d))
	}
	return out
}

// check looks for mistakes in a text that is not saved anywhere.
func (p *pages) check(v *page.Visit) (page.Answer, error) { return p.shown(v, formText(v), "") }

// formText is the text of a product file as a browser sends it.
func formText(v *page.Visit) string { return strings.ReplaceAll(v.Value("text"), "\r\n", "\n") }

func (p *pages) shown(v *page.Visit, text, say string) (page.Answer, error) {
	view, err := p.view(v, v.Place("code"), text, say)
	return page.Answer{Show: productPage, View: view}, err
}

// release makes a text hold, if there is no mistake in it; what lets more through is
// proposed, and holds when a second person approves it.
func (p *pages) release(v *page.Visit) (page.Answer, error) {
	code, text := v.Place("code"), formText(v)
	reason, err := decided(v)
	if err != nil {
		return page.Answer{}, err
	}
	of, mistakes := parse(code, text)
	if len(mistakes) > 0 {
		return p.shown(v, text, v.Say("product.mistakes"))
	}
	err = p.propose(v, of, releases.Proposal{
		Code: code, Label: of.Revision, Hash: of.Hash(), Source: text, By: v.Person.Name, Reason: reason, FromSerial: v.Text("from"),
	})
	if _, taken := errors.AsType[*runs.LabelTaken](err); taken {
		return p.shown(v, text, "") // which says what differs
	}
	if refused, is := errors.AsType[*releases.Refused](err); is {
		return p.shown(v, text, v.Facts().Release(string(refused.Code), refused.Args))
	}
	return page.Answer{Go: "/products/" + code}, err
}

// propose tries a revision on units of before and proposes it with what came of that.
func (p *pages) propose(v *page.Visit, of *product.Product, asked releases.Proposal) error {
	t, _, err := p.try(v, of)
	if err != nil {
		return err
	}
	asked.Trial = t.Tried
	done, err := p.store.Releases.Propose(v.Ctx(), asked)
	if err == nil && done.Released > 0 {
		p.hold(asked.Code, of)
	}
	return err
}

// approve puts what somebody else proposed in force: just the text that was looked at.
func (p *pages) approve(v *page.Visit) (page.Answer, error) {
	code := v.Place("code")
	if !v.Person.Strong {
		return page.Answer{}, page.Refused(v.Say("error.weak"))
	}
	done, err := p.store.Releases.Approve(v.Ctx(), code, v.Value("hash"), v.Person.Name)
	if refused, is := errors.AsType[*releases.Refused](err); is {
		return page.Answer{}, page.Wrong(v.Facts().Release(string(refused.Code), refused.Args))
	}
	if err != nil {
		return page.Answer{}, err
	}
	of, err := product.ParseKept(code, []byte(done.Source))
	if err == nil {
		p.hold(code, of)
	}
	return page.Answer{Go: "/products/" + code}, err
}

// back makes a revision hold again that held before; one that lets more through than what
// holds now is proposed.
func (p *pages) back(v *page.Visit) (page.Answer, error) {
	code := v.Place("code")
	reason, err := decided(v)
	if err != nil {
		return page.Answer{}, err
	}
	list, err := p.store.Runs.Releases(v.Ctx(), code)
	if err != nil {
		return page.Answer{}, err
	}
	i := slices.IndexFunc(list, func(r runs.Release) bool { return fmt.Sprint(r.Seq) == v.Value("seq") })
	if i < 0 {
		return page.Answer{}, page.NotFound(v.Say("error.release"))
	}
	r := list[i]
	of, err := r.Product()
	if err != nil {
		return page.Answer{}, page.Wrong(v.Say("product.notback", r.Label))
	}
	err = p.propose(v, of, releases.Proposal{
		Code: code, Label: r.Label, Hash: r.Hash, Back: true, Source: r.Source, By: v.Person.Name, Reason: reason, FromSerial: v.Text("from"),
	})
	if taken, is := errors.AsType[*runs.LabelTaken](err); is {
		err = page.Wrong(takenBy(v.Words, taken))
	}
	if refused, is := errors.AsType[*releases.Refused](err); is {
		err = page.Wrong(v.Facts().Release(string(refused.Code), refused.Args))
	}
	return page.Answer{Go: "/products/" + code}, err
}

// decided is the reason of who may decide: it needs a password.
func decided(v *page.Visit) (reason string, err error) {
	if !v.Person.Strong {
		return "", page.Refused(v.Say("error.weak"))
	}
	return v.Reason()
}
