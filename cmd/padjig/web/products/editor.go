package products

import (
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"net/url"
	"slices"
	"strings"
	"time"

	view "padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	"padjig/results/releases"
	"padjig/sequence/devicetree"
	"padjig/sequence/product"
	"padjig/sequence/product/mistakes"
	"padjig/sequence/revise"
)

// template is the product file to begin with, for a code.
//
//go:embed template.yaml
var template string

// Editor is a product file that somebody works on, with all that is known of it.
type Editor struct {
	Code     string        `json:"code"`
	By       string        `json:"-"`
	Text     string        `json:"text"`
	Version  int64         `json:"version"` // of the draft, 0: nothing is kept yet
	Kept     time.Time     `json:"kept,omitzero"`
	Mistakes []mistakeView `json:"mistakes"`
	Figures  *figures      `json:"figures,omitempty"`
	Pad      *view.View    `json:"-"`
	Changes  []group       `json:"changes"`
	Against  string        `json:"against"` // label of what it is compared with
	Label    string        `json:"label"`
	Same     bool          `json:"same"`    // means what is in force already
	Loosens  bool          `json:"loosens"` // it needs a second person
	First    bool          `json:"first"`   // there is nothing to compare with
	Taken    string        `json:"taken,omitempty"`
	Say      string        `json:"say,omitempty"`
	Changed  bool          `json:"changed"` // elsewhere since: nothing was kept
	Others   []draftView   `json:"others"`
	Starts   []page.Option `json:"-"` // from what to begin again
}

// Path is the page of the product.
func (e Editor) Path() string { return address(e.Code) }

// mistakeView is a mistake with the line it is in and a mark below its place.
type mistakeView struct {
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Message string `json:"message"`
	Source  string `json:"source"`
	Mark    string `json:"mark"`
}

// address is the page of a product.
func address(code string) string { return "/products/" + url.PathEscape(code) }

// edit is the product file as text: the draft of whoever asks, else what is in force.
func (p *pages) edit(v *page.Visit) (any, error) {
	code := v.Place("code")
	draft, err := p.draft(v, code)
	if err != nil {
		return nil, err
	}
	if draft == nil {
		starts, err := p.starts(v, code)
		if err != nil {
			return nil, err
		}
		if len(starts) == 1 { // the template alone: nobody here knows such a product
			var tested *product.Product
			if p.line != p.store {
				tested, err = p.against(v, code)
			}
			if tested == nil {
				return nil, cmp.Or(err, page.NotFound(v.Say("error.product")))
			}
		}
		draft = &releases.Draft{Code: code, Source: starts[0].text}
	}
	return p.editor(v, *draft)
}

// draft is that of whoever asks, nil for none.
func (p *pages) draft(v *page.Visit, code string) (*releases.Draft, error) {
	list, err := p.store.Releases.Drafts(v.Ctx(), code)
	if i := slices.IndexFunc(list, func(d releases.Draft) bool { return d.By == v.Person.Name }); i >= 0 {
		return &list[i], err
	}
	return nil, err
}

// start is a text to begin with.
type start struct{ name, say, text string }

// starts are the texts to begin a product with, the likeliest first.
func (p *pages) starts(v *page.Visit, code string) (out []start, err error) {
	list, err := p.store.Runs.Releases(v.Ctx(), code)
	if err != nil {
		return nil, err
	}
	if len(list) > 0 {
		out = append(out, start{"force", v.Say("editor.from.force", list[0].Label), list[0].Source})
	}
	if file := p.sources.read(code); file.Text != "" {
		out = append(out, start{"file", v.Say("editor.from.file", file.Path), file.Text})
	}
	drafts, err := p.store.Releases.Drafts(v.Ctx(), code)
	for _, d := range drafts {
		if d.By != v.Person.Name {
			out = append(out, start{"of " + d.By, v.Say("editor.from.draft", d.By), d.Source})
		}
	}
	return append(out, start{"template", v.Say("editor.from.template"), fmt.Sprintf(template, code)}), err
}

// editor looks at a draft.
func (p *pages) editor(v *page.Visit, d releases.Draft) (Editor, error) {
	out := Editor{Code: d.Code, By: v.Person.Name, Text: d.Source, Version: d.Version, Kept: d.At, Changes: []group{}, Others: []draftView{}}
	of, wrong := read(v, d.Code, d.Source)
	out.Mistakes = wrong
	if of != nil {
		if err := p.compare(v, &out, of); err != nil {
			return out, err
		}
	}
	all, err := p.working(v, d.Code)
	if err != nil {
		return out, err
	}
	for _, w := range all {
		if !w.Own {
			out.Others = append(out.Others, w)
		}
	}
	starts, err := p.starts(v, d.Code)
	for _, s := range starts {
		out.Starts = append(out.Starts, page.Option{Value: s.name, Text: s.say})
	}
	return out, err
}

// compare says of a product without a mistake what it is and what it changes.
func (p *pages) compare(v *page.Visit, out *Editor, of *product.Product) error {
	out.Label, out.Figures, out.Pad = of.Revision, figuresOf(v, of), drawn(v, of)
	before, err := p.against(v, of.Code)
	if err != nil {
		return err
	}
	out.First = before == nil
	if before != nil {
		changes := revise.Between(before, of)
		out.Against = before.Revision
		out.Changes, out.Loosens = grouped(v, changes), revise.NeedsTwo(changes)
	}
	if out.Same, err = p.inForce(v, of); err != nil {
		return err
	}
	out.Taken, err = p.taken(v, of)
	return err
}

// inForce reports whether just this was released last.
func (p *pages) inForce(v *page.Visit, of *product.Product) (bool, error) {
	list, err := p.store.Runs.Releases(v.Ctx(), of.Code)
	return len(list) > 0 && list[0].Hash == of.Hash(), err
}

// codeLine is where a file says which product it is.
const codeLine = "product:"

// read reads a product file at hand by what reads it at the terminal; the mistakes come
// with their lines, in the language of the page.
func read(v *page.Visit, code, text string) (*product.Product, []mistakeView) {
	of, err := product.Parse(code, []byte(text))
	lines := strings.Split(text, "\n")
	if err == nil && of.Code != code {
		at := max(0, slices.IndexFunc(lines, func(line string) bool { return strings.HasPrefix(line, codeLine) }))
		err = product.Mistakes{{Line: at + 1, Column: len(codeLine) + 2, Message: v.Say("editor.othercode", of.Code, code)}}
	}
	if err == nil {
		return of, []mistakeView{}
	}
	list, ok := errors.AsType[product.Mistakes](err)
	if !ok {
		list = product.Mistakes{{Line: 1, Column: 1, Message: err.Error()}}
	}
	var out []mistakeView
	for _, m := range list {
		one := mistakeView{Line: m.Line, Column: m.Column, Message: mistakes.In(v.Lang, m)}
		if m.Line >= 1 && m.Line <= len(lines) {
			one.Source = strings.TrimRight(lines[m.Line-1], "\r")
			one.Mark = strings.Repeat(" ", max(m.Column-1, 0)) + "▲"
		}
		out = append(out, one)
	}
	return nil, out
}

// check keeps a text as a draft and looks at it. Nothing is in force by that.
func (p *pages) check(v *page.Visit) (page.Answer, error) {
	done, err := p.looks.begin(v)
	if err != nil {
		return page.Answer{}, err
	}
	defer done()
	d := releases.Draft{Code: v.Place("code"), By: v.Person.Name, Source: strings.ReplaceAll(v.Value("text"), "\r\n", "\n")}
	if _, err := fmt.Sscan(v.Value("version"), &d.Version); err != nil {
		d.Version = 0
	}
	if len(d.Source) > product.MaxSize {
		return page.Answer{}, page.Fail(413, v.Say("editor.large", product.MaxSize>>10))
	}
	if known, err := p.known(v, d.Code); err != nil || !known {
		return page.Answer{}, errors.Join(err, page.NotFound(v.Say("error.product")))
	}
	kept, err := p.store.Releases.KeepDraft(v.Ctx(), d)
	changed := errors.Is(err, releases.ErrDraftChanged)
	if err != nil && !changed {
		return page.Answer{}, err
	}
	out, err := p.editor(v, kept)
	if changed && err == nil {
		var other *releases.Draft
		if other, err = p.draft(v, d.Code); err == nil && other != nil {
			out.Version, out.Kept = other.Version, other.At // kept is what is sent once more
		} else {
			out.Version = 0
		}
		out.Changed, out.Say = true, v.Say("editor.changed")
	}
	return page.Answer{Show: editPage, View: out}, err
}

// known reports whether there is a product of a code to work on.
func (p *pages) known(v *page.Visit, code string) (bool, error) {
	now, err := p.now(v, code)
	if err != nil || now != nil {
		return now != nil, err
	}
	all, err := p.store.Releases.Products(v.Ctx())
	return slices.Contains(all, code), err
}

// again begins the draft of whoever asks again, from another text.
func (p *pages) again(v *page.Visit) (page.Answer, error) {
	code := v.Place("code")
	starts, err := p.starts(v, code)
	if err != nil {
		return page.Answer{}, err
	}
	i := slices.IndexFunc(starts, func(s start) bool { return s.name == v.Value("from") })
	if i < 0 {
		return page.Answer{}, page.Wrong(v.Say("editor.nostart"))
	}
	if known, err := p.known(v, code); err != nil || !known {
		return page.Answer{}, errors.Join(err, page.NotFound(v.Say("error.product")))
	}
	return p.begun(v, releases.Draft{Code: code, Source: starts[i].text})
}

func (p *pages) begun(v *page.Visit, d releases.Draft) (page.Answer, error) {
	own, err := p.draft(v, d.Code)
	if err != nil {
		return page.Answer{}, err
	}
	if own != nil {
		d.Version = own.Version
	}
	d.By = v.Person.Name
	_, err = p.store.Releases.KeepDraft(v.Ctx(), d)
	return page.Answer{Go: address(d.Code) + "/edit"}, err
}

// NewProduct is the form for a product that there is not yet.
type NewProduct struct {
	Like []string `json:"like"` // products to begin from
}

func (p *pages) newProduct(v *page.Visit) (any, error) {
	list, err := p.list(v)
	out := NewProduct{}
	if all, is := list.(List); is {
		for _, row := range all.Products {
			if row.Hash != "" {
				out.Like = append(out.Like, row.Code)
			}
		}
	}
	return out, err
}

// begin makes the first draft of a product: from the template, from another product, or
// from the key matrix in a devicetree source.
func (p *pages) begin(v *page.Visit) (page.Answer, error) {
	code := v.Text("code")
	if _, err := product.Parse(code, fmt.Appendf(nil, template, code)); code == "" || err != nil {
		return page.Answer{}, page.WrongField("code", v.Say("newproduct.code"))
	}
	if known, err := p.known(v, code); err != nil || known {
		return page.Answer{}, errors.Join(err, page.WrongField("code", v.Say("newproduct.known", code)))
	}
	text := fmt.Sprintf(template, code)
	switch like, is := strings.CutPrefix(v.Value("from"), "like "); {
	case is:
		starts, err := p.starts(v, like)
		if err != nil {
			return page.Answer{}, err
		}
		text = renamed(starts[0].text, code)
	case v.Value("from") == "devicetree":
		source, name, err := uploaded(v)
		if err != nil {
			return page.Answer{}, err
		}
		pad, err := devicetree.Import(name, source, v.Text("node"))
		if err != nil {
			return page.Answer{}, page.WrongField("source", v.Say("newproduct.mistakes", err))
		}
		text = string(pad.Draft(code))
	}
	return p.begun(v, releases.Draft{Code: code, Source: text})
}

// renamed gives the text of a product the code of another.
func renamed(text, code string) string {
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		if strings.HasPrefix(line, codeLine) {
			lines[i] = codeLine + " " + code
		}
	}
	return strings.Join(lines, "\n")
}

// uploaded is a devicetree source, as a file or as text.
func uploaded(v *page.Visit) (text []byte, name string, err error) {
	files := v.Files("file")
	if len(files) == 0 || files[0].Size == 0 {
		return []byte(v.Value("source")), "source", nil
	}
	f, err := files[0].Open()
	if err != nil {
		return nil, "", err
	}
	defer f.Close()
	text, err = io.ReadAll(io.LimitReader(f, devicetree.MaxSize+1))
	return text, files[0].Filename, err
}
