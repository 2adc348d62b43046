package picture

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"padjig/sequence/product"
)

// Overview is what belongs to a jig at a line, and what goes where.
func Overview() []byte {
	s := &sheet{wide: 860, high: 430, title: "What belongs together",
		about: "The keypad lies in the nest of a jig. The jig talks over a serial line with padjig, which stores each run in its records " +
			"before it shows the verdict. Operators work with a scanner and a page; quality, returns desk and fixture engineers ask the records."}
	s.box("b", 20, 40, 170, 76, "keypad", "in the nest of the jig,", "its tail on the probes")
	s.box("b", 20, 190, 170, 96, "jig", "presses, measures,", "stops by itself;", "interlock, emergency stop")
	s.box("m", 330, 190, 190, 96, "padjig", "plans, judges with", "uncertainty, stores,", "then shows")
	s.box("b", 330, 340, 190, 66, "records", "one SQLite file,", "append-only")
	s.arrow(105, 190, 105, 116)
	s.text("n", left, 113, 157, "actuators and probes")
	s.arrow(190, 238, 330, 238)
	s.arrow(330, 250, 190, 250)
	s.text("n", middle, 260, 230, "serial line")
	s.arrow(425, 286, 425, 340)
	s.text("n", left, 433, 316, "first")
	for i, who := range [][]string{{"operator", "scanner, page of the lane"}, {"quality engineer", "yields, charts, stops"},
		{"returns desk", "stages, diagnosis, reports"}, {"fixture engineer", "calibration, releases"}} {
		y := float64(40 + 96*i)
		s.box("b", 640, y, 200, 66, who[0], who[1])
		s.line("z", 640, y+33, 580, y+33)
	}
	s.line("z", 580, 73, 580, 361)
	s.arrow(580, 238, 520, 238)
	s.text("n", left, 530, 228, "pages")
	s.line("z", 520, 373, 560, 373, 560, 238)
	return s.svg()
}

// Pad is a keypad with its tail: which pin is which line, and which channel of the jig lies under it.
func Pad(p *product.Product) []byte {
	const pitch, x0, y0 = 78.0, 30.0, 50.0
	wide, high := 0.0, 0.0
	for _, k := range p.Keys {
		wide, high = max(wide, k.X+k.W), max(high, k.Y+k.H)
	}
	at := x0 + wide*pitch + 70
	rows := float64(len(p.Tail))
	s := &sheet{wide: at + 330, high: y0 + max(high*pitch, rows*34+20) + 30, title: p.Code + ": pad, tail and channels",
		about: fmt.Sprintf("%d keys, each with its two lines; %d pins of the tail, each with its line and the channel of the jig under it, "+
			"as jigs state their channels, from 1.", len(p.Keys), len(p.Tail))}
	s.text("h", left, x0, 30, p.Title)
	for _, k := range p.Keys {
		s.box("b", x0+k.X*pitch, y0+k.Y*pitch, k.W*pitch-8, k.H*pitch-8, k.Label, p.Lines[k.A].Name+"-"+p.Lines[k.B].Name)
	}
	for i, head := range []string{"pin", "line", "kind", "channel"} {
		s.text("n", middle, at+[]float64{15, 75, 155, 250}[i], 44, head)
	}
	for channel, line := range p.Wiring() {
		y := y0 + 4 + float64(channel)*34
		s.box("m", at, y, 30, 24, fmt.Sprint(channel+1))
		s.line("w", at+30, y+12, at+50, y+12)
		name, kind := "-", "unused"
		if line >= 0 {
			name, kind = p.Lines[line].Name, string(p.Lines[line].Kind)
		}
		s.text("h", middle, at+75, y+17, name)
		s.text("n", middle, at+155, y+17, kind)
		s.arrow(at+190, y+12, at+225, y+12)
		s.box("b", at+225, y, 50, 24, fmt.Sprint(channel+1))
	}
	return s.svg()
}

// Guard is a matrix while one key is read: its row is fed, its column at ground, and all other lines are held at the
// potential of the row, so that none of its current goes round through other contacts.
func Guard(p *product.Product, label string) []byte {
	const pitch, x0, y0 = 74.0, 150.0, 90.0
	key := p.Keys[p.Key(label)]
	s := &sheet{wide: x0 + pitch*float64(len(p.Columns)) + 270, high: y0 + pitch*float64(len(p.Rows)) + 60,
		title: "A key of a matrix is read, all other lines guarded",
		about: fmt.Sprintf("Row %s is fed through a reference resistor, column %s is held at ground. The other rows and columns are "+
			"guarded: held at the potential of the fed row, so that no current of it is lost to them.", p.Lines[key.A].Name, p.Lines[key.B].Name)}
	role := func(line int) (string, string) {
		switch line {
		case key.A:
			return "m", "feed"
		case key.B:
			return "m", "read"
		}
		return "b", "guard"
	}
	for i, line := range p.Columns {
		x := x0 + (float64(i)+0.5)*pitch
		class, does := role(line)
		s.line("z", x, 66, x, y0+pitch*float64(len(p.Rows)))
		s.box(class, x-30, 24, 60, 42, p.Lines[line].Name, does)
	}
	for j, line := range p.Rows {
		y := y0 + (float64(j)+0.5)*pitch
		class, does := role(line)
		s.line("z", 96, y, x0+pitch*float64(len(p.Columns)), y)
		s.box(class, 20, y-21, 76, 42, p.Lines[line].Name, does)
	}
	for _, k := range p.Keys {
		i, j := slices.Index(p.Columns, k.B), slices.Index(p.Rows, k.A)
		if i < 0 || j < 0 {
			continue
		}
		x, y := x0+(float64(i)+0.5)*pitch, y0+(float64(j)+0.5)*pitch
		class, text := "b", "n"
		if k.Label == label {
			class, text = "m", "o"
		}
		s.put(`<circle class="%s" cx="%g" cy="%g" r="21"/>`, class, x, y)
		s.text(text, middle, x, y+4, k.Label)
	}
	x := x0 + pitch*float64(len(p.Columns)) + 30
	for i, note := range []string{"feed: the reference resistor", "and the pressed contact share", "the supply; their voltages", "give its ohms", "",
		"read: held at ground, where", "that current ends", "", "guard: held at the potential of", "the fed line; what joins the two", "has no voltage across it, and", "takes no current away"} {
		s.text("n", left, x, y0+16+float64(i)*18, note)
	}
	return s.svg()
}

// Stages are the steps of a unit that came back, in the words of the desk.
func Stages(steps [][2]string) []byte {
	s := &sheet{wide: 860, high: 30 + 74*float64(len(steps)), title: "The stages of a return, in their order",
		about: "Each stage may disturb what the next would have found, so the gentlest comes first."}
	for i, step := range steps {
		y := 20 + 74*float64(i)
		class := "b"
		if i > 1 && i < 5 {
			class = "m" // a stage that presses
		}
		s.box(class, 20, y, 170, 46, step[0])
		s.text("t", left, 210, y+28, step[1])
		if i+1 < len(steps) {
			s.arrow(105, y+46, 105, y+74)
		}
	}
	return s.svg()
}

// Table is one of the records, with the tables that it refers to.
type Table struct {
	Name   string
	Refers []string
}

// Tables are those that refer to each other most: the ones around the run.
func Tables(all []Table, centre string) []byte {
	var up, down []string
	for _, t := range all {
		switch {
		case t.Name == centre:
			up = append(up, t.Refers...)
		case slices.Contains(t.Refers, centre):
			down = append(down, t.Name)
		}
	}
	slices.SortFunc(up, cmp.Compare[string])
	slices.Sort(down)
	up, down = slices.Compact(up), slices.Compact(down)
	const columns, wide, high = 4, 205.0, 46.0
	rows := func(n int) float64 { return float64((n + columns - 1) / columns) }
	s := &sheet{wide: columns*wide + 20, high: 190 + high*(rows(len(up))+rows(len(down))), title: "The tables around " + centre,
		about: fmt.Sprintf("%s refers to %s. %s refer to it.", centre, strings.Join(up, ", "), strings.Join(down, ", "))}
	grid := func(y float64, names []string) float64 {
		for i, name := range names {
			s.box("b", 20+wide*float64(i%columns), y+high*float64(i/columns), wide-20, high-12, name)
		}
		return y + high*rows(len(names))
	}
	y := grid(40, up)
	s.text("n", left, 20, 28, "what a "+centre+" refers to")
	s.arrow(s.wide/2, y+40, s.wide/2, y+2)
	s.box("m", s.wide/2-90, y+40, 180, 40, centre)
	s.arrow(s.wide/2, y+122, s.wide/2, y+80)
	s.text("n", left, 20, y+122, "what refers to a "+centre)
	grid(y+132, down)
	return s.svg()
}
