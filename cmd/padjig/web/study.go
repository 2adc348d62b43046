package web

import (
	"errors"
	"html/template"
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// A study is a page of the quality engineer: what runs it is about, in the
// address; what it finds, in figures; and each figure's numbers as a table.

// studyPage is a page of that kind. Find adds what the page is about to the
// study; an error it returns that a person can mend is shown on the page.
func studyPage(path, name string, find func(*study) error) page {
	p := page{path: "/quality" + path, name: name, who: studying}
	p.view = func(v *visit) (any, error) {
		s, err := v.newStudy(p.path)
		if err != nil {
			return nil, err
		}
		if s.wrong == "" && s.Runs == 0 {
			s.note("study.empty")
			return s, nil
		}
		if s.wrong != "" {
			return s, nil
		}
		if err := find(s); err != nil && !s.told(err) {
			return nil, err
		}
		return s, nil
	}
	return p
}

// studying are those who look at what the line is doing.
var studying = may{account.Quality, account.Engineer}

// study is the view of such a page.
type study struct {
	Said      string    `json:"selection"` // what is chosen, in words
	Simulated bool      `json:"simulated"`
	Runs      int       `json:"runs"`
	Units     int       `json:"units"`
	Counted   string    `json:"-"` // units and runs, in words
	Notes     []note    `json:"notes"`
	Figures   []figure  `json:"figures"`
	Asks      []ask     `json:"-"` // of the filter and of the page
	Own       []ask     `json:"-"`
	Sections  []entry   `json:"-"`
	Form      *signForm `json:"-"`
	Plain     string    `json:"-"` // of this page without

	*visit `json:"-"`
	filter lines.Filter
	mixed  lines.Mixture
	wrong  string
	there  lines.Facets
}

// note is something to be known about the numbers.
type note struct {
	Text string `json:"text"`
	Kind string `json:"kind"` // "warn", "wrong", "say"
	Lang string `json:"-"`    // when it is not the page's
	Code string `json:"code,omitempty"`
}

// figure is a chart with what it says and its numbers.
type figure struct {
	Title string          `json:"title"`
	Says  []note          `json:"says"` // the conclusion in plain words, and what it does not show
	Chart template.HTML   `json:"-"`
	Small bool            `json:"-"` // stands beside others
	Table *table          `json:"table,omitempty"`
	CSV   string          `json:"csv,omitempty"` // address of the table as a file
	Many  []template.HTML `json:"-"`             // small multiples
}

// ask is a field of the form above a study.
type ask struct {
	Name, Label string
	Kind        string // "pick" of several, "one" of several, "text", "number", "date"
	Value       string
	Options     []option
}

type option struct {
	Value, Text string
	Chosen      bool
}

// Chosen is how many options are.
func (a ask) Chosen() (n int) {
	for _, o := range a.Options {
		if o.Chosen {
			n++
		}
	}
	return n
}

// signForm is something a study lets be recorded.
type signForm struct {
	Action, Title, Label, Button, Explain string
	Asks                                  []ask
	Fields                                []option // hidden: Value is the name, Text the value
}

// Line of sections: every page of the quality engineer, in the order of looking.
var sections = []struct{ path, key string }{
	{"/quality", "study.overview"}, {"/quality/yield", "study.yield"}, {"/quality/causes", "study.causes"},
	{"/quality/charts", "study.charts"}, {"/quality/spread", "study.spread"}, {"/quality/capability", "study.capability"},
	{"/quality/compare", "study.compare"}, {"/quality/gauge", "study.gauge"}, {"/quality/lots", "study.lots"},
	{"/quality/shift", "study.shift"}, {"/quality/limits", "study.limits"}, {"/quality/sampling",
		"study.sampling"}, {"/quality/retest", "study.retest"},
}

// zone is that of the shifts, UTC while there are none.
func (v *visit) zone() *time.Location {
	plan, err := v.site.Store.Floor.Shifts(v.r.Context())
	if err != nil || plan == nil {
		return time.UTC
	}
	zone, err := time.LoadLocation(plan.Zone)
	if err != nil {
		return time.UTC
	}
	return zone
}

func (v *visit) newStudy(path string) (*study, error) {
	s := &study{visit: v, Plain: path, Notes: []note{}, Figures: []figure{}}
	if err := v.r.ParseForm(); err != nil {
		return nil, wrong(err.Error())
	}
	f, err := lines.ParseFilter(v.r.Form, v.zone())
	s.filter = f
	if err != nil {
		s.wrong = err.Error()
		s.Notes = append(s.Notes, note{Text: s.wrong, Kind: "wrong", Lang: "en"})
		return s, s.settle()
	}
	if err := s.tally(); err != nil {
		return nil, err
	}
	return s, s.settle()
}

// tally finds how much there is. Without a choice, simulated runs are shown
// when there are no others, so that a demonstration has something to show.
func (s *study) tally() error {
	y, err := s.site.Store.Lines.Yields(s.ctx(), s.filter)
	if err != nil {
		return err
	}
	if y.Total.Runs == 0 && !s.r.Form.Has("simulated") {
		other := s.filter
		other.Simulated = true
		if y, err = s.site.Store.Lines.Yields(s.ctx(), other); err != nil {
			return err
		}
		if y.Total.Runs > 0 {
			s.filter = other
		}
	}
	s.mixed, s.Runs, s.Units = y.Mixed, y.Total.Runs, y.Total.Units
	return nil
}

// settle says what is chosen and what can be. Where there is one product only,
// it is the one that is meant.
func (s *study) settle() (err error) {
	s.there, err = s.site.Store.Lines.Facets(s.ctx(), s.filter.Product, s.filter.Simulated)
	if err != nil {
		return err
	}
	if len(s.there.Products) == 1 && s.filter.Product == "" {
		s.filter.Product = s.there.Products[0]
	}
	s.Simulated = s.filter.Simulated
	s.Said, s.Counted = s.selection(), s.say("study.n", s.whole(s.Units), s.whole(s.Runs))
	for _, one := range sections {
		s.Sections = append(s.Sections, entry{s.link(one.path, nil), s.say(one.key), one.path == s.Plain})
	}
	s.ask()
	return nil
}

// link is the address of a page about the same runs, with some parameters besides.
func (s *study) link(path string, more url.Values) string {
	v := s.filter.Values()
	for name, values := range more {
		v[name] = values
	}
	if len(v) == 0 {
		return path
	}
	return path + "?" + v.Encode()
}

// param is a parameter of the page's own.
func (s *study) param(name, otherwise string) string {
	if text := strings.TrimSpace(s.r.Form.Get(name)); text != "" {
		return text
	}
	return otherwise
}

func (s *study) note(key string, args ...any) {
	s.Notes = append(s.Notes, note{Text: s.say(key, args...), Kind: "say"})
}

func (s *study) warn(key string, args ...any) {
	s.Notes = append(s.Notes, note{Text: s.say(key, args...), Kind: "warn"})
}

// told says on the page what keeps it from an answer, and reports whether that
// is all there is to it.
func (s *study) told(err error) bool {
	text, known := s.why(err)
	if known {
		s.Notes = append(s.Notes, note{Text: text, Kind: "wrong"})
	}
	return known
}

// why puts into the reader's words what keeps data from answering.
func (v *visit) why(err error) (text string, known bool) {
	mixed, isMixed := errors.AsType[*lines.MixedError](err)
	missing, isMissing := errors.AsType[*lines.MissingKeysError](err)
	few, isFew := errors.AsType[*answers.TooFewError](err)
	asked, isAsked := errors.AsType[*problem](err)
	switch {
	case isMixed && len(mixed.Products) > 1:
		return v.say("why.products", strings.Join(mixed.Products, ", ")), true
	case isMixed:
		return v.say("why.revisions", v.revisions(mixed.Mixture)), true
	case isMissing:
		return v.say("why.keys", strings.Join(missing.Missing, ", "), strings.Join(missing.Known, " ")), true
	case isFew:
		return v.say("why.few", few.Have, few.Need), true
	case errors.Is(err, answers.ErrEmpty), errors.Is(err, lines.ErrNoUnits):
		return v.say("why.empty"), true
	case errors.Is(err, answers.ErrNoLimits):
		return v.say("why.nolimits"), true
	case errors.Is(err, answers.ErrNoSpread):
		return v.say("why.nospread"), true
	case isAsked:
		return asked.say, true
	}
	return "", false
}

func (v *visit) revisions(m lines.Mixture) string {
	var names []string
	for _, r := range m.Revisions {
		names = append(names, r.Label)
	}
	return strings.Join(names, ", ")
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
	}
	s.Figures = append(s.Figures, f)
}

// own are the parameters of the page beside the filter's.
func (s *study) own() url.Values {
	own := url.Values{}
	for name, values := range s.r.Form {
		if name != "csv" && !slices.Contains(lines.FilterParams, name) {
			own[name] = values
		}
	}
	return own
}

// tables are all of a page's, for files.
func (s *study) tables() []table {
	var out []table
	for _, f := range s.Figures {
		if f.Table != nil {
			out = append(out, *f.Table)
		}
	}
	return out
}

// about is the runs that the page asks about.
func (s *study) about() answers.Selection { return answers.Selection{Filter: s.filter} }

// tell puts conclusions into the reader's language.
func (v *visit) tell(list []answers.Sentence) []note {
	out := []note{}
	for _, one := range list {
		out = append(out, note{Text: report.Say(v.Lang, one), Kind: string(one.Tone), Code: one.Code})
	}
	return out
}

// frame begins a chart on this page.
func (s *study) frame(id, title, desc string, width, height float64) chart.Frame {
	return chart.Frame{ID: id, Title: title, Desc: desc, Quiet: true, Width: width, Height: height, Number: s.num}
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
