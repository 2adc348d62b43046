package margin

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// ErrNoScanner is returned for a product whose file does not describe its scanner.
var ErrNoScanner = errors.New("no scanner stated")

// Report is everything the scanner's circuit says about a product.
type Report struct {
	Keys     []Key // in the product's order
	Presses  Presses
	Timing   Timing
	Currents Currents
	// Contact is the least that the scanner sends through a pressed contact, and so where a film
	// has most resistance; 0 where the product does not ask that contacts are good there: then
	// the levels are those of contacts that have the same resistance at every current.
	Contact  quantity.Ampere
	Warnings []Warning // most serious first
}

// Key is how one key is read.
type Key struct {
	// Unread says why the scanner never sees this key; the levels are then zero.
	Unread string

	Pressed, Released Level

	Typical quantity.Volt // of the row of a good unit, key pressed
	// Contact is the largest resistance of the contact alone that still reads pressed in
	// the worst case, with a good unit's tracks around it. Not above zero: none does.
	Contact quantity.Ohm
	// Scans is how many scans surely see the shortest press, after the bounce it may have.
	Scans int
}

// Level is the voltage of a row in the worst case, and what it is held against.
type Level struct {
	Row       quantity.Volt // with the key's resistance at its limit
	Threshold quantity.Volt
	Margin    quantity.Volt // on the good side of the threshold; negative on the wrong one
	Limit     quantity.Ohm  // that the product states
	// Allowed is the resistance, as seen at the tail, at which the margin is 0: the largest
	// for a pressed key, the smallest for a released one. For a pressed key it is not
	// above zero when the drop of the diode alone is too much, for a released one it is
	// open when even that would not read released.
	Allowed quantity.Ohm
}

// Of computes the report of p. The error is [ErrNoScanner], or that of a network which
// cannot be solved.
func Of(p *product.Product) (*Report, error) {
	if p.Scanner == nil {
		return nil, ErrNoScanner
	}
	b := newBoard(p)
	r := &Report{Presses: b.presses(), Timing: b.timing()}
	var err error
	if r.Currents, err = b.currents(); err != nil {
		return nil, err
	}
	for k := range p.Keys {
		key, err := b.key(k)
		if err != nil {
			return nil, err
		}
		r.Keys = append(r.Keys, key)
	}
	if p.Test.Contact.Scanner {
		for k := range p.Keys {
			if at := p.ContactCurrent(k); at > 0 && (r.Contact == 0 || at < r.Contact) {
				r.Contact = at
			}
		}
	}
	r.Timing.Fall = b.slowestFall(r.Keys)
	r.Warnings = review{p, r}.warnings()
	return r, nil
}

// board is a keypad with its scanner around it.
type board struct {
	*product.Product
	wiring
	scanner scanner
}

func newBoard(p *product.Product) *board { return &board{p, newWiring(p), scanner{*p.Scanner}} }

func (b *board) key(k int) (Key, error) {
	w := b.ways[k]
	if w.unread != "" {
		return Key{Unread: w.unread}, nil
	}
	typical, err := b.typical(k)
	pressed := b.pressed(k)
	return Key{
		Pressed: pressed, Released: b.released(k), Typical: typical,
		Contact: pressed.Allowed - (b.Loop(k) - b.Keys[k].Contact), Scans: b.scans(k),
	}, err
}

// driver is the resistance through which the line is low.
func (b *board) driver(line int) quantity.Ohm {
	if b.ground.has(line) {
		return 0
	}
	return b.scanner.Drive
}

// pressed is the key at its closed limit, the pull-up at its strongest and helped by all
// that may leak towards the supply.
func (b *board) pressed(k int) Level {
	limits, s := b.Keys[k].Limits, b.scanner
	worst := Level{Margin: quantity.Volt(math.Inf(1)), Limit: limits.ClosedMax, Allowed: quantity.Open}
	for _, f := range b.scanner.supplies() {
		d := Divider{
			Supply: s.Supply * quantity.Volt(f), PullUp: parallel(b.scanner.leastPull(), b.leakage(k, b.driven)),
			Drop: limits.ForwardMax, Drive: b.driver(b.ways[k].driven),
		}
		d.Drop += b.lift(k, d)
		low := s.Low * quantity.Volt(min(1, f))
		row := d.Level(limits.ClosedMax)
		worst.take(row, low, low-row)
		worst.Allowed = min(worst.Allowed, d.MaxClosed(low))
	}
	return worst
}

// released is the key at its rest limit, the pull-up at its weakest, and whatever else may
// leak to ground.
func (b *board) released(k int) Level {
	limits, s := b.Keys[k].Limits, b.scanner
	worst := Level{Margin: quantity.Volt(math.Inf(1)), Limit: limits.RestMin}
	beside := b.leakage(k, b.ground)
	for _, f := range b.scanner.supplies() {
		d := Divider{Supply: s.Supply * quantity.Volt(f), PullUp: b.scanner.mostPull()}
		high := s.High * quantity.Volt(max(1, f))
		row := d.Level(parallel(limits.RestMin, beside))
		worst.take(row, high, row-high)
		worst.Allowed = max(worst.Allowed, left(d.MinRest(high), beside))
	}
	return worst
}

func (l *Level) take(row, threshold, margin quantity.Volt) {
	if margin < l.Margin {
		l.Row, l.Threshold, l.Margin = row, threshold, margin
	}
}

// leakage is what the other keys of the row that lead to the given lines make together,
// each at its rest limit.
func (b *board) leakage(k int, to lines) quantity.Ohm {
	own, all := b.ways[k], quantity.Open
	counted := setOf(own.driven)
	for other, w := range b.ways {
		if w.read == own.read && to.has(w.driven) && !counted.has(w.driven) {
			counted |= setOf(w.driven) // a limit is for two lines, however many keys join them
			all = parallel(all, b.Keys[other].Limits.RestMin)
		}
	}
	return all
}

// lift is what leakage from other rows adds to the voltage of the driver, each of them as high
// as the supply.
func (b *board) lift(k int, d Divider) quantity.Volt {
	others := quantity.Open
	for other, w := range b.ways {
		if w.driven == b.ways[k].driven && w.read != b.ways[k].read {
			others = parallel(others, b.Keys[other].Limits.RestMin)
		}
	}
	return d.Supply * quantity.Volt(d.Drive/others)
}

// Nearest gives the key among keys with the least margin when pressed; -1 when none of them
// is read.
func (r *Report) Nearest(keys []int) int {
	read := slices.DeleteFunc(slices.Clone(keys), func(k int) bool { return r.Keys[k].Unread != "" })
	if len(read) == 0 {
		return -1
	}
	return slices.MinFunc(read, func(a, b int) int {
		return cmp.Compare(r.Keys[a].Pressed.Margin, r.Keys[b].Pressed.Margin)
	})
}
