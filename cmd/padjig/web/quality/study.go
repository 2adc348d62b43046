// Package quality is the pages of the quality engineer, all alike: what runs they are
// about, in the address; what they find, in figures; and each figure's numbers as a
// table.
package quality

import (
	"context"
	"errors"
	"html/template"
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/quality/filter"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// pages are those of the quality engineer.
type pages struct {
	store    *results.Store
	lanes    *control.Lanes
	sections []section // in the order of looking
}

// section is pages that belong together.
type section struct {
	name  string
	pages []page.Page
}

// Set is what there is to see and to do.
func Set(store *results.Store, lanes *control.Lanes) page.Set {
	p := &pages{store: store, lanes: lanes}
	p.sections = []section{
		{"line", []page.Page{p.study("", "overview", overviewPage), p.study("/yield", "yield", yieldPage),
			p.page("/stops", "stops", stopsPage), p.study("/shift", "shift", shiftPage)}},
		{"where", []page.Page{p.study("/causes", "causes", causesPage), p.study("/units", "units", unitsPage),
			p.study("/probes", "probes", probesPage),
			p.study("/lots", "lots", lotsPage), p.study("/compare", "compare", comparePage)}},
		{"measured", []page.Page{p.study("/charts", "charts", chartsPage), p.study("/distributions", "distributions", distributionsPage),
			p.study("/capability", "capability", capabilityPage), {Path: "/quality/gauge", Name: "gauge", Who: page.Deciding, View: p.gauge}}},
		{"plans", []page.Page{p.study("/limits", "limits", limitsPage), p.plan("/sampling", "sampling", samplingPage),
			p.plan("/retest", "retest", retestPage)}},
	}
	p.sections[0].pages[0].Menu = "menu.quality"
	all := []page.Page{moved}
	for _, one := range slices.Backward(p.sections) {
		all = slices.Concat(one.pages, all)
	}
	return page.Set{Pages: all, Actions: []page.Action{
		{Path: "/quality/freeze", Who: page.Deciding, Do: p.freeze},
		{Path: "/quality/gauge", Who: page.Deciding, Do: p.planStudy},
		{Path: "/quality/handover", Who: page.Deciding, Do: p.handover},
		{Path: "/quality/stops/lift", Who: page.Deciding, Do: p.lift},
	}}
}

// moved is the address that the page of distributions had, for those who kept it.
var moved = page.Page{Path: "/quality/spread", Name: "distributions", Who: page.Deciding,
	View: func(v *page.Visit) (any, error) {
		return page.Elsewhere("/quality/distributions" + strings.TrimPrefix(v.Address(), "/quality/spread")), nil
	}}

// study is a page about runs. Find adds what the page is about to the
// study; an error it returns that a person can mend is shown on the page.
func (p *pages) study(path, name string, find func(*study) error) page.Page {
	return p.page(path, name, func(s *study) error {
		switch {
		case s.wrong != "":
			return nil
		case s.Runs == 0:
			s.empty()
			return nil
		}
		return find(s)
	})
}

// plan is a page about a plan: no runs are chosen on it.
func (p *pages) plan(path, name string, find func(*study) error) page.Page {
	return p.page(path, name, func(s *study) error {
		s.Bar, s.Notes, s.Simulated, s.Said, s.Counted = nil, []note{}, false, "", ""
		return find(s)
	})
}

func (p *pages) page(path, name string, find func(*study) error) page.Page {
	path = "/quality" + path
	return page.Page{Path: path, Name: name, Who: page.Deciding, View: func(v *page.Visit) (any, error) {
		s, err := p.newStudy(v, path)
		if err != nil {
			return nil, err
		}
		if err := find(s); err != nil && !s.told(err) {
			return nil, err
		}
		return s, nil
	}}
}

// study is the view of such a page.
type study struct {
	Said      string      `json:"selection"` // what is chosen, in words
	Simulated bool        `json:"simulated"`
	Runs      int         `json:"runs"`
	Units     int         `json:"units"`
	Counted   string      `json:"-"` // units and runs, in words
	Notes     []note      `json:"notes"`
	Figures   []figure    `json:"figures"`
	Bar       *filter.Bar `json:"-"` // of the choice; nil where no runs are chosen
	Own       []ask       `json:"-"`
	Sections  []tabs      `json:"-"`
	Form      *signForm   `json:"-"`
	Tiles     []tile      `json:"tiles,omitempty"`     // figures to be seen first
	Looks     []note      `json:"attention,omitempty"` // where to look, and the page that shows it
	Plain     string      `json:"-"`                   // of this page without

	asking  `json:"-"`
	ctx     context.Context
	store   *results.Store
	zone    *time.Location
	person  string // who looks
	chosen  choice.Chosen
	filter  lines.Filter // of what is chosen
	mixed   lines.Mixture
	wrong   string
	at      filter.At
	hours   hours // of a page that has times of its own
	target  answers.Target
	nothing []string // titles of what there is nothing of
}

// tabs are pages that belong together, as links about the same runs.
type tabs struct {
	Title string
	Tabs  []tab
}

type tab struct {
	page.Entry
	Words string // what it answers
}

// note is something to be known about the numbers.
type note struct {
	Text string `json:"text"`
	Kind string `json:"kind"`           // "warn", "wrong", "say"
	Link string `json:"link,omitempty"` // where to look
	Lang string `json:"-"`              // when it is not the page's
	Code string `json:"code,omitempty"`

	Later bool `json:"-"` // stands below the chart, which is to be seen at once
}

// seenFirst leaves above a chart what somebody should look at and what the codes begin with
// that are named, or else the first sentence; the rest can wait below it.
func seenFirst(list []note, codes ...string) []note {
	out := slices.Clone(list)
	for i, n := range out {
		first := n.Kind == string(answers.Attention) || len(codes) == 0 && i == 0
		for _, code := range codes {
			first = first || strings.HasPrefix(n.Code, code)
		}
		out[i].Later = !first
	}
	return out
}

// figure is a chart with what it says and its numbers.
type figure struct {
	Title string          `json:"title"`
	Says  []note          `json:"says"` // the conclusion in plain words, and what it does not show
	Chart template.HTML   `json:"-"`
	Small bool            `json:"-"` // stands beside others
	Table *page.Table     `json:"table,omitempty"`
	CSV   string          `json:"csv,omitempty"` // address of the table as a file
	Many  []template.HTML `json:"-"`             // small multiples
	Forms []signForm      `json:"-"`             // what can be done about it

	sorts []string // address of the page sorted by each column
	order *order
}

// signForm is something a study lets be recorded.
type signForm struct {
	Action, Title, Label, Button, Explain string
	Asks                                  []ask
	Fields                                []page.Option // hidden: Value is the name, Text the value
}

func (p *pages) newStudy(v *page.Visit, path string) (*study, error) {
	form, err := v.Form()
	if err != nil {
		return nil, page.Wrong(v.Say("error.form"))
	}
	s := &study{
		asking: asking{v.Words, form}, ctx: v.Ctx(), store: p.store, zone: v.Zone(), person: v.Person.Name,
		Plain: path, Notes: []note{}, Figures: []figure{},
	}
	of := about(path, form)
	said, err := choice.Parse(form, s.zone)
	if err != nil {
		s.wrong = v.Told(err)
		s.Notes = append(s.Notes, note{Text: s.wrong, Kind: "wrong"})
		said = choice.Asked{}
	}
	s.chosen, err = choice.Choose(s.ctx, s.store, said, of, time.Now())
	if errors.Is(err, choice.ErrNoShift) {
		s.wrong = v.Say("shift.noplan")
		s.Notes, err = append(s.Notes, note{Text: s.wrong, Kind: "wrong"}), nil
	}
	if errors.Is(err, lines.ErrOneStation) {
		s.wrong = v.Say("why.onestation")
		s.Notes = append(s.Notes, note{Text: s.wrong, Kind: "wrong"})
		s.chosen, err = choice.Choose(s.ctx, s.store, choice.Asked{}, of, time.Now())
	}
	if err != nil {
		return nil, err
	}
	if s.filter = s.chosen.Filter; s.wrong == "" {
		if err := s.tally(); err != nil {
			return nil, err
		}
	}
	return s, s.settle(p.sections, of)
}

// about is what a page is usually about: what it tells apart is not narrowed down.
func about(path string, form url.Values) choice.Of {
	switch path {
	case "/quality/shift":
		return choice.AShift
	case "/quality/stops":
		return choice.Stops
	case "/quality/gauge", "/quality/sampling", "/quality/retest":
		return choice.Ask
	case "/quality/yield":
		return choice.Runs.Without(lines.Dimension(form.Get("by")))
	case "/quality/compare":
		return choice.Runs.Without(lines.Dimension(form.Get("what")))
	}
	return choice.Runs
}

// tally finds how much there is.
func (s *study) tally() error {
	y, err := s.store.Lines.Yields(s.ctx, s.filter)
	s.mixed, s.Runs, s.Units = y.Mixed, y.Total.Runs, y.Total.Units
	for _, one := range s.chosen.Usual {
		s.Notes = append(s.Notes, tell(s.Words, []answers.Sentence{one})...)
	}
	return err
}

// empty says that nothing fits the choice, and where there is something.
func (s *study) empty() {
	s.note("study.empty")
	if other := s.chosen.Instead; other != nil {
		s.Notes = append(s.Notes, note{Text: s.Say("study.instead", other.From, other.To), Kind: "say",
			Link: filter.At{Path: s.Plain, Chosen: choice.Chosen{Said: *other}}.Link(s.Plain, s.own())})
	}
}

// settle says what is chosen and what can be.
func (s *study) settle(sections []section, of choice.Of) error {
	there, err := s.store.Lines.Facets(s.ctx, s.filter.Product, s.filter.Simulated)
	if err != nil {
		return err
	}
	s.at = filter.At{Words: s.Words, Path: s.Plain, Own: s.own(), Chosen: s.chosen, There: there, Of: of}
	bar := s.at.Bar()
	s.Bar, s.Simulated = &bar, s.filter.Simulated
	s.Said, s.Counted = bar.Said, s.Say("study.n", report.Whole(s.Units), report.Whole(s.Runs))
	for _, one := range sections {
		t := tabs{Title: s.Say("study.group." + one.name)}
		for _, p := range one.pages {
			t.Tabs = append(t.Tabs, tab{page.Entry{Path: s.link(p.Path, nil), Text: s.Say("study." + p.Name), Here: p.Path == s.Plain},
				s.Say("study." + p.Name + ".words")})
		}
		s.Sections = append(s.Sections, t)
	}
	return nil
}

// link is the address of a page about the same runs, with some parameters besides.
func (s *study) link(path string, more url.Values) string { return s.at.Link(path, more) }

func (s *study) note(key string, args ...any) {
	s.Notes = append(s.Notes, note{Text: s.Say(key, args...), Kind: "say"})
}

func (s *study) warn(key string, args ...any) {
	s.Notes = append(s.Notes, note{Text: s.Say(key, args...), Kind: "warn"})
}

// told says on the page what keeps it from an answer, and reports whether that
// is all there is to it.
func (s *study) told(err error) bool {
	text, known := why(s.Words, err)
	if known {
		s.Notes = append(s.Notes, note{Text: text, Kind: "wrong"})
	}
	return known
}

// why puts into the reader's words what keeps data from answering.
func why(v page.Words, err error) (text string, known bool) {
	mixed, isMixed := errors.AsType[*lines.MixedError](err)
	missing, isMissing := errors.AsType[*lines.MissingKeysError](err)
	few, isFew := errors.AsType[*answers.TooFewError](err)
	asked, isAsked := errors.AsType[*page.Problem](err)
	switch {
	case isMixed && len(mixed.Products) > 1:
		return v.Say("why.products", strings.Join(mixed.Products, ", ")), true
	case isMixed:
		return v.Say("why.revisions", revisions(mixed.Mixture)), true
	case isMissing:
		return v.Say("why.keys", strings.Join(missing.Missing, ", "), strings.Join(missing.Known, " ")), true
	case isFew:
		return v.Say("why.few", few.Have, few.Need), true
	case errors.Is(err, answers.ErrEmpty), errors.Is(err, lines.ErrNoUnits):
		return v.Say("why.empty"), true
	case errors.Is(err, lines.ErrOneStation):
		return v.Say("why.onestation"), true
	case errors.Is(err, answers.ErrBounds):
		return v.Say("why.bounds"), true
	case errors.Is(err, answers.ErrNoLimits):
		return v.Say("why.nolimits"), true
	case errors.Is(err, answers.ErrNoSpread):
		return v.Say("why.nospread"), true
	case isAsked:
		return asked.Say, true
	}
	return "", false
}

func revisions(m lines.Mixture) string {
	var names []string
	for _, r := range m.Revisions {
		names = append(names, r.Label)
	}
	return strings.Join(names, ", ")
}

// offer puts fields of the page's own into its form.
func (s *study) offer(asks ...ask) { s.Own = append(s.Own, asks...) }

// show puts a table on the page, with what is said of it; open shows it at once.
func (s *study) show(title string, t report.Table, open bool, says ...note) {
	table := s.TableOf(t, title)
	table.Open = open
	s.add(figure{Title: title, Table: table, Says: says})
}

// add puts a figure on the page.
func (s *study) add(f figure) {
	if f.Says == nil {
		f.Says = []note{}
	}
	if f.Table != nil {
		more := s.own()
		more.Set("csv", f.Table.Name)
		f.CSV = s.link(s.Plain, more)
		s.sorted(&f)
	}
	s.Figures = append(s.Figures, f)
}

// own are the parameters of the page beside the filter's.
func (s *study) own() url.Values {
	own := url.Values{}
	for name, values := range s.form {
		if name != "csv" && !slices.Contains(choice.Params, name) {
			own[name] = values
		}
	}
	return own
}

// tables are all of a page's, for files.
func (s *study) Tables() []page.Table {
	var out []page.Table
	for _, f := range s.Figures {
		if f.Table != nil {
			out = append(out, *f.Table)
		}
	}
	return out
}

// about is the runs that the page asks about.
func (s *study) about() answers.Selection { return s.chosen.Selection }

// tell puts conclusions into the reader's language.
func tell(v page.Words, list []answers.Sentence) []note {
	out := []note{}
	for _, one := range list {
		out = append(out, note{Text: report.Say(v.Lang, one.By(v.Zone())), Kind: string(one.Tone), Code: one.Code})
	}
	return out
}

// narrow is how wide the drawings for phones are.
const narrow = 324

// frame begins a chart on this page.
func (s *study) frame(id, title, desc string, width, height float64) chart.Frame {
	return chart.Frame{ID: id, Title: title, Desc: desc, Quiet: true, Width: width, Height: height, Number: s.Num, Narrow: narrow,
		Few: report.Few(s.Lang)}
}

func says(texts ...string) []note {
	out := []note{}
	for _, text := range texts {
		if text != "" {
			out = append(out, note{Text: text, Kind: "say"})
		}
	}
	return out
}
