package lane

import (
	"slices"
	"strings"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
)

// changing are those who may have a lane test another product: whoever tests units, and who
// answers for that.
var changing = page.Roles{account.Operator, account.Quality, account.Engineer}

// productTyped is how the product is asked for by hand.
const productTyped = "product "

// IsProduct reports whether a scan asks for another product, as a code or as it is typed.
func IsProduct(text string) bool {
	return strings.HasPrefix(text, control.ProductBegins) || strings.HasPrefix(text, productTyped)
}

// Product has the lane that a form names test another product, by its code.
func (p *Pages) Product(v *page.Visit, text string) (page.Answer, error) {
	n, lane, err := p.lanes.Asked(v)
	if err != nil {
		return page.Answer{}, err
	}
	codes, err := lane.Products(v.Ctx())
	if err != nil {
		return page.Answer{}, refused(v, err)
	}
	code, typed := strings.CutPrefix(text, productTyped)
	if !typed {
		i := slices.IndexFunc(codes, func(c string) bool { return control.CodeOf(control.ProductBegins, c) == text })
		if i < 0 {
			return page.Answer{}, page.Wrong(v.Say("product.code", strings.Join(codes, ", ")))
		}
		code = codes[i]
	}
	return p.change(v, n, lane, strings.TrimSpace(code))
}

// changeProduct is the button for one product.
func (p *Pages) changeProduct(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
	return p.change(v, n, lane, v.Value("product"))
}

func (p *Pages) change(v *page.Visit, n int, lane *station.Lane, code string) (page.Answer, error) {
	switch {
	case !v.Person.HasRole(changing):
		return page.Answer{}, page.Refused(v.Say("error.role", v.Say("role."+string(v.Person.Role))))
	case v.Late():
		return page.Answer{}, page.Conflict(v.Say("scan.late", code))
	}
	if err := p.lanes.Use(v, n, v.Screen()); err != nil {
		return page.Answer{}, err
	}
	if err := lane.ChangeProduct(v.Ctx(), code, v.Person.Name); err != nil {
		return page.Answer{}, refused(v, err)
	}
	return page.Answer{Go: at(n), Say: v.Say("product.changed", code)}, nil
}

// refused says why the product stays as it is.
func refused(v *page.Visit, err error) error {
	return page.Conflict(v.Say("product.stays", control.Refusal(v.Words, station.RefusalOf(err))))
}

// others are the products that this person may have the lane test in place of the one it tests.
func (p *Pages) others(v *page.Visit, lane *station.Lane) []string {
	if !v.Person.HasRole(changing) {
		return nil
	}
	codes, err := lane.Products(v.Ctx())
	if err != nil {
		return nil // the lane itself says that the records cannot be read
	}
	return slices.DeleteFunc(codes, func(code string) bool { return code == lane.State().Product.Code })
}
