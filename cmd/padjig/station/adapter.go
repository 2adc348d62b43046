package station

import (
	"cmp"
	"context"
	"fmt"
	"strings"
)

// adapter is what there is to say of the adapter that the jig states: that the
// product's tail does not fit it or that nobody knows, where the product names those
// that fit; else that it is another than the product was last passed through.
func (f Fitness) adapter(ctx context.Context) ([]Condition, error) {
	jig, stated, fit := f.Caps.Serial, f.Caps.Adapter, strings.Join(f.Product.Adapters, ", ")
	switch {
	case f.Product.Fits(stated):
	case stated == "":
		return []Condition{{Warning: Warning{AdapterUnknown, []string{jig, fit},
			fmt.Sprintf("jig %s does not state which adapter is fitted, and %s asks for %s", jig, f.Product.Code, fit)},
			Blocks: true, Remedy: try("adapter that states itself", jig, fit)}}, nil
	default:
		return []Condition{{Warning: Warning{AdapterWrong, []string{stated, jig, fit},
			fmt.Sprintf("adapter %s is fitted to jig %s, and %s asks for %s", stated, jig, f.Product.Code, fit)},
			Blocks: true, Remedy: try("right adapter", jig, fit)}}, nil
	}
	if len(f.Product.Adapters) > 0 {
		return nil, nil
	}
	before, known, err := f.Store.Care.LastAdapter(ctx, f.Product.Code, jig, stated, f.Caps.Simulated)
	if err != nil {
		return nil, f.unread(err)
	}
	if !known || before == stated {
		return nil, nil
	}
	was, is := cmp.Or(before, "-"), cmp.Or(stated, "-")
	return []Condition{{Warning: Warning{AdapterChanged, []string{is, jig, was}, fmt.Sprintf(
		"jig %s states adapter %s; the last %s that passed on it did so through %s", jig, is, f.Product.Code, was)}}}, nil
}
