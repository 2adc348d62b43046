package pad

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// look is how large a drawing is made, in its own units.
type look struct {
	class        string
	across, down float64 // of a key pitch
	gap, round   float64 // between keys; of their corners
	edge         float64 // of the pad's body around its keys, 0: no body
	least, most  float64 // size of a label
	text         float64 // size of all other text
	lead         float64 // from line to line
	terse        bool    // today's value alone
	live         bool    // classes and values change later; a cross shows what failed
}

// Live draws the pad for a page that follows a test: a key's element is
// "key-" and its number, from 0; its class and value may change.
func (p Pad) Live() template.HTML {
	l := look{class: "pad", across: 100, down: 100, gap: 8, round: 11, edge: 12, least: 15, most: 34, text: 17, lead: 28, live: true}
	left, top := p.margins(l)
	d := p.draw(l, "key", left+l.edge+2, top+l.edge+2)
	d.Wide, d.High = d.Wide+l.edge+2, d.High+l.edge+2
	d.Body = &shape{X: left + 2, Y: top + 2, W: d.Wide - left - 4, H: d.High - top - 4, Round: 22}
	return d.svg()
}

// Printed draws the pad for a printed sheet. The figures of a wide one would be
// too small to read: its keys are drawn smaller around larger letters, with only
// today's value.
func (p Pad) Printed() template.HTML {
	l := look{class: "pad", across: 100, down: 50, gap: 4, round: 5, least: 12, most: 12, text: 9.5, lead: 13}
	if !p.Roomy() {
		l = look{class: "pad small", across: 60, down: 34, gap: 4, round: 5, least: 11.5, most: 11.5, text: 11, lead: 13, terse: true}
	}
	left, top := p.margins(l)
	return p.draw(l, "pad", left, top).svg()
}

// margins is the room for the names of tracks at the left and at the top.
func (p Pad) margins(l look) (left, top float64) {
	if !p.Lined && len(p.Tracks) == 0 {
		return 0, 0
	}
	return trackLeft * l.text / 17, trackTop * l.text / 17
}

// Chart draws the pad among charts, as large as a width allows, with its scale
// beneath and its title above if it is headed. The id is unique on the page.
func (p Pad) Chart(id string, width float64, headed bool) template.HTML {
	return p.chart(id, "chart c-pad", width, headed)
}

// Charts draws it twice, for wide windows and for narrow ones; the style sheet of charts
// shows one.
func (p Pad) Charts(id string, wide, narrow float64) template.HTML {
	return p.chart(id, "chart c-pad c-wide", wide, false) + p.chart(id+"-narrow", "chart c-pad c-narrow", narrow, false)
}

func (p Pad) chart(id, class string, width float64, headed bool) template.HTML {
	left, top, right, bottom := p.extent()
	l := look{class: class, across: min((width-4)/(right-left), 78), gap: 3, round: 4, least: 12, most: 12, text: 11, lead: 15}
	l.down = min(l.across, 54)
	head := 8.0
	if headed && p.Title != "" {
		head = 26
	}
	d := p.draw(l, id, (width-l.across*(right-left))/2, head)
	if headed {
		d.Heading = p.Title
	}
	d.Wide, d.Sized = width, true
	d.legend(head + l.down*(bottom-top) + 10)
	return d.svg()
}

// drawing is what the template is filled with.
type drawing struct {
	Pad
	Class, ID  string
	Wide, High float64
	Sized      bool // shown as wide and high as its units say, where there is room
	Heading    string
	Body       *shape
	Keys       []drawnKey
	Drawn      []drawnTrack
	Legend     []shape
	Ends       []line // of the legend
	Live       bool
	Links      bool // keys lead somewhere: no picture as a whole
}

type shape struct {
	Class             string
	X, Y, W, H, Round float64
}

type drawnKey struct {
	shape
	N     int
	Mark  *line  // the number of its finding, beside the cross
	Fill  string // of the hatching over it
	Tip   string
	Link  string
	Lines []line
}

type line struct {
	Class, Anchor    string
	X, Y, Size, Long float64 // Long: squeezed into so much
	Then, Text       string
}

// Shades is how many steps the shading has; more cannot be told apart.
const Shades = 6

func (p Pad) draw(l look, id string, x, y float64) *drawing {
	left, top, right, bottom := p.extent()
	d := &drawing{Pad: p, Class: l.class, ID: id, Live: l.live, Wide: x + l.across*(right-left), High: y + l.down*(bottom-top)}
	for n, k := range p.Keys {
		key := drawnKey{N: n, Tip: k.Tip, Link: k.Link, shape: shape{Class: p.class(k), X: x + l.across*(k.X-left) + l.gap/2, Y: y + l.down*(k.Y-top) + l.gap/2,
			W: l.across*k.W - l.gap, H: l.down*k.H - l.gap, Round: l.round}}
		if strings.Contains(key.Class, "unread") {
			key.Fill = "url(#" + id + "-unread)"
		}
		key.Lines = l.lines(k, key.shape)
		if l.live && k.Defect > 0 {
			key.Mark = &line{X: key.X + 9, Y: key.Y + 25, Size: l.text + 3, Text: fmt.Sprint(k.Defect)}
		}
		d.Links = d.Links || k.Link != ""
		d.Keys = append(d.Keys, key)
	}
	if !p.shaded() {
		margin, _ := p.margins(l)
		d.Drawn = p.tracks(l, d.Keys, margin, y-l.edge)
	}
	return d
}

// class names the state of a key, and its shade where keys are shaded.
func (p Pad) class(k Key) string {
	switch class := k.State.Class(); {
	case !p.shaded():
		return class
	case math.IsNaN(k.Value):
		return strings.TrimSuffix(class, " unread") + " unread"
	default:
		return fmt.Sprint(class, " h", p.shade(k.Value, Shades))
	}
}

// worse stands before a reading that was worse than today's.
const worse = "↑ "

// today is the one value of a key that has no room for more: the worst, where today's is not as bad.
func (k Key) today() string {
	if k.Worst != "" {
		return worse + k.Worst
	}
	return k.Now
}

// tall is how high a key of a live drawing is that has room for a cross above its label.
const tall = 80.0

// lines are the lines of text of a key, as many as fit; where only one does it
// is what is known, since the tip has the label.
func (l look) lines(k Key, in shape) []line {
	mid, label := in.X+in.W/2, k.Label
	if l.terse {
		k.Then, k.Change, k.Now, k.Worst = "", "", k.today(), ""
	}
	if marks[k.State].loud && !l.live {
		label = marks[k.State].sign + " " + label
	}
	size := max(l.least, min(l.most, 1.28*(in.W-10)/float64(max(1, utf8.RuneCountInString(label)))))
	lines := []line{{Class: "label", Text: label, Size: size}}
	if l.live || k.Now != "" {
		lines = append(lines, line{Class: "value", Then: k.Then, Text: k.Now, Size: l.text})
	}
	switch {
	case k.Worst != "":
		lines = append(lines, line{Class: "worst", Text: worse + k.Worst, Size: l.text})
	case k.Change != "":
		lines = append(lines, line{Class: "change", Text: k.Change, Size: l.text})
	}
	switch room := max(1, int(in.H/l.lead)); {
	case room == 1 && len(lines) > 1:
		lines = lines[1:2]
	case room < len(lines):
		lines = lines[:room]
	}
	under := l.live && in.H >= tall // the cross and the number
	if under {
		lines = lines[:min(len(lines), 2)]
	}
	for i := range lines {
		at := &lines[i]
		at.Anchor, at.X = "middle", mid
		switch {
		case under && i == 0:
			at.Y = in.Y + in.H/2 + 0.365*at.Size
		case under:
			at.Y = in.Y + in.H - 10
		default:
			at.Y = in.Y + in.H/2 + (float64(i)-float64(len(lines)-1)/2)*l.lead + 0.35*at.Size
		}
		letters := utf8.RuneCountInString(at.Text)
		if at.Then != "" {
			letters += utf8.RuneCountInString(at.Then) + 3
		}
		if float64(letters)*at.Size*0.72 > in.W && !(l.live && at.Class == "value") {
			at.Long = max(in.W-10, 0.8*in.W)
		}
	}
	return lines
}

// legend shows the shades from none to most.
func (d *drawing) legend(y float64) {
	d.High = y + 24
	if !d.shaded() {
		return
	}
	const step = 22.0
	x := (d.Wide-step*(Shades+1))/2 + 0.5
	for i := range Shades + 1 {
		d.Legend = append(d.Legend, shape{Class: fmt.Sprint("h", i), X: x + step*float64(i), Y: y, W: step - 1, H: 14, Round: 4})
	}
	d.Ends = []line{{Anchor: "end", X: x - 6, Y: y + 11, Text: d.Scale[0]}, {Anchor: "start", X: x + step*(Shades+1) + 6, Y: y + 11, Text: d.Scale[1]}}
}

var svgTemplate = template.Must(template.New("pad").Funcs(template.FuncMap{"at": at, "cross": cross}).
	Parse(`<svg class="{{.Class}}" viewBox="0 0 {{at .Wide}} {{at .High}}"{{if .Sized}} width="{{at .Wide}}" height="{{at .High}}"{{end}} role="{{if .Links}}group{{else}}img{{end}}"
{{- if .Title}} aria-labelledby="{{.ID}}-title {{.ID}}-desc"><title id="{{.ID}}-title">{{.Title}}</title><desc id="{{.ID}}-desc">{{.Desc}}</desc>
{{- else}} aria-label="{{.Desc}}">{{end}}
{{- if not .Live}}<defs><pattern id="{{.ID}}-unread" class="c-hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="5"/></pattern></defs>{{end}}
{{- with .Heading}}<text class="c-heading" x="2" y="14">{{.}}</text>{{end}}
{{- with .Body}}<rect class="body" {{template "place" .}}/>{{end}}
{{range .Keys}}{{if .Link}}<a class="c-spot key {{.Class}}" href="{{.Link}}">{{else}}<g class="key {{.Class}}"{{if $.Live}} id="key-{{.N}}"{{end}}>{{end}}{{with .Tip}}<title>{{.}}</title>{{end}}<rect class="cap" {{template "place" .}}/>
{{- if .Fill}}<rect class="hatched" fill="{{.Fill}}" {{template "place" .}}/>{{end}}
{{- if $.Live}}<path class="cross" d="{{cross .}}"/>{{end}}
{{- range .Lines}}<text class="{{.Class}}" x="{{at .X}}" y="{{at .Y}}" text-anchor="{{.Anchor}}" font-size="{{at .Size}}"
{{- if .Long}} textLength="{{at .Long}}" lengthAdjust="spacingAndGlyphs"{{end}}>{{with .Then}}<tspan class="then">{{.}}</tspan> › {{end}}{{.Text}}</text>{{end}}
{{- with .Mark}}<text class="number" x="{{at .X}}" y="{{at .Y}}" font-size="{{at .Size}}">{{.Text}}</text>{{end}}{{if .Link}}</a>{{else}}</g>{{end}}
{{end}}{{range .Drawn}}<g class="track"><path d="{{.Path}}"/>{{range .Lines}}<text class="{{.Class}}" x="{{at .X}}" y="{{at .Y}}" text-anchor="{{.Anchor}}" font-size="{{at .Size}}"
{{- if .Long}} textLength="{{at .Long}}" lengthAdjust="spacingAndGlyphs"{{end}}>{{.Text}}</text>{{end}}</g>
{{end}}{{range .Legend}}<rect class="cap {{.Class}}" {{template "place" .}}/>{{end}}
{{- range .Ends}}<text class="c-value" x="{{at .X}}" y="{{at .Y}}" text-anchor="{{.Anchor}}">{{.Text}}</text>{{end}}</svg>
{{- define "place"}}x="{{at .X}}" y="{{at .Y}}" width="{{at .W}}" height="{{at .H}}" rx="{{at .Round}}"{{end}}`))

// svg writes the drawing out.
func (d *drawing) svg() template.HTML {
	var out strings.Builder
	if err := svgTemplate.Execute(&out, d); err != nil {
		panic(err) // the template does not fit its data: a fault of the program
	}
	return template.HTML(out.String())
}

// at writes a place on the sheet: a tenth of a unit is finer than any screen shows.
func at(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

// cross is a cross in the upper right corner of a key.
func cross(k drawnKey) string {
	x, y := k.X+k.W-27, k.Y+9
	return fmt.Sprintf("M%s %sl18 18M%s %[2]sl-18 18", at(x), at(y), at(x+18))
}
