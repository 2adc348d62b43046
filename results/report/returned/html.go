package returned

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/returns"
	"padjig/sequence"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"clock": clock, "day": day, "percent": func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) },
	"say": Group.say, "next": Group.next, "all": sayAll, "plural": plural, "reading": reading,
	"today": func(k Beside) string { return reading(k.now()) }, "changed": Beside.changed, "real": Beside.real,
}).Parse(pageText))

// maker tells a page of this package from all others.
const maker = `<meta name="generator" content="padjig returns">`

// IsPage reports whether a file that begins like this is a page that HTML wrote.
func IsPage(head []byte) bool { return bytes.Contains(head, []byte(maker)) }

// Maker names the program.
func (p sheetPage) Maker() template.HTML { return maker }

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
	Units   []returns.Alike
	Doubts  []string
	Lines   []Beside                                  // beneath a wide pad, whose keys have no room for figures
	Left    struct{ Found, Units, Doubts, Lines int } // left out
}

// What fits on a page.
const (
	mostEvents = 6
	mostFound  = 3
	mostUnits  = 3
	mostCauses = 3
	mostDoubts = 2
	mostPhotos = 4
	mostLines  = 8 // of the table beneath a wide pad
)

// HTML writes the report as one page that needs nothing beside it. Where is
// where a photo lies.
func (l *Life) HTML(w io.Writer, where func(returns.Photo) string, made time.Time) error {
	p := sheetPage{Life: l, Style: template.CSS(pageStyle), Made: made, Pad: l.sheetPad(), Quiet: l.quiet(), Held: l.held()}
	p.cut()
	for i, g := range l.Groups {
		if len(p.Causes) < mostCauses && len(g.Causes) > 0 && (i == 0 || g.Probability >= leastShown) {
			p.Causes = append(p.Causes, g)
		}
	}
	photos, more := first(l.Case.Photos, mostPhotos)
	for _, photo := range photos {
		p.Shown = append(p.Shown, show(photo, where(photo)))
	}
	p.More = more
	return pageTemplate.Execute(w, p)
}

// cut takes as much of each list as fits, and says how much is left out. Of the
// events the last ones tell most, of all else the first.
func (p *sheetPage) cut() {
	p.Earlier = max(0, len(p.Events)-mostEvents)
	p.Listed = p.Events[p.Earlier:]
	p.Found, p.Left.Found = first(p.Findings, mostFound)
	p.Units, p.Left.Units = first(p.Alike, mostUnits)
	p.Doubts, p.Left.Doubts = first(p.Against(), mostDoubts)
	if p.Pad.Small {
		listed, left := p.listed()
		p.Lines, p.Left.Lines = first(listed, mostLines)
		p.Left.Lines += left
	}
}

// first gives the first n of a list, and how many there are behind them.
func first[T any](list []T, n int) (kept []T, more int) {
	n = min(n, len(list))
	return list[:n], len(list) - n
}

// sheetPad is the pad drawn as it looks. The figures of a wide one would be too
// small to read: its keys are drawn smaller around larger letters, with only
// today's value, and a table beneath says the rest.
type sheetPad struct {
	Wide, High float64
	Small      bool
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

// grid is how far apart keys are drawn.
type grid struct{ across, down float64 }

var roomy, small = grid{100, 50}, grid{60, 34}

const (
	gap        = 4.0
	mostAcross = 10 // key pitches that leave room for figures
)

func (l *Life) sheetPad() sheetPad {
	left, top, right, bottom := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, k := range l.pad {
		left, top = min(left, k.X), min(top, k.Y)
		right, bottom = max(right, k.X+k.W), max(bottom, k.Y+k.H)
	}
	if len(l.pad) == 0 || l.First == nil && l.Test == nil {
		return sheetPad{}
	}
	g := roomy
	if right-left > mostAcross {
		g = small
	}
	p := sheetPad{Wide: g.across * (right - left), High: g.down * (bottom - top), Small: g == small}
	by := map[string]Beside{}
	for _, k := range l.Keys {
		by[k.Key] = k
	}
	for _, k := range l.pad {
		s := by[k.Label].sheet(k.Label)
		s.X, s.Y = g.across*(k.X-left)+gap/2, g.down*(k.Y-top)+gap/2
		s.W, s.H = g.across*k.W-gap, g.down*k.H-gap
		s.Mid, s.LabelY, s.NowY, s.ChangeY = s.X+s.W/2, s.Y+15, s.Y+29, s.Y+41
		if p.Small {
			s.Then, s.Change, s.LabelY, s.NowY = "", "", s.Y+13, s.Y+25
		}
		p.Keys = append(p.Keys, s)
	}
	return p
}

func (k Beside) sheet(label string) sheetKey {
	s := sheetKey{Label: label, Then: short(k.Shipped), Now: short(k.now()), Tip: "key " + label + " (" + k.Lines[0] + "-" + k.Lines[1] + ")"}
	real := k.Change != nil && k.Change.Real()
	if real {
		s.Change = k.Change.inOhm()
	}
	switch {
	case k.Wrong:
		s.Class, s.Mark = "wrong", "✗"
	case k.Thin:
		s.Class, s.Mark = "thin", "!"
	case real:
		s.Class = "changed"
	case k.Now == "":
		s.Class = "unread"
	}
	return s
}

// now is today's reading.
func (k Beside) now() *fixture.Resistance {
	if k.Now == string(sequence.FirstPress) {
		return k.First
	}
	return k.Test
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
