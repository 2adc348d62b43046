package product

import (
	"slices"

	"padjig/sequence/fields"
)

// longestAdapter is the longest identity that a jig can state of its adapter.
const longestAdapter = 32

// readAdapters reads which adapters of a jig fit the keypad's tail, each by the
// identity that the jig states.
func readAdapters(o fields.Object) []string {
	var all []string
	words := o.List("adapter")
	for _, w := range words {
		_, odd := fields.Unprintable(w.Text, false)
		switch {
		case odd || !ascii(w.Text) || len(w.Text) > longestAdapter:
			o.Wrong(w.Place, "adapter", w.Text, longestAdapter)
		case slices.Contains(all, w.Text):
			o.Wrong(w.Place, "adapter.twice", w.Text)
		default:
			all = append(all, w.Text)
		}
	}
	slices.Sort(all)
	return all
}

func ascii(text string) bool {
	return !slices.ContainsFunc([]byte(text), func(b byte) bool { return b > 0x7e })
}

// Fits reports whether units of the product may be tested through an adapter, by
// what the jig states of it: empty where it states none.
func (p *Product) Fits(adapter string) bool {
	return len(p.Adapters) == 0 || slices.Contains(p.Adapters, adapter)
}
