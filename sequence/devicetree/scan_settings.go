package devicetree

import (
	"fmt"
	"strings"
	"time"
)

// The bounce limits a product may have; a debounce time beyond says nothing
// about the pad.
const leastBounce, mostBounce = 100 * time.Microsecond, 200 * time.Millisecond

// settings reads what the node says of the scanner.
func (r *reader) settings() {
	scan := &r.pad.Scan
	if ms, at, ok := r.number("debounce-delay-ms"); ok {
		scan.Debounce, scan.DebounceLine = time.Duration(ms)*time.Millisecond, at.line
		if scan.Debounce < leastBounce || scan.Debounce > mostBounce {
			r.remark(at, "debounce-delay-ms is %d; no limit of bounce was made of it (1 to 200 ms)", ms)
			scan.DebounceLine = 0
		}
	}
	if us, at, ok := r.number("col-scan-delay-us"); ok {
		scan.Settle, scan.SettleLine = time.Duration(us)*time.Microsecond, at.line
	}
	if p := r.node.Property("drive-inactive-cols"); p != nil {
		scan.IdleDriven, scan.IdleLine = true, p.Line
	}
	r.polarity()
}

// polarity is that of the flags of the GPIOs, unless one property states it
// for all of them.
func (r *reader) polarity() {
	flags := append(r.entries("row-gpios"), r.entries("col-gpios")...)
	polarity := &r.pad.Scan.Polarity
	for i, e := range flags {
		switch p := polarityOf(e); {
		case i == 0:
			*polarity = p
		case p != *polarity:
			*polarity = Mixed
		}
	}
	if r.node.Property("gpio-activelow") != nil {
		*polarity = ActiveLow
	}
	if *polarity == Unstated || *polarity == ActiveLow {
		return
	}
	p := r.node.Property("row-gpios")
	if p == nil {
		p = r.node.Property("col-gpios")
	}
	r.remark(p.at(), "the GPIOs are %s; padjig's scanner pulls rows up and drives a column low: for an active "+
		"high matrix, which is its mirror image, give the pull-down as pull-up and mirror the thresholds", *polarity)
}

// polarityOf reads the last cell of a GPIO's entry: bit 0 is active low.
func polarityOf(entry []Cell) Polarity {
	last := entry[len(entry)-1]
	switch {
	case len(entry) < 3 || last.Unknown != "":
		return Mixed
	case last.Value&1 != 0:
		return ActiveLow
	}
	return ActiveHigh
}

// entries splits a list of GPIOs at its references.
func (r *reader) entries(name string) [][]Cell {
	p := r.node.Property(name)
	if p == nil {
		return nil
	}
	cells, _ := p.cells()
	var all [][]Cell
	for _, c := range cells {
		switch {
		case c.Reference != "":
			all = append(all, []Cell{c})
		case len(all) > 0:
			all[len(all)-1] = append(all[len(all)-1], c)
		}
	}
	return all
}

// gpios names what each line is connected to, as in "&gpio2 25".
func (r *reader) gpios(name string) []string {
	entries := r.entries(name)
	if p := r.node.Property(name); p != nil && len(entries) == 0 {
		r.remark(p.at(), "%s has no references such as &gpio2, so its lines could not be counted", name)
	}
	var all []string
	for _, e := range entries {
		words := []string{"&" + e[0].Reference}
		if len(e) > 2 {
			e = e[:len(e)-1] // without the flags
		}
		for _, c := range e[1:] {
			words = append(words, c.text())
		}
		all = append(all, strings.Join(words, " "))
	}
	return all
}

func (c Cell) text() string {
	if c.Unknown != "" {
		return c.Unknown
	}
	return fmt.Sprint(c.Value)
}
