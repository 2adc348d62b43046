package diagnose

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/readings"
)

// planter says faults in the language in which a simulated jig is given them
// (docs/faults.md), so that a cause can be tried out: put it in, and the readings come
// back. What has no sentence there is empty.
type planter struct {
	unit  *readings.Unit
	model *model.Model
}

func (p planter) plant(f *model.Fault, kind Kind) string {
	switch {
	case kind == ActuatorMisses:
		return fmt.Sprintf("actuator of key %s stuck", p.key(f.Key))
	case kind == ActuatorHolds && f.Effect == model.Closed:
		return fmt.Sprintf("actuator of key %s stuck down", p.key(f.Key))
	case kind == DiodeMissing:
		return fmt.Sprintf("key %s diode missing", p.key(f.Key))
	case f.IsKey():
		return p.ofKey(f)
	case f.Effect == model.WiringSwap:
		return p.wiringSwap(f.Layout)
	case f.Effect == model.BadSeat:
		return fmt.Sprintf("channel %d dirty open", f.Pin)
	case f.IsSeveral():
		var all []string
		for i := range f.Members {
			all = append(all, p.plant(&f.Members[i], ""))
		}
		return strings.Join(all, "; ")
	}
	return p.ofLine(f)
}

func (p planter) ofKey(f *model.Fault) string {
	says := ""
	switch f.Effect {
	case model.NoContact:
		says = "open"
	case model.OtherContact:
		says = "high "
		if e := estimate(p.unit, p.model, f); e != nil {
			says += plain(float64(e.Value))
		}
	case model.Intermittent:
		says = "drops out 300 us every 5 ms"
	case model.BouncesMake:
		says = "bounces 14 ms on closing"
	case model.BouncesBreak:
		says = "bounces 14 ms on opening"
	case model.Slow:
		says = "releases late 80 ms"
	case model.Closed:
		stuck := f.Ohm
		if p.unit.HasDiode(f.Key) { // behind a diode nobody knows
			stuck = p.model.Healthy(f.Key).Contact
		}
		says = "stuck " + plain(stuck)
	case model.DiodeTurned:
		says = "diode reversed"
	case model.DiodeBridged:
		says = "diode shorted"
	default:
		return ""
	}
	return "key " + p.key(f.Key) + " " + says
}

func (p planter) ofLine(f *model.Fault) string {
	track := func(i int) string { return p.key(p.unit.Product.Lines[f.Line].Track[i]) }
	switch f.Effect {
	case model.OpenLine:
		if f.After < 1 {
			return "line " + p.line(f.Line) + " open"
		}
		return fmt.Sprintf("line %s broken between %s and %s", p.line(f.Line), track(f.After-1), track(f.After))
	case model.Adds:
		s := fmt.Sprintf("line %s adds %s", p.line(f.Line), plain(f.Ohm))
		if f.After < 1 {
			return s
		}
		return s + " after " + track(f.After-1)
	case model.Bridges:
		word := "shorted"
		if p.unit.Open(f.Ohm) {
			word = "leak"
		}
		return fmt.Sprintf("lines %s %s %s %s", p.line(f.Line), p.line(f.Mate), word, plain(f.Ohm))
	}
	return ""
}

func (p planter) wiringSwap(l *model.Layout) string {
	lines := p.unit.Product.Lines
	switch l.Way {
	case model.Reversed:
		return "tail reversed"
	case model.Shifted:
		return fmt.Sprintf("tail shifted %d", l.By)
	case model.Exchanged:
		var all []string
		for i := 0; i+1 < len(l.Lines); i += 2 {
			all = append(all, fmt.Sprintf("pins %d %d swapped", lines[l.Lines[i]].Pin, lines[l.Lines[i+1]].Pin))
		}
		return strings.Join(all, "; ")
	}
	return ""
}

// plain is a resistance as that language reads it back, to a part in 100 000.
func plain(v float64) string {
	return strconv.FormatFloat(v, 'f', -1, 32) + " ohm"
}

func (p planter) key(k int) string  { return quoted(p.unit.Product.Keys[k].Label) }
func (p planter) line(l int) string { return quoted(p.unit.Product.Lines[l].Name) }

func quoted(word string) string {
	awkward := func(r rune) bool { return strings.ContainsRune(`; "`, r) || !unicode.IsPrint(r) }
	if word == "" || strings.ContainsFunc(word, awkward) {
		return strconv.Quote(word)
	}
	return word
}
