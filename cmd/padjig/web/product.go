package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"padjig/results"
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
		out.Changes = compare(p.Canonical(), candidate.Canonical())
	}
	out.Releases, err = v.releases(code)
	return out, err
}

func (v *visit) releases(code string) ([]releaseView, error) {
	list, err := v.site.Store.Releases(v.r.Context(), code)
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

// compare says in what two canonical products differ, place by place.
func compare(from, to []byte) []change {
	a, b := map[string]string{}, map[string]string{}
	flatten(from, a)
	flatten(to, b)
	every := maps.Clone(a)
	maps.Copy(every, b)
	out := []change{}
	for _, where := range slices.Sorted(maps.Keys(every)) {
		if a[where] != b[where] {
			out = append(out, change{where, a[where], b[where]})
		}
	}
	return out
}

func flatten(raw []byte, into map[string]string) {
	var tree any
	if json.Unmarshal(raw, &tree) == nil { // canonical text always is JSON
		branch("", tree, into)
	}
}

// branch writes every leaf of a tree by its path. Parts of a list that have a
// name go by it, so that one more key does not move all others.
func branch(path string, tree any, into map[string]string) {
	switch t := tree.(type) {
	case map[string]any:
		for name, sub := range t {
			branch(strings.TrimPrefix(path+"."+name, "."), sub, into)
		}
	case []any:
		for i, sub := range t {
			branch(path+"["+nameOf(sub, i)+"]", sub, into)
		}
	default:
		into[path] = fmt.Sprint(t)
	}
}

func nameOf(part any, place int) string {
	if named, ok := part.(map[string]any); ok {
		for _, field := range []string{"label", "name", "serial"} {
			if name, ok := named[field].(string); ok {
				return name
			}
		}
	}
	return fmt.Sprint(place + 1)
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
	err := v.release(results.Release{
		Code: code, Label: p.Revision, Hash: p.Hash(), Source: text, By: v.Person.Name, Reason: v.reason(),
	}, p)
	return answer{Go: "/products/" + code}, err
}}

// backAction makes a revision hold again that held before.
var backAction = action{path: "/products/{code}/back", who: fixtures, do: func(v *visit) (answer, error) {
	code := v.r.PathValue("code")
	if err := v.deciding(); err != nil {
		return answer{}, err
	}
	list, err := v.site.Store.Releases(v.r.Context(), code)
	if err != nil {
		return answer{}, err
	}
	for _, r := range list {
		if fmt.Sprint(r.Seq) != v.r.FormValue("seq") {
			continue
		}
		p, mistakes := parse(code, r.Source)
		if len(mistakes) > 0 {
			return answer{}, wrong(v.say("product.notback", r.Label))
		}
		r.By, r.Reason, r.Back = v.Person.Name, v.reason(), true
		return answer{Go: "/products/" + code}, v.release(r, p)
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
