package web

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"padjig/cmd/padjig/bench"
	"padjig/results/runs"
	"padjig/sequence/product"
)

// productPage is one product: its file with the mistakes in it, what would
// change, and the releases.
var productPage = page{path: "/products/{code}", name: "product", who: fixtures, view: func(v *visit) (any, error) {
	code := v.r.PathValue("code")
	return v.productView(code, v.site.file(code).Text, "")
}}

type productView struct {
	productRow
	Path     string        `json:"path"`
	Text     string        `json:"text"`
	Mistakes []mistakeView `json:"mistakes"`
	Changes  []change      `json:"changes"`
	Same     bool          `json:"same"` // means what holds already
	Label    string        `json:"label"`
	Reason   string        `json:"-"`
	Say      string        `json:"say,omitempty"`
	Releases []releaseView `json:"releases"`
	Pad      padView       `json:"-"`
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

func (v *visit) productView(code, text, say string) (productView, error) {
	p := v.site.holding(code)
	if p == nil {
		return productView{}, notFound(v.say("error.product"))
	}
	row, err := v.productRow(p)
	if err != nil {
		return productView{}, err
	}
	out := productView{
		productRow: row, Path: v.site.Sources[code].Path, Text: text, Say: say, Reason: v.r.FormValue("reason"),
		Pad: drawPad(p, func(int) (string, string) { return "wait", "" }), Strong: v.Person.Strong,
	}
	out.Pad.Say = v.say("product.pad", p.Code)
	candidate, mistakes := parse(code, text)
	out.Mistakes = mistakes
	if candidate != nil {
		out.Label, out.Same = candidate.Revision, candidate.Hash() == p.Hash()
		out.Changes = changes(p.Canonical(), candidate.Canonical())
		if err := v.labelTaken(&out, candidate); err != nil {
			return out, err
		}
	}
	out.Releases, err = v.releases(code)
	return out, err
}

// labelTaken says that the candidate's label is known with another definition,
// and in what they differ.
func (v *visit) labelTaken(out *productView, candidate *product.Product) error {
	err := v.site.Store.Runs.CheckLabel(v.r.Context(), bench.RevisionOf(candidate))
	taken, is := errors.AsType[*runs.LabelTaken](err)
	if !is {
		return err
	}
	out.Say = v.taken(taken)
	return nil
}

func (v *visit) taken(by *runs.LabelTaken) string {
	return v.say("product.taken", by.Known, product.SayDifferences(by.Differences))
}

func (v *visit) releases(code string) ([]releaseView, error) {
	list, err := v.site.Store.Runs.Releases(v.r.Context(), code)
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

// checkAction looks for mistakes in a text that is not saved anywhere.
var checkAction = action{path: "/products/{code}/check", who: fixtures, do: func(v *visit) (answer, error) {
	return v.shownProduct(v.formText(), "")
}}

// formText is the text of a product file as a browser sends it.
func (v *visit) formText() string { return strings.ReplaceAll(v.r.FormValue("text"), "\r\n", "\n") }

func (v *visit) shownProduct(text, say string) (answer, error) {
	view, err := v.productView(v.r.PathValue("code"), text, say)
	return answer{page: &productPage, view: view}, err
}

// releaseAction makes a text hold, if there is no mistake in it.
var releaseAction = action{path: "/products/{code}/release", who: fixtures, do: func(v *visit) (answer, error) {
	code, text := v.r.PathValue("code"), v.formText()
	if err := v.deciding(); err != nil {
		return answer{}, err
	}
	p, mistakes := parse(code, text)
	if len(mistakes) > 0 {
		return v.shownProduct(text, v.say("product.mistakes"))
	}
	err := v.release(runs.Release{
		Code: code, Label: p.Revision, Hash: p.Hash(), Source: text, By: v.Person.Name, Reason: v.reason(),
	}, p)
	if _, taken := errors.AsType[*runs.LabelTaken](err); taken {
		return v.shownProduct(text, "") // which says what differs
	}
	return answer{Go: "/products/" + code}, err
}}

// backAction makes a revision hold again that held before.
var backAction = action{path: "/products/{code}/back", who: fixtures, do: func(v *visit) (answer, error) {
	code := v.r.PathValue("code")
	if err := v.deciding(); err != nil {
		return answer{}, err
	}
	list, err := v.site.Store.Runs.Releases(v.r.Context(), code)
	if err != nil {
		return answer{}, err
	}
	for _, r := range list {
		if fmt.Sprint(r.Seq) != v.r.FormValue("seq") {
			continue
		}
		p, err := r.Product()
		if err != nil {
			return answer{}, wrong(v.say("product.notback", r.Label))
		}
		r.By, r.Reason, r.Back = v.Person.Name, v.reason(), true
		err = v.release(r, p)
		if taken, is := errors.AsType[*runs.LabelTaken](err); is {
			err = wrong(v.taken(taken))
		}
		return answer{Go: "/products/" + code}, err
	}
	return answer{}, notFound(v.say("error.release"))
}}

func (v *visit) reason() string { return strings.TrimSpace(v.r.FormValue("reason")) }

// deciding refuses what needs a password and a reason.
func (v *visit) deciding() error {
	switch {
	case !v.Person.Strong:
		return refused(v.say("error.weak"))
	case len([]rune(v.reason())) < shortestReason:
		return wrong(v.say("override.reason", shortestReason))
	}
	return nil
}
