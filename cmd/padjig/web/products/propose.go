package products

import (
	"errors"
	"fmt"
	"net/url"
	"slices"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/answers/trial"
	"padjig/results/releases"
	"padjig/results/runs"
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

// Try is what a revision changes and would have done, and the way to put it in force.
type Try struct {
	Code      string      `json:"code"`
	Label     string      `json:"label"`
	Hash      string      `json:"hash"`
	Against   string      `json:"against"` // label of what it is compared with
	First     bool        `json:"first"`   // there is nothing to compare with
	Back      int64       `json:"back"`    // number of the release it goes back to, 0: a draft
	Same      bool        `json:"same"`
	Mistakes  int         `json:"mistakes"`
	Taken     string      `json:"taken,omitempty"`
	Loosens   bool        `json:"loosens"`
	Changes   []group     `json:"changes"`
	Units     int         `json:"units"`     // judged anew
	Otherwise int         `json:"otherwise"` // of them: would have come out otherwise
	Rejects   []unit      `json:"pass_to_fail"`
	Through   []unit      `json:"fail_to_pass"`
	Trial     []string    `json:"trial"`
	Example   string      `json:"example"` // a serial number of it
	Say       string      `json:"say,omitempty"`
	Strong    bool        `json:"-"`
	Overtakes *openView   `json:"overtakes,omitempty"` // what waits, and is overtaken
	Others    []draftView `json:"others"`
}

// Ready reports whether it may be put in force or proposed.
func (t Try) Ready() bool { return t.Mistakes == 0 && !t.Same && t.Taken == "" && t.Strong }

// Path is the page of the product.
func (t Try) Path() string { return address(t.Code) }

// unit is one that would have come out otherwise.
type unit struct {
	Serial string `json:"serial"`
	Path   string `json:"path"`
}

func units(serials []string) []unit {
	out := []unit{}
	for _, s := range serials {
		out = append(out, unit{s, "/unit?serial=" + url.QueryEscape(s)})
	}
	return out
}

// candidate is what may come into force: the draft of whoever asks, or a release of before.
type candidate struct {
	code, source string
	back         int64
	of           *product.Product
	mistakes     int
}

// tryPage shows what a draft, or going back, would do.
func (p *pages) tryPage(v *page.Visit) (any, error) {
	c, err := p.candidate(v)
	if err != nil {
		return nil, err
	}
	if c == nil {
		return page.Elsewhere(address(v.Place("code")) + "/edit"), nil
	}
	return p.tryOf(v, *c, "")
}

func (p *pages) candidate(v *page.Visit) (*candidate, error) {
	c := candidate{code: v.Place("code")}
	if back := v.Value("back"); back != "" && back != "0" {
		list, err := p.store.Runs.Releases(v.Ctx(), c.code)
		if err != nil {
			return nil, err
		}
		i := slices.IndexFunc(list, func(r runs.Release) bool { return fmt.Sprint(r.Seq) == back })
		if i < 0 {
			return nil, page.NotFound(v.Say("error.release"))
		}
		if c.of, err = list[i].Product(); err != nil {
			return nil, page.Wrong(v.Say("product.notback", list[i].Label))
		}
		c.back, c.source = list[i].Seq, list[i].Source
		return &c, nil
	}
	draft, err := p.draft(v, c.code)
	if err != nil || draft == nil {
		return nil, err
	}
	of, mistakes := read(v, c.code, draft.Source)
	c.source, c.of, c.mistakes = draft.Source, of, len(mistakes)
	return &c, nil
}

// tryOf tries a candidate on units of before. Having seen it opens the way to a release.
func (p *pages) tryOf(v *page.Visit, c candidate, say string) (Try, error) {
	out := Try{Code: c.code, Back: c.back, Mistakes: c.mistakes, Strong: v.Person.Strong, Say: say,
		Changes: []group{}, Rejects: []unit{}, Through: []unit{}, Trial: []string{}}
	if c.of == nil {
		return out, nil
	}
	done, err := p.looks.begin(v)
	if err != nil {
		return out, err
	}
	defer done()
	out.Label, out.Hash, out.Example = c.of.Revision, c.of.Hash(), c.of.Serial.Example()
	t, changes, err := p.try(v, c.of)
	if err != nil {
		return out, err
	}
	if out.First = t.InForce == nil; !out.First {
		out.Against = t.InForce.Revision
	}
	if out.Same, err = p.inForce(v, c.of); err != nil {
		return out, err
	}
	out.Changes, out.Loosens = grouped(v, changes), revise.NeedsTwo(changes)
	out.Units, out.Otherwise = t.Units, len(t.Rejects)+len(t.LetThrough)
	out.Rejects, out.Through, out.Trial = units(t.Rejects), units(t.LetThrough), conclusions(v, c.code, t.Tried)
	taken, err := p.taken(v, c.of)
	if err != nil {
		return out, err
	}
	out.Taken = taken
	if out.Overtakes, err = p.open(v, c.code); err != nil {
		return out, err
	}
	all, err := p.working(v, c.code)
	out.Others = slices.DeleteFunc(all, func(d draftView) bool { return d.Own })
	p.tried.note(v.Person.Name + "\n" + out.Hash)
	return out, err
}

// taken says that a label is known with another definition, and in what they differ.
func (p *pages) taken(v *page.Visit, of *product.Product) (string, error) {
	err := p.store.Runs.CheckLabel(v.Ctx(), station.RevisionOf(of))
	if err == nil && p.line != p.store { // a station would refuse it
		err = p.line.Runs.CheckLabel(v.Ctx(), station.RevisionOf(of))
	}
	if taken, is := errors.AsType[*runs.LabelTaken](err); is {
		return takenBy(v.Words, taken), nil
	}
	return "", err
}

// try has a candidate tried on units of before, and says what it changes.
func (p *pages) try(v *page.Visit, of *product.Product) (trial.Trial, []revise.Change, error) {
	before, err := p.against(v, of.Code)
	if err != nil {
		return trial.Trial{}, nil, err
	}
	var changes []revise.Change
	if before != nil {
		changes = revise.Between(before, of)
	}
	t, err := trial.Of(v.Ctx(), p.line, trial.Asked{Proposed: of, InForce: before})
	return t, changes, err
}

// release puts the text in force that was seen tried; what lets more through is proposed,
// and in force when a second person approves it.
func (p *pages) release(v *page.Visit) (page.Answer, error) {
	if !v.Person.Strong {
		return page.Answer{}, page.Refused(v.Say("error.weak"))
	}
	c, err := p.candidate(v)
	if err != nil {
		return page.Answer{}, err
	}
	if c == nil {
		return page.Answer{}, page.Conflict(v.Say("try.nodraft"))
	}
	if c.of == nil {
		return p.triedAgain(v, *c, v.Say("product.mistakes"))
	}
	hash := c.of.Hash()
	if v.Value("hash") != hash || !p.tried.has(v.Person.Name+"\n"+hash) {
		return p.triedAgain(v, *c, v.Say("try.unseen"))
	}
	reason, err := v.Reason()
	if err != nil {
		return page.Answer{}, err
	}
	err = p.propose(v, c.of, releases.Proposal{
		Code: c.code, Label: c.of.Revision, Hash: hash, Back: c.back > 0, Source: c.source, By: v.Person.Name, Reason: reason, FromSerial: v.Text("from"),
	})
	if taken, is := errors.AsType[*runs.LabelTaken](err); is {
		return p.triedAgain(v, *c, takenBy(v.Words, taken))
	}
	if refused, is := errors.AsType[*releases.Refused](err); is {
		say := v.Facts().Release(string(refused.Code), refused.Args)
		switch refused.Code {
		case releases.NoReason:
			return page.Answer{}, page.WrongField("reason", say)
		case releases.NoSerial:
			return page.Answer{}, page.WrongField("from", say)
		}
		return page.Answer{}, page.Wrong(say)
	}
	if err == nil && c.back == 0 {
		err = p.store.Releases.DropDraft(v.Ctx(), c.code, v.Person.Name)
	}
	return page.Answer{Go: address(c.code)}, err
}

// triedAgain shows the trial once more, with what keeps it from a release.
func (p *pages) triedAgain(v *page.Visit, c candidate, say string) (page.Answer, error) {
	out, err := p.tryOf(v, c, say)
	return page.Answer{Show: "try", View: out}, err
}

// propose tries a revision on units of before and proposes it with what came of that.
func (p *pages) propose(v *page.Visit, of *product.Product, asked releases.Proposal) error {
	t, _, err := p.try(v, of)
	if err != nil {
		return err
	}
	asked.Trial = t.Tried
	if p.line != p.store {
		asked.Elsewhere = t.InForce
	}
	done, err := p.store.Releases.Propose(v.Ctx(), asked)
	if err == nil && done.Released > 0 {
		hold(p.lanes, asked.Code, of)
	}
	return err
}
