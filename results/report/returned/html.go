package returned

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"time"

	"padjig/results/report/pad"
	"padjig/results/returns"
	"padjig/sequence/wording"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"percent": func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) },
	"say":     Group.say, "next": Group.next, "all": sayAll, "plural": plural, "reading": reading,
	"desk":  func(a returns.Answered) string { return wording.Words{}.Desk(a.Say()) },
	"today": func(k Beside) string { return reading(k.Today()) }, "changed": Beside.changed, "real": Beside.real,
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
	Pad     pad.Pad
	Listed  []Event
	Earlier int // events left out
	Causes  []Group
	Shown   []shownPhoto
	More    int // photos left out
	Quiet   string
	Held    []string
	Found   []Found
	Went    []string // what one stage found and a later one did not
	Units   []returns.Alike
	Doubts  []string
	Lines   []Beside                                        // beneath a wide pad, whose keys have no room for figures
	Left    struct{ Found, Went, Units, Doubts, Lines int } // left out
}

// What fits on a page.
const (
	mostEvents = 6
	mostFound  = 3
	mostWent   = 2
	mostUnits  = 3
	mostCauses = 3
	mostDoubts = 2
	mostPhotos = 4
	mostLines  = 8 // of the table beneath a wide pad
)

// HTML writes the report as one page that needs nothing beside it. Where is
// where a photo lies.
func (l *Life) HTML(w io.Writer, where func(returns.Photo) string, made time.Time) error {
	p := sheetPage{Life: l, Style: template.CSS(pageStyle), Made: made, Quiet: quiet(l.Keys), Held: held(l.Exercise)}
	if l.First != nil || l.Test != nil {
		p.Pad = PadOf(l)
		p.Pad.Desc = "the keypad, each key with its resistance as shipped and today"
	}
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
	p.Went, p.Left.Went = first(Went(p.Gone, wording.Words{}), mostWent)
	p.Units, p.Left.Units = first(p.Alike, mostUnits)
	p.Doubts, p.Left.Doubts = first(p.Against(), mostDoubts)
	if !p.Pad.Roomy() {
		worth, left := listed(p.Keys)
		p.Lines, p.Left.Lines = first(worth, mostLines)
		p.Left.Lines += left
	}
}

// first gives the first n of a list, and how many there are behind them.
func first[T any](list []T, n int) (kept []T, more int) {
	n = min(n, len(list))
	return list[:n], len(list) - n
}

// Marks says what the marks mean, those that are there.
func (p sheetPage) Marks() (marks []string) {
	for _, m := range []struct {
		states []pad.State
		text   string
	}{
		{[]pad.State{pad.Wrong}, "✗ found at fault"}, {[]pad.State{pad.Was}, "~ by one stage, not by the last"}, {[]pad.State{pad.Thin}, "! left with less margin than its guard band"},
		{[]pad.State{pad.Rose, pad.Fell}, "± real change: larger than its uncertainty, k = 2"}, {[]pad.State{pad.Unread}, "hatched: not measured"},
	} {
		if slices.ContainsFunc(p.Pad.Keys, func(k pad.Key) bool { return slices.Contains(m.states, k.State) }) {
			marks = append(marks, m.text)
		}
	}
	if slices.ContainsFunc(p.Pad.Keys, func(k pad.Key) bool { return k.Worst != "" }) {
		marks = append(marks, "↑ the worst of all stages")
	}
	return marks
}

// Sum says what the page is about, for its title.
func (p sheetPage) Sum() string {
	return strings.Join([]string{"Returned unit", p.Case.Serial, "case", fmt.Sprint(p.Case.Number)}, " ")
}
