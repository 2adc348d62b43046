package products

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	view "padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/report"
	"padjig/results/report/pad"
	"padjig/results/runs"
	"padjig/sequence/product"
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
	Stops    []string      `json:"stops"` // by which rules a line of it stops itself
	Pad      view.View     `json:"-"`
	Strong   bool          `json:"-"`
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
		Row: row, Path: p.sources[code].Path, Text: text, Say: say, Reason: v.Value("reason"),
		Pad: view.Show(pad.Of(now.Keys, pad.Plain), v.Say("product.pad", code)), Strong: v.Person.Strong,
	}
	out.Pad.Say = v.Say("product.pad", now.Code)
	for _, rule := range answers.RuleWords(now.Stops) {
		out.Stops = append(out.Stops, report.Say(v.Lang, rule))
	}
	candidate, mistakes := parse(code, text)
	out.Mistakes = mistakes
	if candidate != nil {
		out.Label, out.Same = candidate.Revision, candidate.Hash() == now.Hash()
		out.Changes = changes(now.Canonical(), candidate.Canonical())
		if err := p.labelTaken(v, &out, candidate); err != nil {
			return out, err
		}
	}
	out.Releases, err = p.releases(v, code)
	return out, err
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
		out = append(out, releaseView{r.Seq, r.Label, r.Hash, r.At, r.By, r.Reason, r.Back, i == 0})
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

// release makes a text hold, if there is no mistake in it.
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
	err = p.hold(v, runs.Release{
		Code: code, Label: of.Revision, Hash: of.Hash(), Source: text, By: v.Person.Name, Reason: reason,
	}, of)
	if _, taken := errors.AsType[*runs.LabelTaken](err); taken {
		return p.shown(v, text, "") // which says what differs
	}
	return page.Answer{Go: "/products/" + code}, err
}

// back makes a revision hold again that held before.
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
	r.By, r.Reason, r.Back = v.Person.Name, reason, true
	err = p.hold(v, r, of)
	if taken, is := errors.AsType[*runs.LabelTaken](err); is {
		err = page.Wrong(takenBy(v.Words, taken))
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
