package quality

import (
	"html/template"
	"maps"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"padjig/results/answers"
	"padjig/results/answers/overview"
	"padjig/results/lines"
	"padjig/results/report"
)

// tile is a figure to be seen first.
type tile struct {
	Title    string        `json:"title"`
	Value    string        `json:"value"`
	Interval string        `json:"interval"`
	N        string        `json:"n"`
	Before   string        `json:"before"` // beside the time before
	Kind     string        `json:"kind"`
	Trend    template.HTML `json:"-"`
	Link     string        `json:"link"`
}

// shownBy is where each figure is looked into.
var shownBy = map[string]struct {
	path string
	own  url.Values
}{
	"first": {"/quality/yield", nil}, "units": {"/quality/yield", url.Values{"by": {"day"}}},
	"reseats": {"/quality/probes", nil}, "open": {"/quality/causes", nil},
}

// overviewPage is where the quality engineer looks first: four figures, and what needs
// attention; then every product with its yield.
func overviewPage(s *study) error {
	o, err := overview.AskOverview(s.ctx, s.store, overview.OverviewAsked{Selection: s.about(), Before: s.chosen.Before})
	if err != nil {
		return err
	}
	for _, f := range o.Figures {
		s.Tiles = append(s.Tiles, s.tile(f))
	}
	for _, l := range o.Looks {
		n := tell(s.Words, []answers.Sentence{l.Sentence})[0]
		n.Link = s.where(l)
		s.Looks = append(s.Looks, n)
	}
	f := s.yieldFigure("products", []lines.Dimension{lines.ByProduct, lines.ByRevision}, o.Products,
		s.Say("overview.products"))
	for i, row := range o.Products {
		f.Table.Rows[i][0].Link = s.link("/quality/yield", url.Values{"product": {row.Groups[0]}, "revision": {row.Groups[1]}})
	}
	said := tell(s.Words, o.Conclusions[:len(o.Figures)])
	s.days(o.Days)
	s.add(f)
	table := s.TableOf(report.FigureTable(o), s.Say("overview.figures"))
	s.add(figure{Title: table.Caption, Table: table, Says: said})
	return nil
}

// where is the page that shows more of what needs attention, about the same runs.
func (s *study) where(l overview.Look) string {
	if l.Ask == "jigs" {
		return "/jigs"
	}
	i := slices.IndexFunc(answers.Questions, func(q answers.Question) bool { return q.Ask == l.Ask })
	more := maps.Clone(l.Own)
	if more == nil {
		more = url.Values{}
	}
	maps.Copy(more, l.With)
	return s.link("/quality"+answers.Questions[i].Page, more)
}

func (s *study) tile(f overview.Figure) tile {
	before := f.Changed()
	t := tile{Title: s.Say("figure." + f.Name), Before: report.Say(s.Lang, before), Kind: string(before.Tone), Trend: s.trend(f),
		Link: s.link(shownBy[f.Name].path, shownBy[f.Name].own)}
	if f.N == 0 {
		t.Value, t.N = report.Whole(f.X), s.Say("overview.counted")
		return t
	}
	value, interval, _ := strings.Cut(report.Part(s.Lang, f.Share), " (")
	if interval != "" {
		interval = "(" + interval
	}
	t.Value, t.Interval, t.N = value, interval, s.Say("overview.n", report.Whole(f.X), report.Whole(f.N))
	return t
}

// trend draws how a figure went, small.
func (s *study) trend(f overview.Figure) template.HTML {
	points := make([]float64, len(f.Trend))
	from, to := "", ""
	for i, p := range f.Trend {
		points[i] = p.Value
	}
	if n := len(f.Trend); n > 0 {
		from, to = f.Trend[0].Name, f.Trend[n-1].Name
	}
	return trendLine(s.Say("overview.trend", s.Say("figure."+f.Name), from, to), points)
}

// trendLine is a line without axes: where it went, not how far. A gap is where there are
// too few units.
func trendLine(title string, points []float64) template.HTML {
	const wide, high, edge = 220.0, 44.0, 4.0
	low, top, drawn := math.Inf(1), math.Inf(-1), 0
	for _, v := range points {
		if !math.IsNaN(v) {
			low, top, drawn = min(low, v), max(top, v), drawn+1
		}
	}
	if drawn < 2 {
		return ""
	}
	if top-low < 1e-12 {
		low, top = low-1, top+1
	}
	var path, dots strings.Builder
	pen := "M"
	for i, v := range points {
		if math.IsNaN(v) {
			pen = "M"
			continue
		}
		x, y := edge+(wide-2*edge)*float64(i)/float64(max(1, len(points)-1)), edge+(high-2*edge)*(top-v)/(top-low)
		path.WriteString(pen + coordinates(x, y))
		dots.WriteString(`<circle cx="` + decimal(x) + `" cy="` + decimal(y) + `" r="2"/>`)
		pen = "L"
	}
	return template.HTML(`<svg class="trend" viewBox="0 0 220 44" preserveAspectRatio="xMinYMid meet" role="img" aria-label="` + template.HTMLEscapeString(title) +
		`"><path d="` + path.String() + `"/>` + dots.String() + `</svg>`)
}

func coordinates(x, y float64) string { return decimal(x) + " " + decimal(y) }

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }
