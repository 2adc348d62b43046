package main

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer/html"
	"github.com/yuin/goldmark/text"
)

var (
	//go:embed page.html
	frame string
	//go:embed site.css
	style string
	//go:embed search.js
	script string
)

// site is what is written: pages and files by their paths, as they lie in the clone.
type site struct {
	pages    []*sheet
	files    map[string][]byte
	sections []section
}

// sheet is one page.
type sheet struct {
	source, name, title string
	body                template.HTML
	heads               []head
	anchors             []string // that can be gone to
	links               []string // relative, as they stand in the source
}

// head is a heading that can be gone to.
type head struct {
	Level    int
	ID, Text string
}

// section is what a search finds: the text between two headings.
type section struct {
	Page  string `json:"p"`
	Title string `json:"t"`
	Head  string `json:"h"`
	At    string `json:"a"`
	Text  string `json:"x"`
}

// Only these parts of the clone have pages.
var roots = []string{"README.md", "DEVELOPERS.md", "CHANGELOG.md", "docs"}

// build makes the site of a clone.
func build(clone fs.FS) (*site, error) {
	s := &site{files: map[string][]byte{}}
	for _, at := range roots {
		err := fs.WalkDir(clone, at, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || path.Ext(name) != ".md" {
				return err
			}
			raw, err := fs.ReadFile(clone, name)
			if err != nil {
				return err
			}
			page, err := s.sheet(name, raw)
			s.pages = append(s.pages, page)
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	var wrong []error
	for _, p := range s.pages {
		for _, link := range p.links {
			wrong = append(wrong, s.take(clone, p, link))
		}
	}
	if err := errors.Join(wrong...); err != nil {
		return nil, err
	}
	return s, s.finish(clone)
}

// address is where a page lies, from the top of the site.
func address(source string) string {
	if source == "README.md" {
		return "index.html"
	}
	return strings.TrimSuffix(source, ".md") + ".html"
}

// writer turns Markdown to HTML as the places where the sources are looked at do: tables, and headings that have their
// words for an anchor.
var writer = goldmark.New(goldmark.WithExtensions(extension.Table, extension.Linkify),
	goldmark.WithParserOptions(parser.WithAutoHeadingID()), goldmark.WithRendererOptions(html.WithUnsafe()))

func (s *site) sheet(name string, raw []byte) (*sheet, error) {
	p := &sheet{source: name, name: address(name)}
	doc := writer.Parser().Parse(text.NewReader(raw), parser.WithContext(parser.NewContext(parser.WithIDs(&anchors{}))))
	at := section{Page: p.name}
	var words strings.Builder
	flush := func() {
		if at.Text = strings.Join(strings.Fields(words.String()), " "); at.Text != "" || at.Head != "" {
			at.Title = p.title
			s.sections = append(s.sections, at)
		}
		words.Reset()
	}
	err := ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			if n.Type() == ast.TypeBlock {
				words.WriteByte(' ')
			}
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Heading:
			flush()
			id, _ := n.AttributeString("id")
			h := head{Level: n.Level, ID: string(id.([]byte)), Text: plain(n, raw)}
			if p.title == "" {
				p.title = h.Text
			}
			p.heads, p.anchors = append(p.heads, h), append(p.anchors, h.ID)
			at = section{Page: p.name, Head: h.Text, At: h.ID}
			return ast.WalkSkipChildren, nil
		case *ast.RawHTML:
			for i := range n.Segments.Len() {
				part := n.Segments.At(i)
				p.written(part.Value(raw))
			}
		case *ast.HTMLBlock:
			for i := range n.Lines().Len() {
				line := n.Lines().At(i)
				p.written(line.Value(raw))
			}
		case *ast.Link:
			n.Destination = p.follow(n.Destination)
		case *ast.Image:
			n.Destination = p.follow(n.Destination)
		case *ast.Text:
			words.Write(n.Segment.Value(raw))
			words.WriteByte(' ')
		case *ast.FencedCodeBlock, *ast.CodeBlock:
			for i := range n.Lines().Len() {
				line := n.Lines().At(i)
				words.Write(line.Value(raw))
			}
		}
		return ast.WalkContinue, nil
	})
	flush()
	if err != nil {
		return p, err
	}
	var out bytes.Buffer
	if err := writer.Renderer().Render(&out, raw, doc); err != nil {
		return p, fmt.Errorf("%s: %w", name, err)
	}
	// What is wider than a phone is moved by itself, not with the page; a keyboard gets there too.
	body := strings.NewReplacer("<table>", `<div class="wide" tabindex="0" role="region" aria-label="table"><table>`,
		"</table>", "</table></div>", "<pre>", `<pre tabindex="0">`).Replace(out.String())
	p.body = template.HTML(body) //nolint:gosec // made of the clone's own pages
	return p, nil
}

// written keeps in mind what HTML in a page names, shows and links to.
func (p *sheet) written(markup []byte) {
	for _, m := range attribute.FindAllSubmatch(markup, -1) {
		if value := string(m[2]); string(m[1]) == "id" {
			p.anchors = append(p.anchors, value)
		} else {
			p.follow([]byte(value))
		}
	}
}

var attribute = regexp.MustCompile(`\b(id|src|srcset|href)="([^"]+)"`)

// follow keeps a link in mind, and leads one to a page to where that lies in the site.
func (p *sheet) follow(to []byte) []byte {
	u, err := url.Parse(string(to))
	if err != nil || u.IsAbs() || u.Host != "" {
		return to
	}
	p.links = append(p.links, string(to))
	if path.Ext(u.Path) == ".md" {
		here := path.Dir(p.source)
		u.Path = relative(path.Dir(p.name), address(path.Join(here, u.Path)))
	}
	return []byte(u.String())
}

func relative(from, to string) string {
	out, err := filepath.Rel(filepath.FromSlash(from), filepath.FromSlash(to))
	if err != nil {
		return to
	}
	return filepath.ToSlash(out)
}

// take looks whether what a page links to is there, and takes it in where it is a file.
func (s *site) take(clone fs.FS, p *sheet, link string) error {
	u, err := url.Parse(link)
	if err != nil {
		return err
	}
	if path.IsAbs(u.Path) {
		return fmt.Errorf("%s: %s: write it from this page on", p.source, link)
	}
	to := path.Join(path.Dir(p.source), u.Path)
	if u.Path == "" {
		to = p.source
	}
	if path.Ext(to) == ".md" {
		i := slices.IndexFunc(s.pages, func(q *sheet) bool { return q.source == to })
		if i < 0 {
			return fmt.Errorf("%s: %s: there is no such page", p.source, link)
		}
		if u.Fragment != "" && !slices.Contains(s.pages[i].anchors, u.Fragment) {
			return fmt.Errorf("%s: %s: that page has no such place", p.source, link)
		}
		return nil
	}
	info, err := fs.Stat(clone, to)
	if err != nil {
		return fmt.Errorf("%s: %s: %w", p.source, link, err)
	}
	if info.IsDir() {
		return s.listing(clone, to)
	}
	s.files[to], err = fs.ReadFile(clone, to)
	return err
}

// listing stands for a folder that a page links to: its files by name, which are in the clone.
func (s *site) listing(clone fs.FS, folder string) error {
	entries, err := fs.ReadDir(clone, folder)
	if err != nil {
		return err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "<!doctype html><html lang=en><meta charset=utf-8><title>%[1]s</title><h1>%[1]s</h1><ul>", folder)
	for _, e := range entries {
		if !e.IsDir() {
			raw, err := fs.ReadFile(clone, path.Join(folder, e.Name()))
			if err != nil {
				return err
			}
			s.files[path.Join(folder, e.Name())] = raw
			fmt.Fprintf(&b, `<li><a href="%[1]s">%[1]s</a>`, template.HTMLEscapeString(e.Name()))
		}
	}
	s.files[path.Join(folder, "index.html")] = []byte(b.String() + "</ul></html>\n")
	return nil
}

// The colours of the station, of light pages and of dark ones, are its own: the site has none.
const stationColours, darkColours = "cmd/padjig/web/static/station.css", "cmd/padjig/web/static/dark.css"

func (s *site) finish(clone fs.FS) error {
	var sheets strings.Builder
	for _, c := range []struct{ file, around string }{{stationColours, "%s"}, {darkColours, "@media screen and (prefers-color-scheme: dark) {%s}"}} {
		raw, err := fs.ReadFile(clone, c.file)
		if err != nil {
			return err
		}
		properties := regexp.MustCompile(`(?s):root \{.*?\n\}`).Find(raw)
		if properties == nil {
			return fmt.Errorf("%s has no properties", c.file)
		}
		fmt.Fprintf(&sheets, c.around+"\n", properties)
	}
	s.files["site.css"] = []byte(sheets.String() + style)
	index, err := json.Marshal(s.sections)
	if err != nil {
		return err
	}
	s.files["search.js"] = []byte("const sections = " + string(index) + ";\n" + script)
	page := template.Must(template.New("page").Parse(frame))
	for _, p := range s.pages {
		var out bytes.Buffer
		up := relative(path.Dir(p.name), ".")
		if err := page.Execute(&out, map[string]any{"Title": p.title, "Body": p.body, "Up": up, "Groups": s.navigation(p),
			"Heads": inPage(p.heads)}); err != nil {
			return err
		}
		s.files[p.name] = out.Bytes()
	}
	return nil
}

type navGroup struct {
	Name  string
	Open  bool
	Pages []navPage
}

type navPage struct {
	Title, Address string
	Here           bool
}

func (s *site) navigation(here *sheet) (out []navGroup) {
	for _, g := range groups {
		n := navGroup{Name: g.name}
		for _, source := range g.pages {
			if i := slices.IndexFunc(s.pages, func(p *sheet) bool { return p.source == source }); i >= 0 {
				p := s.pages[i]
				n.Pages = append(n.Pages, navPage{p.title, relative(path.Dir(here.name), p.name), p == here})
				n.Open = n.Open || p == here
			}
		}
		if len(n.Pages) > 0 {
			out = append(out, n)
		}
	}
	return out
}

// inPage are the headings that stand at the side of a page.
func inPage(heads []head) (out []head) {
	for _, h := range heads {
		if h.Level == 2 {
			out = append(out, h)
		}
	}
	if len(out) < 3 {
		return nil
	}
	return out
}

// write writes the site into a folder that is its own: one that has something else in it is left alone.
func (s *site) write(folder string) error {
	if entries, err := os.ReadDir(folder); err == nil && len(entries) > 0 {
		if _, err := os.Stat(filepath.Join(folder, "search.js")); err != nil {
			return fmt.Errorf("%s has something in it that is no site: give an empty folder", folder)
		}
		if err := os.RemoveAll(folder); err != nil {
			return err
		}
	}
	for name, raw := range s.files {
		to := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(to, raw, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// plain is the text of a heading.
func plain(n ast.Node, raw []byte) string {
	var b strings.Builder
	_ = ast.Walk(n, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if t, is := n.(*ast.Text); is && entering {
			b.Write(t.Segment.Value(raw))
		}
		return ast.WalkContinue, nil
	})
	return b.String()
}

// anchors gives headings the anchors that forges give them: words in small letters with dashes between them, a second
// one of the same words with a number.
type anchors struct{ given map[string]int }

func (a *anchors) Generate(value []byte, _ ast.NodeKind) []byte {
	if a.given == nil {
		a.given = map[string]int{}
	}
	id := strings.ToLower(string(bytes.TrimSpace(value)))
	id = regexp.MustCompile(`[^\p{L}\p{N} _-]`).ReplaceAllString(id, "")
	id = strings.ReplaceAll(id, " ", "-")
	n := a.given[id]
	a.given[id]++
	if n > 0 {
		id = fmt.Sprintf("%s-%d", id, n)
	}
	return []byte(id)
}

func (a *anchors) Put([]byte) {}
