package diagnose

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// plant says a fault in the language in which a simulated jig is given faults
// (docs/faults.md), so that a cause can be tried out: put it in, and the readings come
// back. It is empty for what has no sentence there.
func (m *model) plant(f *fault, kind Kind) string {
	switch {
	case kind == ActuatorMisses:
		return fmt.Sprintf("actuator of key %s stuck", m.word(f.key))
	case kind == ActuatorHolds && f.effect == closed:
		return fmt.Sprintf("actuator of key %s stuck down", m.word(f.key))
	case kind == DiodeMissing:
		return fmt.Sprintf("key %s diode missing", m.word(f.key))
	case f.isKey():
		return m.plantKey(f)
	case f.effect == moved:
		return m.plantMoved(f.seen)
	case f.effect == badSeat:
		return fmt.Sprintf("channel %d dirty open", f.pin)
	case f.effect == several:
		var all []string
		for i := range f.members {
			all = append(all, m.plant(&f.members[i], ""))
		}
		return strings.Join(all, "; ")
	}
	return m.plantLine(f)
}

func (m *model) plantKey(f *fault) string {
	key := m.word(f.key)
	says := map[effect]string{
		noContact: "open", otherContact: "high " + m.contactOhm(f), shaky: "drops out 300 us every 5 ms",
		bouncesMake: "bounces 14 ms on closing", bouncesBreak: "bounces 14 ms on opening", slow: "releases late 80 ms",
		closed: "stuck " + plain(m.stuckOhm(f)), diodeTurned: "diode reversed", diodeBridged: "diode shorted",
	}
	if says[f.effect] == "" {
		return ""
	}
	return "key " + key + " " + says[f.effect]
}

// stuckOhm is the contact of a key that is closed at rest; behind a diode nobody knows.
func (m *model) stuckOhm(f *fault) float64 {
	if m.hasDiode(f.key) {
		return m.mean[f.key].contact
	}
	return f.ohm
}

func (m *model) contactOhm(f *fault) string {
	if e := m.estimate(f); e != nil {
		return plain(float64(e.Value))
	}
	return ""
}

func (m *model) plantLine(f *fault) string {
	p := m.ev.Product
	switch f.effect {
	case parts:
		if f.after < 1 {
			return "line " + quoted(p.Lines[f.line].Name) + " open"
		}
		track := p.Lines[f.line].Track
		return fmt.Sprintf("line %s broken between %s and %s", quoted(p.Lines[f.line].Name), m.word(track[f.after-1]), m.word(track[f.after]))
	case adds:
		s := fmt.Sprintf("line %s adds %s", quoted(p.Lines[f.line].Name), plain(f.ohm))
		if f.after < 1 {
			return s
		}
		return s + " after " + m.word(p.Lines[f.line].Track[f.after-1])
	case bridges:
		word := "shorted"
		if m.open(f.ohm) {
			word = "leak"
		}
		return fmt.Sprintf("lines %s %s %s %s", quoted(p.Lines[f.line].Name), quoted(p.Lines[f.mate].Name), word, plain(f.ohm))
	}
	return ""
}

func (m *model) plantMoved(seen *mapping) string {
	p := m.ev.Product
	switch {
	case seen.kind == TailReversed:
		return "tail reversed"
	case seen.kind == TailShifted:
		return fmt.Sprintf("tail shifted %d", seen.by)
	case seen.kind == LinesExchanged:
		var all []string
		for i := 0; i+1 < len(seen.lines); i += 2 {
			all = append(all, fmt.Sprintf("pins %d %d swapped", p.Lines[seen.lines[i]].Pin, p.Lines[seen.lines[i+1]].Pin))
		}
		return strings.Join(all, "; ")
	}
	return ""
}

// plain is a resistance as that language reads it back, to a part in 100 000.
func plain(v float64) string {
	return strconv.FormatFloat(v, 'f', -1, 32) + " ohm"
}

func (m *model) word(k int) string { return quoted(m.ev.Product.Keys[k].Label) }

func quoted(word string) string {
	awkward := func(r rune) bool { return strings.ContainsRune(`; "`, r) || !unicode.IsPrint(r) }
	if word == "" || strings.ContainsFunc(word, awkward) {
		return strconv.Quote(word)
	}
	return word
}
