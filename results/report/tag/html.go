package tag

import (
	"bytes"
	_ "embed"
	"html/template"
	"io"
	"strings"
)

//go:embed tag.html
var pageText string

// Style is how tags look, on a page and on paper.
//
//go:embed tag.css
var Style string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// maker tells a page of this package from all others.
const maker = `<meta name="generator" content="padjig tag">`

// IsPage reports whether a file that begins like this is a page that HTML wrote.
func IsPage(head []byte) bool { return bytes.Contains(head, []byte(maker)) }

// HTML writes the tag as one page that needs nothing beside it.
func (t Tag) HTML(w io.Writer) error { return pageTemplate.ExecuteTemplate(w, "page", drawn{t}) }

// Body is the tag as a part of another page, whose style sheet is Style.
func (t Tag) Body() template.HTML {
	var out strings.Builder
	if err := pageTemplate.ExecuteTemplate(&out, "tag", drawn{t}); err != nil {
		panic(err) // the template does not fit its data: a fault of the program
	}
	return template.HTML(out.String())
}

// drawn is what the template is filled with.
type drawn struct{ Tag }

// Modules of half a millimetre are read by any scanner; where there is no room for that
// the drawing gets as narrow as the paper.
const module = 0.5

func (d drawn) T(key string) string { return d.say(key) }

func (d drawn) Sheet() string { return d.say("sheet", d.Serial) }

func (d drawn) Maker() template.HTML { return maker }

func (d drawn) Style() template.CSS { return template.CSS(Style) }

func (d drawn) SerialBars() template.HTML { return d.serial.SVG(d.say("bars", d.serial.Text), module) }

func (d drawn) RunBars() template.HTML { return d.run.SVG(d.say("bars", d.run.Text), module) }
