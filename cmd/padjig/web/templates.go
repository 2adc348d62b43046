package web

import (
	"bytes"
	"cmp"
	"embed"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/store/program"
)

// assets are what pages are made of: templates, words, styles and scripts.
//
//go:embed templates/*.html text/*.json static
var assets embed.FS

// errorPage is the name of the page that no path leads to.
const errorPage = "error"

// templates are those of the pages, by language and page, each parsed when it is shown first: all at once take longer than the rest of the
// start. They are a part of the program, and a test parses all.
type templates map[string]map[string]func() (*template.Template, error)

// frame is what a template sees. What the page is about is View.
type frame struct {
	Person *page.Person // nil for nobody
	Lang   string
	Page   string // name
	Title  string
	Menu   []page.Entry
	Token  string // of forms
	Path   string
	Zone   string // of all times
	Theme  string
	Text   string // its size
	Themes []page.Option
	Texts  []page.Option

	Languages []page.Option
	Help      helpView
	First     string // what the group of this page is for, on the first visit
	Group     string
	Unsaved   string // backups fail
	View      any
}

// Silence is how long a page waits for a word of the station, in milliseconds.
func (frame) Silence() int64 { return page.Silence.Milliseconds() }

// loadTemplates parses, for each language, the frame and the parts that several pages
// use (files that begin with an underscore); to these comes each page's own file.
func loadTemplates(languages []string, words func(lang string) page.Words, files assetFiles, office bool) (templates, error) {
	own, err := fs.Glob(assets, "templates/[^_]*.html")
	if err != nil {
		return nil, err
	}
	all := templates{}
	for _, lang := range languages {
		all[lang] = map[string]func() (*template.Template, error){}
		base, err := template.New("base").Funcs(vocabulary(words(lang), files, office)).ParseFS(assets, "templates/_*.html")
		if err != nil {
			return nil, err
		}
		for _, file := range own {
			all[lang][strings.TrimSuffix(path.Base(file), ".html")] = sync.OnceValues(func() (*template.Template, error) {
				own, err := base.Clone()
				if err == nil {
					own, err = own.ParseFS(assets, file)
				}
				if err != nil {
					return nil, fmt.Errorf("template %s: %w", file, err)
				}
				return own, nil
			})
		}
	}
	return all, nil
}

// hold gives an error where a page has no template.
func (l templates) hold(pages []page.Page) error {
	for _, p := range append(slices.Clone(pages), page.Page{Name: errorPage}) {
		for lang, all := range l {
			if all[p.Name] == nil {
				return fmt.Errorf("page %s has no template in %s", p.Name, lang)
			}
		}
	}
	return nil
}

// vocabulary is the functions templates may call.
func vocabulary(words page.Words, files assetFiles, office bool) template.FuncMap {
	return template.FuncMap{
		"t":       words.Say,
		"static":  files.address,
		"office":  func() bool { return office }, // of a plant: nothing is written to what is asked
		"program": program.This().Short,
		"clock":   words.Clock,
		"date":    words.Date,
		"moment":  words.Moment,
		"ago":     func(t time.Time) template.HTML { return ago(words, t, time.Now()) },
		"num":     words.Num,
		"secs":    func(d time.Duration) string { return words.Num(1, d.Seconds()) },
		"list":    func(parts ...any) []any { return parts },
		"with":    pairUp,
	}
}

// ago is how long ago something was, with the moment for whoever wants to know.
func ago(words page.Words, t, now time.Time) template.HTML {
	return template.HTML(fmt.Sprintf(`<time datetime="%s" title="%s">%s</time>`, t.UTC().Format(time.RFC3339),
		template.HTMLEscapeString(words.Moment(t)+" "+zoneName(words, t)), template.HTMLEscapeString(words.Ago(t, now))))
}

// zoneName is the plant's zone, with how far its clock is from UTC at a time.
func zoneName(words page.Words, t time.Time) string {
	name := words.Zone().String()
	if name == time.Local.String() { // it has no name of its own
		name = t.Local().Format("MST")
	}
	return fmt.Sprintf("%s (UTC%s)", name, t.In(words.Zone()).Format("-07:00"))
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

func (l templates) render(out io.Writer, v *reply, p page.Page, view any) error {
	f := frame{Person: v.Person, Lang: v.Lang.Tag, Page: p.Name, Title: v.Say("title." + p.Name), Path: v.Address(), Zone: zoneName(v.Words, time.Now()), View: view,
		Theme: themes.kept(v.Visit), Text: textSizes.kept(v.Visit), Themes: themes.options(v.Visit), Texts: textSizes.options(v.Visit)}
	for _, lang := range v.site.text.Languages() {
		own := cmp.Or(v.site.text[lang]["frame.language"], lang) // its own name, as far as it says one
		f.Languages = append(f.Languages, page.Option{Value: lang, Text: own, Chosen: lang == v.Lang.Tag})
	}
	f.Help = helpOf(v.Words, p)
	if v.Person != nil {
		f.Token = v.Person.Token
		var group *page.Page
		for _, other := range v.site.all.Pages {
			if other.Menu != "" && v.Person.HasRole(other.Who) {
				here := other.Holds(v.r.URL.Path)
				f.Menu = append(f.Menu, page.Entry{Path: other.Address(), Text: v.Say(other.Menu), Here: here})
				if here {
					group, f.Group = &other, other.Name
				}
			}
		}
		f.First = v.site.first(v.Visit, group, p)
		f.Unsaved = v.site.notBackedUp(v.Visit, p)
	}
	outer := "frame"
	if p.Bare {
		outer = "bare"
	}
	own, err := l[v.Lang.Tag][p.Name]()
	if err != nil {
		return err
	}
	return own.ExecuteTemplate(out, outer, f)
}

// part renders one named part of a page's template.
func (l templates) part(lang, name, part string, view any) (string, error) {
	own, err := l[lang][name]()
	if err != nil {
		return "", err
	}
	var out bytes.Buffer
	err = own.ExecuteTemplate(&out, part, view)
	return out.String(), err
}
