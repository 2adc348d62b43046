package diagnose

import (
	"fmt"
	"math"
	"strings"

	"padjig/sequence/product"
)

// keyPlace says where a key is: "key 7 (R3-C1)".
func (m *model) keyPlace(k int) string { return KeyPlace(m.ev.Product, k) }

// KeyPlace says where a key of a product is: "key 7 (R3-C1)".
func KeyPlace(p *product.Product, k int) string {
	key := p.Keys[k]
	return fmt.Sprintf("key %s (%s-%s)", key.Label, p.Lines[key.A].Name, p.Lines[key.B].Name)
}

func (m *model) lineName(l int) string {
	return fmt.Sprintf("%s (pin %d)", m.ev.Product.Lines[l].Name, m.ev.Product.Lines[l].Pin)
}

// linePlace says where on a line a fault lies, between what and what.
func (m *model) linePlace(f *fault, kind Kind) string {
	line := &m.ev.Product.Lines[f.line]
	label := func(i int) string { return m.ev.Product.Keys[line.Track[i]].Label }
	switch {
	case kind == PinDoubtful || kind == ProbeDirty:
		return fmt.Sprintf("line %s at tail pin %d", line.Name, line.Pin)
	case f.after > 0 && f.effect == parts:
		return fmt.Sprintf("line %s broken between keys %s and %s, tail side good", line.Name, label(f.after-1), label(f.after))
	case f.after > 0:
		return fmt.Sprintf("line %s has more resistance from between keys %s and %s on", line.Name, label(f.after-1), label(f.after))
	case f.effect == parts:
		return fmt.Sprintf("line %s open between pin %d and its first key %s", line.Name, line.Pin, label(0))
	}
	return fmt.Sprintf("line %s has more resistance between pin %d and its first key %s", line.Name, line.Pin, label(0))
}

func (m *model) bridgePlace(f *fault) string {
	place := fmt.Sprintf("between %s and %s", m.lineName(f.line), m.lineName(f.mate))
	if m.neighbours(f.line, f.mate) {
		return place + ", side by side in the tail"
	}
	return place + ", anywhere that they come near each other"
}

func (m *model) severalPlace(f *fault, lines []int) string {
	var names []string
	for _, l := range lines {
		names = append(names, m.ev.Product.Lines[l].Name)
	}
	switch f.cause {
	case TailCreased:
		var pins []string
		for _, part := range f.members {
			pins = append(pins, fmt.Sprint(m.ev.Product.Lines[part.line].Pin))
		}
		return "across the tail at pins " + strings.Join(pins, ", ")
	case SpacerCreep:
		var keys []string
		for _, part := range f.members {
			keys = append(keys, m.ev.Product.Keys[part.key].Label)
		}
		return "around keys " + strings.Join(keys, ", ")
	}
	return fmt.Sprintf("%d leaks among lines %s", len(f.members), strings.Join(names, ", "))
}

// worseTowards says in which direction contacts get worse over the panel.
func (m *model) worseTowards() string {
	x, y := m.trend.tilt[0], m.trend.tilt[1]
	switch {
	case math.Abs(x) >= math.Abs(y) && x > 0:
		return "to the right"
	case math.Abs(x) >= math.Abs(y):
		return "to the left"
	case y > 0:
		return "to the bottom"
	}
	return "to the top"
}
