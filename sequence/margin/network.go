package margin

import (
	"fmt"
	"slices"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
)

// leastDrive stands for a driver without resistance where a source needs one.
const leastDrive = quantity.Ohm(1e-3)

// scan is the moment at which one line is driven low and the rows are read.
type scan struct {
	low      int   // the driven line; any other line for none
	idleHigh bool  // the other driven lines are driven high rather than left floating
	held     []int // keys, each with the contact of a good unit
}

// moment is a solved scan.
type moment struct {
	circuit.Solution
	pins []circuit.Node // by line
}

func (m moment) line(i int) quantity.Volt { return m.Volt(m.pins[i]) }

// solve puts a good unit between pull-ups and drivers, everything at its nominal value.
func (b *board) solve(s scan) (moment, error) {
	n := circuit.NewNetwork()
	pins := b.Circuit().Connect(n, b.contacts(s.held))
	for line, pin := range pins {
		switch {
		case b.read.has(line):
			n.Source(pin, b.scanner.Supply, b.scanner.PullUp)
		case b.ground.has(line), line == s.low:
			n.Resistor(pin, circuit.Earth, b.driver(line))
		case b.driven.has(line) && s.idleHigh:
			n.Source(pin, b.scanner.Supply, max(b.scanner.Drive, leastDrive))
		}
	}
	solution, err := n.Solve()
	if err != nil {
		return moment{}, fmt.Errorf("solve scan of line %s: %w", b.Lines[s.low].Name, err)
	}
	return moment{solution, pins}, nil
}

func (b *board) contacts(pressed []int) []quantity.Ohm {
	all := slices.Repeat([]quantity.Ohm{quantity.Open}, len(b.Keys))
	for _, k := range pressed {
		all[k] = b.Keys[k].Contact
	}
	return all
}

// typical is the voltage of the row of a good unit with the one key pressed.
func (b *board) typical(k int) (quantity.Volt, error) {
	w := b.ways[k]
	m, err := b.solve(scan{w.driven, b.scanner.IdleDriven, []int{k}})
	if err != nil {
		return 0, err
	}
	return m.line(w.read), nil
}
