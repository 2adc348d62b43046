package web

import (
	"bytes"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"padjig/cmd/padjig/web/page"
)

// A refused form stays where it is. A script is told what is wrong, and puts it into the
// form that it has before it (static/form.js). A browser without one gets the page of the
// form again, as it is now, with what was typed in its fields again and the same messages
// in the same places: at the fields they concern, else at the head of the form.

// again is the page that a form came from, with what is wrong with the form; false when
// there is no such page any more.
func (v *reply) again(p *page.Problem) ([]byte, bool) {
	doc := v.origin()
	if doc == nil {
		return nil, false
	}
	at := outcome{refused: p, path: v.r.URL.Path, typed: v.r.PostForm}
	at.mark(doc)
	belongTo(doc, v.Address())
	var out bytes.Buffer
	err := html.Render(&out, doc)
	return out.Bytes(), err == nil
}

// origin asks for the page of a form as its browser would, nil for what is none.
func (v *reply) origin() *html.Node {
	r, err := http.NewRequestWithContext(v.Ctx(), http.MethodGet, v.Address(), nil)
	if err != nil {
		return nil
	}
	r.Header, r.Host, r.RemoteAddr = v.r.Header.Clone(), v.r.Host, v.r.RemoteAddr
	r.Header.Del("Accept-Encoding") // it is read here
	_, pattern := v.site.mux.Handler(r)
	isPage := func(p page.Page) bool { return pattern == "GET "+p.Path }
	if !slices.ContainsFunc(v.site.all.Pages, isPage) { // a stream would never end
		return nil
	}
	kept := &keptAnswer{header: http.Header{}, status: http.StatusOK}
	v.site.mux.ServeHTTP(kept, r)
	if kept.status != http.StatusOK || !strings.HasPrefix(kept.header.Get("Content-Type"), "text/html") {
		return nil
	}
	doc, err := html.Parse(&kept.body)
	if err != nil {
		return nil
	}
	return doc
}

// keptAnswer is an answer that is kept here.
type keptAnswer struct {
	header http.Header
	status int
	body   bytes.Buffer
}

func (k *keptAnswer) Header() http.Header         { return k.header }
func (k *keptAnswer) WriteHeader(status int)      { k.status = status }
func (k *keptAnswer) Write(b []byte) (int, error) { return k.body.Write(b) }

// belongTo has every form of a page that is the answer to a form say where it belongs.
func belongTo(doc *html.Node, address string) {
	for form := range elements(doc, atom.Form) {
		if strings.EqualFold(value(form, "method"), http.MethodPost) {
			form.AppendChild(element(atom.Input, "type", "hidden", "name", page.FromPage, "value", address))
		}
	}
}

// outcome is what came of a form.
type outcome struct {
	refused *page.Problem
	path    string     // that the form was sent to
	typed   url.Values // what was sent
}

// mark puts what was typed, and what is wrong with it, into the form on its page. Where the
// form is gone meanwhile, the page says it at its head.
func (o outcome) mark(doc *html.Node) {
	for n := range doc.Descendants() { // the focus belongs to what is wrong
		drop(n, "autofocus")
	}
	form := o.find(doc)
	if form == nil {
		for main := range elements(doc, atom.Main) {
			main.InsertBefore(atHead(o.refused.Say), main.FirstChild)
			break
		}
		return
	}
	fields := controls(form)
	o.refill(fields)
	var rest []string
	if len(o.refused.Fields) == 0 {
		rest = []string{o.refused.Say}
	}
	focused := false
	for _, m := range o.refused.Fields {
		i := slices.IndexFunc(fields, func(n *html.Node) bool { return value(n, "name") == m.Field && value(n, "type") != "hidden" })
		if i < 0 {
			rest = append(rest, m.Say)
			continue
		}
		atField(fields[i], m)
		unfold(fields[i])
		if !focused {
			set(fields[i], "autofocus", "")
			focused = true
		}
	}
	if len(rest) > 0 {
		said := atHead(strings.Join(rest, " "))
		if focused {
			drop(said, "autofocus")
		}
		form.InsertBefore(said, form.FirstChild)
	}
	unfold(form)
}

// unfold opens what a part of the page is folded away in, where it would show nothing.
func unfold(n *html.Node) {
	for up := n; up != nil; up = up.Parent {
		if up.DataAtom == atom.Details {
			set(up, "open", "")
		}
	}
}

// find gives the form that was sent: of those with its address the one whose hidden fields
// were sent too.
func (o outcome) find(doc *html.Node) (found *html.Node) {
	most := -1
	for form := range elements(doc, atom.Form) {
		if !o.sentTo(form) {
			continue
		}
		alike := 0
		for _, n := range controls(form) {
			if name := value(n, "name"); value(n, "type") == "hidden" && slices.Contains(o.typed[name], value(n, "value")) {
				alike++
			}
		}
		if alike > most {
			most, found = alike, form
		}
	}
	return found
}

// sentTo reports whether a form, or one of its buttons, sends to the address.
func (o outcome) sentTo(form *html.Node) bool {
	if !strings.EqualFold(value(form, "method"), http.MethodPost) {
		return false
	}
	is := func(address string) bool {
		u, err := url.Parse(address)
		return err == nil && address != "" && u.Path == o.path
	}
	for n := range form.Descendants() {
		if is(value(n, "formaction")) {
			return true
		}
	}
	return is(value(form, "action"))
}

// refill gives fields what was typed into them. Passwords are never given back, and a
// browser takes no files back.
func (o outcome) refill(fields []*html.Node) {
	nth := map[string]int{}
	next := func(name string) (string, bool) {
		all, i := o.typed[name], nth[name]
		nth[name]++
		if i >= len(all) {
			return "", false
		}
		return all[i], true
	}
	for _, n := range fields {
		name := value(n, "name")
		sent := o.typed[name]
		switch kind := value(n, "type"); {
		case n.DataAtom == atom.Select:
			for option := range elements(n, atom.Option) {
				if len(sent) > 0 {
					choose(option, "selected", slices.Contains(sent, optionValue(option)))
				}
			}
		case n.DataAtom == atom.Textarea:
			if text, was := next(name); was {
				for n.FirstChild != nil {
					n.RemoveChild(n.FirstChild)
				}
				n.AppendChild(&html.Node{Type: html.TextNode, Data: text})
			}
		case kind == "checkbox" || kind == "radio":
			choose(n, "checked", slices.Contains(sent, value(n, "value")))
		case kind == "hidden" || kind == "password" || kind == "file":
		default:
			if text, was := next(name); was {
				set(n, "value", text)
			}
		}
	}
}

func optionValue(option *html.Node) string {
	for _, a := range option.Attr {
		if a.Key == "value" {
			return a.Val
		}
	}
	if option.FirstChild == nil {
		return ""
	}
	return strings.TrimSpace(option.FirstChild.Data)
}

// atHead is a message that concerns no field.
func atHead(say string) *html.Node {
	n := element(atom.P, "class", "mistake", "role", "alert", "tabindex", "-1", "autofocus", "")
	n.AppendChild(&html.Node{Type: html.TextNode, Data: say})
	return n
}

// atField puts a message behind a field, or behind all the choices of which it is one.
func atField(field *html.Node, m page.Mistake) {
	id := "mistake-" + strings.ReplaceAll(m.Field, " ", "-")
	set(field, "aria-invalid", "true")
	set(field, "aria-describedby", strings.TrimSpace(value(field, "aria-describedby")+" "+id))
	n := element(atom.P, "class", "mistake", "id", id)
	n.AppendChild(&html.Node{Type: html.TextNode, Data: m.Say})
	for up := field.Parent; up != nil && up.DataAtom != atom.Form; up = up.Parent {
		if up.DataAtom == atom.Fieldset {
			up.AppendChild(n)
			return
		}
	}
	if field.Parent.DataAtom == atom.Label {
		field = field.Parent
	}
	field.Parent.InsertBefore(n, field.NextSibling)
}

// elements are those of a sort below a node, in their order.
func elements(below *html.Node, sort atom.Atom) func(yield func(*html.Node) bool) {
	return func(yield func(*html.Node) bool) {
		for n := range below.Descendants() {
			if n.DataAtom == sort && !yield(n) {
				return
			}
		}
	}
}

// controls are the fields of a form.
func controls(form *html.Node) (fields []*html.Node) {
	for n := range form.Descendants() {
		if n.DataAtom == atom.Input || n.DataAtom == atom.Select || n.DataAtom == atom.Textarea {
			fields = append(fields, n)
		}
	}
	return fields
}

func element(sort atom.Atom, attributes ...string) *html.Node {
	n := &html.Node{Type: html.ElementNode, DataAtom: sort, Data: sort.String()}
	for i := 0; i < len(attributes); i += 2 {
		set(n, attributes[i], attributes[i+1])
	}
	return n
}

func value(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func set(n *html.Node, key, val string) {
	drop(n, key)
	n.Attr = append(n.Attr, html.Attribute{Key: key, Val: val})
}

func drop(n *html.Node, key string) {
	n.Attr = slices.DeleteFunc(n.Attr, func(a html.Attribute) bool { return a.Key == key })
}

func choose(n *html.Node, key string, chosen bool) {
	if drop(n, key); chosen {
		set(n, key, "")
	}
}
