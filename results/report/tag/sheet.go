package tag

import (
	"html/template"
	"io"

	"padjig/results/fails"
	"padjig/results/report/barcode"
	"padjig/sequence/wording"
)

// Sheet is a page of the barcodes of fail places.
type Sheet struct {
	Words  wording.Words // of the language that it is in
	Places []fails.Place
}

// Placed is one place on the sheet.
type Placed struct {
	Name, Code string
	Bars       template.HTML
}

// HTML writes the sheet as one page that needs nothing beside it.
func (s Sheet) HTML(w io.Writer) error {
	view := struct {
		Lang, Title string
		Style       template.CSS
		Maker       template.HTML
		Places      []Placed
	}{Lang: s.Words.Tag, Title: s.Words.Say("tag.places"), Style: template.CSS(Style), Maker: maker}
	for _, p := range s.Places {
		code, err := barcode.Of(p.Code())
		if err != nil {
			return err
		}
		name := p.Name
		if name == fails.UsualPlace {
			name = s.Words.Say("tag.place")
		}
		view.Places = append(view.Places, Placed{name, code.Text, code.SVG(s.Words.Say("tag.bars", code.Text), 2*module)})
	}
	return pageTemplate.ExecuteTemplate(w, "places", view)
}
