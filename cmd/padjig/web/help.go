package web

import (
	"crypto/sha256"
	"encoding/base64"
	"slices"
	"strings"

	"padjig/cmd/padjig/web/page"
)

// Every page has a paragraph that says what it is for, in the catalogue as help.NAME: its
// help shows it, the page of all help, and docs/pages.md, which is made from it.

// everywhere are the keys that do something on every page; a page's own are in its Keys.
var everywhere = []page.Shortcut{{Press: "?", Name: "help"}, {Press: "/", Name: "find"}, {Press: "Ctrl+Enter", Name: "send"}, {Press: "Esc", Name: "escape"}, {Press: "▮▯▮▯", Name: "scan"}}

// helpView is the help of one page.
type helpView struct {
	Name  string          `json:"name"`
	Title string          `json:"title"`
	Text  string          `json:"text"`
	Keys  []page.Shortcut `json:"keys"` // what each does, in words
}

func helpOf(w page.Words, p page.Page) helpView {
	h := helpView{Name: p.Name, Title: w.Say("title." + p.Name), Text: w.Say("help." + p.Name), Keys: []page.Shortcut{}}
	for _, k := range slices.Concat(p.Keys, everywhere) {
		h.Keys = append(h.Keys, page.Shortcut{Press: k.Press, Name: w.Say("key." + k.Name)})
	}
	return h
}

// allHelp is the help of every page that a person may see.
type allHelp struct {
	Pages []helpView      `json:"pages"`
	Keys  []page.Shortcut `json:"keys"`
}

func (s *Site) help(v *page.Visit) (any, error) {
	all := allHelp{Keys: helpOf(v.Words, page.Page{}).Keys}
	for _, p := range s.explained() {
		if v.Person.HasRole(p.Who) {
			h := helpOf(v.Words, p)
			h.Keys = h.Keys[:len(p.Keys)]
			all.Pages = append(all.Pages, h)
		}
	}
	return all, nil
}

// explained are the pages by their templates, each once.
func (s *Site) explained() (pages []page.Page) {
	for _, p := range s.all.Pages {
		if !slices.ContainsFunc(pages, func(q page.Page) bool { return q.Name == p.Name }) {
			pages = append(pages, p)
		}
	}
	return pages
}

// metCookie is what a browser remembers of which groups of pages somebody knows. It is no
// matter of record, and a person at another screen may well be shown it again.
const (
	metCookie = "met"
	mostMet   = 60 // people and groups that a browser remembers
)

// mark is a person in a group of pages, in few letters and without their name.
func mark(v *page.Visit, group string) string {
	sum := sha256.Sum256([]byte(v.Person.Name + " " + group))
	return base64.RawURLEncoding.EncodeToString(sum[:6])
}

func met(v *page.Visit) []string {
	return strings.FieldsFunc(v.Cookie(metCookie), func(r rune) bool { return r == '.' })
}

// meet remembers that somebody has read what a group of pages is for.
func (s *Site) meet(v *page.Visit) (page.Answer, error) {
	known := met(v)
	if one := mark(v, v.Value("group")); !slices.Contains(known, one) {
		known = append(known, one)
	}
	s.keep(v, metCookie, strings.Join(known[max(0, len(known)-mostMet):], "."))
	return page.Answer{Go: page.Here(v.Value("next"))}, nil
}

// first is what a person is told on the first visit to a group of pages, empty for none. At a
// lane the large word says what to do, and nothing may stand in its way.
func (s *Site) first(v *page.Visit, group *page.Page, shown page.Page) string {
	if v.Person == nil || group == nil || shown.Name == "lane" || slices.Contains(met(v), mark(v, group.Name)) {
		return ""
	}
	return v.Say("help." + group.Name)
}
