package tag

import (
	"html/template"
	"io"

	"padjig/results/fails"
	"padjig/results/report/barcode"
)

// Sheet is a page of the barcodes of fail places.
type Sheet struct {
	Lang   string
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
	}{Lang: s.Lang, Title: texts.Say(s.Lang, "places"), Style: template.CSS(Style), Maker: maker}
	for _, p := range s.Places {
		code, err := barcode.Of(p.Code())
		if err != nil {
			return err
		}
		name := p.Name
		if name == fails.UsualPlace {
			name = texts.Say(s.Lang, "place")
		}
		view.Places = append(view.Places, Placed{name, code.Text, code.SVG(texts.Say(s.Lang, "bars", code.Text), 2*module)})
	}
	return pageTemplate.ExecuteTemplate(w, "places", view)
}
