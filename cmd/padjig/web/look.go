package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"strings"
	"time"
)

//go:embed templates/*.html
var templateFiles embed.FS

// looks are the templates, by language and page, all parsed at the start.
type looks map[string]map[string]*template.Template

// frame is what a template sees. What the page is about is View.
type frame struct {
	*visit
	Page  string // name
	Title string
	Menu  []entry
	Token string // of forms
	Path  string
	View  any
}

// Silence is how long a page waits for a word of the station, in milliseconds.
func (frame) Silence() int64 { return silence.Milliseconds() }

// entry is a page in the menu.
type entry struct {
	Path, Text string
	Here       bool
}

// loadLooks parses, for each language, the frame, the parts that several pages
// use (files that begin with an underscore), and each page's own file.
func loadLooks(text catalogue, files statics, pages []page) (looks, error) {
	all := looks{}
	for _, lang := range languages {
		all[lang] = map[string]*template.Template{}
		base, err := template.New("base").Funcs(vocabulary(text, files, lang)).ParseFS(templateFiles, "templates/_*.html")
		if err != nil {
			return nil, err
		}
		for _, p := range append(pages, page{name: "error"}) {
			one, err := template.Must(base.Clone()).ParseFS(templateFiles, "templates/"+p.name+".html")
			if err != nil {
				return nil, fmt.Errorf("template of page %s: %w", p.name, err)
			}
			all[lang][p.name] = one
		}
	}
	return all, nil
}

// vocabulary is the functions templates may call.
func vocabulary(text catalogue, files statics, lang string) template.FuncMap {
	return template.FuncMap{
		"t":      func(key string, args ...any) string { return text.say(lang, key, args...) },
		"static": files.address,
		"clock":  func(t time.Time) string { return t.Local().Format("15:04") },
		"date":   func(t time.Time) string { return t.Local().Format("2006-01-02") },
		"moment": func(t time.Time) string { return t.Local().Format("2006-01-02 15:04") },
		"num":    func(digits int, v float64) string { return number(lang, digits, v) },
		"secs":   func(d time.Duration) string { return number(lang, 1, d.Seconds()) },
		"list":   func(parts ...any) []any { return parts },
		"with":   pairUp,
	}
}

// number writes a number with the mark the language has before decimals.
func number(lang string, digits int, v float64) string {
	text := fmt.Sprintf("%.*f", digits, v)
	if lang == "de" {
		text = strings.Replace(text, ".", ",", 1)
	}
	return strings.Replace(text, "-", "−", 1)
}

// pairUp gives a part of a page several values by name.
func pairUp(pairs ...any) (map[string]any, error) {
	if len(pairs)%2 != 0 {
		return nil, fmt.Errorf("a name without a value")
	}
	m := map[string]any{}
	for i := 0; i < len(pairs); i += 2 {
		m[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	return m, nil
}

func (l looks) render(out io.Writer, v *visit, p page, view any) error {
	f := frame{visit: v, Page: p.name, Title: v.say("title." + p.name), Path: v.address(), View: view}
	if v.Person != nil {
		f.Token = v.Person.token
	}
	for _, other := range allPages() {
		if other.menu != "" && v.Person != nil && v.Person.may(other.who) {
			f.Menu = append(f.Menu, entry{other.address(), v.say(other.menu), other.holds(v.r.URL.Path)})
		}
	}
	outer := "frame"
	if p.bare {
		outer = "bare"
	}
	return l[v.Lang][p.name].ExecuteTemplate(out, outer, f)
}

// address is where this page can be had again. What a form brought up is no
// address of its own: there it is the page with the form.
func (v *visit) address() string {
	if v.r.Method == http.MethodGet {
		return here(v.r.URL.RequestURI())
	}
	return here(v.r.Referer())
}

// holds reports whether an address lies below the page's entry in the menu.
func (p page) holds(path string) bool {
	if p.name == lanesPage.name && within(path, "/lane") {
		return true
	}
	return within(path, p.address())
}

func within(path, place string) bool {
	return path == place || strings.HasPrefix(path, place+"/")
}

// part renders one named part of a page's template.
func (s *Site) part(lang, name, part string, view any) (string, error) {
	var out bytes.Buffer
	err := s.looks[lang][name].ExecuteTemplate(&out, part, view)
	return out.String(), err
}

func queryOf(address string) string { return url.QueryEscape(address) }

// here keeps an address on this site.
func here(address string) string {
	u, err := url.Parse(address)
	if err != nil || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") || strings.Contains(u.Path, `\`) {
		return "/"
	}
	return (&url.URL{Path: u.Path, RawQuery: u.RawQuery, Fragment: u.Fragment}).String()
}
