package lane

import (
	"html/template"
	"slices"

	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results/fails"
	"padjig/results/report/barcode"
)

// codes is a sheet of barcodes to be printed: every action at a lane
// without a hand on the screen, and the fail places.
func (p *Pages) codes(v *page.Visit) (any, error) {
	var out codesView
	for _, command := range commands {
		if err := out.add(v, CommandPrefix+command, v.Say("command."+command)); err != nil {
			return nil, err
		}
	}
	for _, lane := range p.lanes.All() {
		jig := control.JigName(lane.State())
		if err := out.add(v, control.CodeOf(control.JigBegins, jig), v.Say("codes.jig", jig)); err != nil {
			return nil, err
		}
	}
	products, err := p.Change.products(v)
	if err != nil {
		return nil, err
	}
	for _, code := range products {
		if err := out.add(v, control.CodeOf(control.ProductBegins, code), v.Say("codes.product", code)); err != nil {
			return nil, err
		}
	}
	places, err := p.store.Fails.Places(v.Ctx())
	for _, place := range places {
		if err == nil {
			err = out.add(v, place.Code(), v.Say("codes.place", placeName(v.Words, place.Name)))
		}
	}
	if err == nil && v.Person.HasRole(page.Deciding) {
		err = out.deciding(v)
	}
	return out, err
}

// products are the codes of those that some lane may test.
func (p *Changing) products(v *page.Visit) (out []string, err error) {
	for _, lane := range p.lanes.All() {
		codes, err := lane.Products(v.Ctx())
		if err != nil {
			return nil, err
		}
		out = append(out, codes...)
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// placeName is the name of a fail place; the one that every line has is named in the
// reader's language.
func placeName(w page.Words, name string) string {
	if name == fails.UsualPlace {
		return w.Say("title.fails")
	}
	return name
}

type codesView struct {
	Codes []codeView `json:"codes"`
}

type codeView struct {
	Text string        `json:"text"`
	Say  string        `json:"say"`
	Bars template.HTML `json:"-"`
}

// module is how many millimetres wide the finest bar of a sheet is at most.
const module = 0.6

func (c *codesView) add(v *page.Visit, text, say string) error {
	code, err := barcode.Of(text)
	c.Codes = append(c.Codes, codeView{text, say, code.SVG(v.Say("codes.bars", text), module)})
	return err
}
