package margin

import (
	"slices"

	"padjig/fixture/quantity"
)

// Currents is what the ports that drive the columns must bear.
type Currents struct {
	// Sink is the largest current into a column that is low: all its rows pressed, the
	// pull-ups at their strongest.
	Sink     quantity.Ampere
	SinkLine int // -1 when no line is driven
	// Fight is the pair of keys that would join two columns most firmly if idle columns are
	// driven high; nil when no row has two keys on different driven lines.
	Fight *Fight
}

// Fight is two pressed keys of one row, the column of one driven low and that of the other
// driven high: current flows from port to port through both.
type Fight struct {
	Low, High int             // keys
	Typical   quantity.Ampere // with a good unit
	Most      quantity.Ampere // contacts and tracks of 0 ohm, supply at its upper end
	Row       quantity.Volt   // of a good unit, which is to read pressed
	// Blocked says that a diode stands in the way: Typical and Most are its leakage then.
	Blocked bool
}

func (b *board) currents() (Currents, error) {
	c := Currents{SinkLine: -1}
	each := b.scanner.mostSupply() / quantity.Volt(b.scanner.leastPull())
	columns := b.columns()
	for line := range b.driven.all {
		if sink := quantity.Ampere(each) * quantity.Ampere(columns[line].count()); c.SinkLine < 0 || sink > c.Sink {
			c.Sink, c.SinkLine = sink, line
		}
	}
	low, high := b.firmest()
	if low < 0 {
		return c, nil
	}
	var err error
	c.Fight, err = b.fight(low, high)
	return c, err
}

// firmest is the pair of keys of one row with the least resistance between their columns,
// one that a diode does not part if there is any; -1 when there is no pair.
func (b *board) firmest() (low, high int) {
	low, high = -1, -1
	least, through := quantity.Open, false
	for l, wl := range b.ways {
		for h, wh := range b.ways {
			if wl.unread != "" || wl.read != wh.read || wl.driven == wh.driven ||
				!b.driven.has(wl.driven) || !b.driven.has(wh.driven) {
				continue
			}
			r, open := b.between(l, h, wl.read), b.conducts(h, wh.driven)
			if open && !through || open == through && r < least {
				low, high, least, through = l, h, r, open
			}
		}
	}
	return low, high
}

// between is the resistance of a good unit from one key's column over the row to the other's.
func (b *board) between(low, high, row int) quantity.Ohm {
	at := func(k, line int) int { return slices.Index(b.Lines[line].Track, k) }
	pieces := max(at(low, row)-at(high, row), at(high, row)-at(low, row))
	r := b.Keys[low].Contact + b.Keys[high].Contact + 2*b.Nominal.Tail
	for _, k := range []int{low, high} {
		pieces += 1 + at(k, b.ways[k].driven)
	}
	return r + quantity.Ohm(pieces)*b.Nominal.Track
}

func (b *board) fight(low, high int) (*Fight, error) {
	l, h := b.ways[low], b.ways[high]
	m, err := b.solve(scan{l.driven, true, []int{low, high}})
	if err != nil {
		return nil, err
	}
	drive := max(b.scanner.Drive, leastDrive)
	f := &Fight{
		Low: low, High: high, Row: m.line(l.read), Blocked: !b.conducts(high, h.driven),
		Typical: quantity.Ampere((b.scanner.Supply - m.line(h.driven)) / quantity.Volt(drive)),
	}
	f.Most = f.Typical
	if !f.Blocked {
		f.Most = quantity.Ampere(b.scanner.mostSupply() / quantity.Volt(2*drive))
	}
	return f, nil
}
