package devicetree

import (
	"fmt"
	"slices"
	"strings"

	"padjig/fixture/quantity"
)

// groundLine is the name given to the line that grounded keys reach.
const groundLine = "GND"

// draft is a product file being written.
type draft struct {
	strings.Builder
	*Keypad
	rows, columns []int
}

// Draft gives the text of a product file for the keypad, which loads as it is.
// What it takes from the source, what it assumes and what is left to fill in
// stands in its remarks.
func (p *Keypad) Draft(code string) []byte {
	d := &draft{Keypad: p, rows: p.lines(false), columns: p.lines(true)}
	d.head()
	d.line("product: %s", code)
	d.tail()
	if len(d.columns) > 0 {
		d.matrix()
	}
	d.otherLines()
	d.groundKeys()
	d.limits()
	d.scanner()
	return []byte(d.String())
}

func (d *draft) line(format string, args ...any) { fmt.Fprintf(d, format+"\n", args...) }

func (d *draft) head() {
	d.line("# Key matrix of %s in %s.", d.Node, printable(d.File))
	d.line("# A devicetree does not know the pad itself. To finish by hand:")
	for _, todo := range []string{
		"tail: which line is on which pin; the order below is assumed",
		"keys: labels were made from key codes; write what is printed on the keys, and diodes where there are any",
		"limits: those of the drawing; what is not stated is padjig's default",
		"title, serial, layout, tracks: as docs/product-file.md says",
	} {
		d.line("#   - %s", todo)
	}
	if len(d.Remarks) > 0 {
		d.line("# Remarks of the import, by line of the source:")
	}
	for _, m := range d.Remarks {
		d.line("#   %d: %s", m.Line, printable(m.Message))
	}
}

// printable keeps a name that came from outside within its remark.
func printable(text string) string {
	quoted := fmt.Sprintf("%+q", text)
	if plain := quoted[1 : len(quoted)-1]; !strings.Contains(plain, `\`) {
		return plain
	}
	return strings.ReplaceAll(quoted[1:len(quoted)-1], `\"`, `"`)
}

func (d *draft) tail() {
	names := append(named("R", d.rows), named("C", d.columns)...)
	if d.hasGround() {
		names = append(names, groundLine)
	}
	d.line("\n# ASSUMED: rows, columns, ground, pin 1 first. Write the lines as the pins are, - for an unused one.")
	d.line("tail: %s", strings.Join(names, " "))
}

// named gives the names of lines, which count from 1.
func named(letter string, lines []int) []string {
	var names []string
	for _, l := range lines {
		names = append(names, fmt.Sprintf("%s%d", letter, l+1))
	}
	return names
}

func (d *draft) hasGround() bool {
	return slices.ContainsFunc(d.Keys, func(k Key) bool { return k.Ground })
}

func (d *draft) matrix() {
	d.line("\n# From linux,keymap (line %d). R1 is row 0 there, C1 is column 0.", d.Line)
	d.connections(named("R", d.rows), d.rows, d.Rows.GPIOs)
	d.connections(named("C", d.columns), d.columns, d.Columns.GPIOs)
	d.line("matrix:")
	d.line("  rows: %s", strings.Join(named("R", d.rows), " "))
	d.line("  columns: %s", strings.Join(named("C", d.columns), " "))
	d.line("  keys: |")
	grid := d.grid()
	for _, row := range grid {
		text := "   "
		for c, label := range row {
			text += fmt.Sprintf(" %-*s", widest(grid, c)+1, label)
		}
		d.line("%s", strings.TrimRight(text, " "))
	}
}

// connections says what each line is connected to on the board, which helps to
// find its pin.
func (d *draft) connections(names []string, lines []int, gpios []string) {
	for i, l := range lines {
		if l < len(gpios) {
			d.line("#   %s is %s", names[i], gpios[l])
		}
	}
}

// grid gives the labels as they stand in the file, several on one crossing
// with & between them.
func (d *draft) grid() [][]string {
	grid := make([][]string, len(d.rows))
	for r := range grid {
		grid[r] = slices.Repeat([]string{"--"}, len(d.columns))
	}
	for _, k := range d.Keys {
		if k.Ground {
			continue
		}
		r, _ := slices.BinarySearch(d.rows, k.Row)
		c, _ := slices.BinarySearch(d.columns, k.Column)
		if at := &grid[r][c]; *at == "--" {
			*at = k.Label
		} else {
			*at += "&" + k.Label
		}
	}
	return grid
}

func widest(grid [][]string, column int) int {
	wide := 0
	for _, row := range grid {
		wide = max(wide, len(row[column]))
	}
	return wide
}

func (d *draft) otherLines() {
	if !d.hasGround() {
		return
	}
	d.line("\nlines:")
	if len(d.columns) == 0 {
		d.line("  direct: %s", strings.Join(named("R", d.rows), " "))
	}
	d.line("  ground: %s", groundLine)
}

func (d *draft) groundKeys() {
	if !d.hasGround() {
		return
	}
	d.line("\n# These switch a row to ground: their column number is the number of columns.")
	d.line("keys:")
	first := map[int]string{}
	for _, k := range d.Keys {
		switch other, shared := first[k.Row]; {
		case !k.Ground:
		case shared:
			d.line("  %s: {lines: R%d %s, shares: %s}", k.Label, k.Row+1, groundLine, other)
		default:
			d.line("  %s: R%d %s", k.Label, k.Row+1, groundLine)
			first[k.Row] = k.Label
		}
	}
}

func (d *draft) limits() {
	if d.Scan.DebounceLine == 0 {
		d.line("\n# No debounce time could be taken over: padjig's default for bounce is in force.")
		return
	}
	at := quantity.FormatDuration(d.Scan.Debounce)
	d.line("\n# The host waits so long for a contact to settle (debounce-delay-ms, line %d).", d.Scan.DebounceLine)
	d.line("# A bounce that lasts longer is seen as presses; the drawing may ask for less.")
	d.line("limits:")
	d.line("  bounce on closing: at most %s", at)
	d.line("  bounce on opening: at most %s", at)
}

// scanner leaves the section for a person to switch on: without supply and
// pull-up it would be a guess that refuses or allows limits.
func (d *draft) scanner() {
	d.line("\n# What reads the keypad. Supply and pull-up are in the schematic: correct them, take the # off.")
	if d.Scan.Polarity != Unstated {
		d.line("# The GPIOs are %s.", d.Scan.Polarity)
	}
	if d.Scan.SettleLine > 0 {
		d.line("# A column settles %s before the rows are read (col-scan-delay-us, line %d).",
			quantity.FormatDuration(d.Scan.Settle), d.Scan.SettleLine)
	}
	idle, from := "float", "drive-inactive-cols is not there"
	if d.Scan.IdleDriven {
		idle, from = "driven", fmt.Sprintf("drive-inactive-cols, line %d", d.Scan.IdleLine)
	}
	d.line("# scanner:")
	d.line("#   supply: 3.3 V")
	d.line("#   pull-up: 47 kohm")
	d.line("#   idle columns: %s # %s", idle, from)
}
