package returned

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"clock": clock, "minute": minute, "zone": zone, "day": day, "percent": func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) },
	"say": Group.say, "next": Group.next, "all": sayAll, "plural": plural,
}).Parse(pageText))

// sheetPage is what the template is filled with.
type sheetPage struct {
	*Life
	Style   template.CSS
	Made    time.Time
	Pad     sheetPad
	Listed  []Event
	Earlier int // events left out
	Causes  []Group
	Shown   []shownPhoto
	More    int // photos left out
	Quiet   string
	Held    []string
	Found   []Found
	Units   []results.Alike
	Left    struct{ Found, Units int } // left out
}

// What fits on a page.
const (
	mostEvents = 8
	mostFound  = 5
	mostUnits  = 5
	mostCauses = 3
	mostPhotos = 4
)

// HTML writes the report as one page that needs nothing beside it. Where is
// where a photo lies.
func (l *Life) HTML(w io.Writer, where func(results.Photo) string, made time.Time) error {
	p := sheetPage{Life: l, Style: template.CSS(pageStyle), Made: made, Pad: l.sheetPad(), Quiet: l.quiet(), Held: l.held()}
	p.Listed, p.Earlier = l.Events, max(0, len(l.Events)-mostEvents)
	p.Listed = l.Events[p.Earlier:]
	p.Found, p.Units = l.Findings[:min(len(l.Findings), mostFound)], l.Alike[:min(len(l.Alike), mostUnits)]
	p.Left.Found, p.Left.Units = len(l.Findings)-len(p.Found), len(l.Alike)-len(p.Units)
	for i, g := range l.Groups {
		if len(p.Causes) < mostCauses && len(g.Causes) > 0 && (i == 0 || g.Probability >= leastShown) {
			p.Causes = append(p.Causes, g)
		}
	}
	for _, photo := range l.Case.Photos[:min(len(l.Case.Photos), mostPhotos)] {
		p.Shown = append(p.Shown, show(photo, where(photo)))
	}
	p.More = len(l.Case.Photos) - len(p.Shown)
	return pageTemplate.Execute(w, p)
}

// sheetPad is the pad drawn as it looks, in units of a hundredth of a key pitch.
type sheetPad struct {
	Wide, High float64
	Keys       []sheetKey
}

type sheetKey struct {
	X, Y, W, H float64
	Mid        float64 // of the box, across
	Label      string
	Then, Now  string
	Change     string
	Class      string
	Mark       string
	LabelY     float64 // of the lines of text
	NowY       float64
	ChangeY    float64
	Tip        string
}

const pitch, gap = 100.0, 4.0

func (l *Life) sheetPad() sheetPad {
	left, top, right, bottom := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, k := range l.pad {
		left, top = min(left, k.X), min(top, k.Y)
		right, bottom = max(right, k.X+k.W), max(bottom, k.Y+k.H)
	}
	if len(l.pad) == 0 {
		return sheetPad{}
	}
	p := sheetPad{Wide: pitch * (right - left), High: pitchHigh * (bottom - top)}
	by := map[string]Beside{}
	for _, k := range l.Keys {
		by[k.Key] = k
	}
	for _, k := range l.pad {
		x, y := pitch*(k.X-left)+gap/2, pitchHigh*(k.Y-top)+gap/2
		s := by[k.Label].sheet(k.Label)
		s.X, s.Y, s.W, s.H = x, y, pitch*k.W-gap, pitchHigh*k.H-gap
		s.Mid = x + s.W/2
		s.LabelY, s.NowY, s.ChangeY = y+15, y+29, y+41
		p.Keys = append(p.Keys, s)
	}
	return p
}

// pitchHigh leaves room for three lines of text in a key.
const pitchHigh = 50.0

func (k Beside) sheet(label string) sheetKey {
	s := sheetKey{Label: label, Then: short(k.Shipped), Tip: "key " + label + " (" + k.Lines[0] + "-" + k.Lines[1] + ")"}
	now := k.Test
	if k.Now == "first press" {
		now = k.First
	}
	s.Now = short(now)
	if k.Change != nil && k.Change.Real() {
		s.Change = k.Change.inOhm()
	}
	switch {
	case k.Wrong:
		s.Class, s.Mark = "wrong", "✗"
	case k.Thin:
		s.Class, s.Mark = "thin", "!"
	case s.Change != "":
		s.Class = "changed"
	case k.Now == "":
		s.Class = "unread"
	}
	return s
}

// short is a value in a small place: three digits, no uncertainty, no unit where it is ohm.
func short(r *fixture.Resistance) string {
	switch {
	case r == nil:
		return "–"
	case r.AtLeast:
		return "open"
	}
	digits := math.Pow(10, math.Floor(math.Log10(max(math.Abs(float64(r.Value)), 1e-3)))-2)
	return strings.TrimSuffix(quantity.Ohm(math.Round(float64(r.Value)/digits)*digits).String(), " ohm")
}

// Marks says what the marks mean, those that are there.
func (p sheetPage) Marks() (marks []string) {
	said := map[string]bool{}
	for _, k := range p.Pad.Keys {
		said[k.Class] = true
	}
	for _, m := range []struct{ class, text string }{
		{"wrong", "✗ found at fault"}, {"thin", "! left with less margin than its guard band"},
		{"changed", "± real change: larger than its uncertainty, k = 2"}, {"unread", "hatched: not measured"},
	} {
		if said[m.class] {
			marks = append(marks, m.text)
		}
	}
	return marks
}

// Sum says what the page is about, for its title.
func (p sheetPage) Sum() string {
	return strings.Join([]string{"Returned unit", p.Case.Serial, "case", fmt.Sprint(p.Case.Number)}, " ")
}
