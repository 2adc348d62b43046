package returned

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"padjig/fixture"
	"padjig/results/floor"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// reading says a resistance beside others, in ohm with its expanded
// uncertainty; a dash for none.
func reading(r *fixture.Resistance) string {
	switch {
	case r == nil:
		return "-"
	case r.AtLeast:
		return "open"
	}
	digits := digitsOf(2 * r.U)
	text := fmt.Sprintf("%.*f", digits, float64(r.Value))
	if r.U > 0 && !r.U.IsOpen() {
		text += fmt.Sprintf(" ± %.*f", digits, 2*float64(r.U))
	}
	return text
}

// bound says what is known of the insulation of a pair of lines.
func bound(b *sequence.Bound) string {
	if b == nil {
		return "not recorded"
	}
	if b.Ohm.AtLeast {
		return b.Said()
	}
	by := "bound by groups"
	if b.Alone {
		by = "read by themselves"
	}
	return fmt.Sprintf("%s-%s %v (%s)", b.Lines[0], b.Lines[1], b.Ohm, by)
}

// Line is the insulation at a step as shipped and now.
func (w Weakest) Line() string { return w.Step + ": " + bound(w.Shipped) + " > " + bound(w.Now) }

// thenNow says a bounce then and now in milliseconds; empty where there is none now.
func thenNow(then, now *fixture.Bounce) string {
	ms := func(d *fixture.Bounce) string {
		if d == nil {
			return "-"
		}
		return fmt.Sprintf("%.2g", float64(d.Time)/float64(time.Millisecond))
	}
	if now == nil {
		return ""
	}
	return ms(then) + " > " + ms(now)
}

// joined puts what is not empty behind each other.
func joined(with string, parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, with)
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Complaint says what the customer says.
func (l *Life) Complaint() string {
	in := l.Case.Intake()
	return joined(": ", in.Complaint, in.ComplaintText)
}

// Seen says what was seen at intake.
func (l *Life) Seen() string {
	in := l.Case.Intake()
	return joined("; ", strings.Join(in.Conditions, ", "), in.ConditionText)
}

// CameFrom says when and from where.
func (l *Life) CameFrom() string { return CameFromIn(l, wording.Words{}) }

// CameFromIn says it in words of a language.
func CameFromIn(l *Life, w wording.Words) string {
	in := l.Case.Intake()
	text := w.Desk(sequence.Fact("came", l.Clock.Day(in.Received), in.By))
	if in.Customer != "" {
		text += w.Desk(sequence.Fact("came.customer", in.Customer))
	}
	if in.Lot != "" {
		text += w.Desk(sequence.Fact("came.lot", in.Lot))
	}
	return text
}

// Unit names the unit.
func (l *Life) Unit() string { return joined(" ", l.Case.Product, l.Revision) }

// FoundLine says which stage found a fault first.
func (l *Life) FoundLine() string { return FoundIn(l, wording.Words{}) }

// FoundIn says it in words of a language.
func FoundIn(l *Life, w wording.Words) string {
	if s, found := l.Case.FoundBy(); found {
		return w.Desk(sequence.Fact("found", string(s.Purpose)))
	}
	if len(l.Case.Stages) == 0 {
		return w.Desk(sequence.Fact("not measured"))
	}
	return w.Desk(sequence.Fact("found none"))
}

// ShippedLine says with which run the unit left.
func (l *Life) ShippedLine() string { return ShippedIn(l, wording.Words{}) }

// ShippedIn says it in words of a language.
func ShippedIn(l *Life, w wording.Words) string {
	if l.Shipped == nil {
		return w.Desk(sequence.Fact("left unknown"))
	}
	r := l.Shipped.Run
	text := w.Desk(sequence.Fact("left", strconv.FormatInt(r.Seq, 10), l.Clock.Zoned(r.Started), r.Jig.Serial))
	for _, material := range floor.Materials {
		if lot := l.Shipped.Lots[material]; lot != "" {
			text += w.Desk(sequence.Fact("left.material", string(material), lot))
		}
	}
	return text
}

// ResultLine says what the case ended with.
func (l *Life) ResultLine() string { return ResultIn(l, wording.Words{}) }

// ResultIn says it in words of a language.
func ResultIn(l *Life, w wording.Words) string {
	d := l.Case.Disposition()
	if !l.Case.Closed() {
		return w.Desk(sequence.Fact("ended open"))
	}
	text := Disposed(w, d)
	first, size := utf8.DecodeRuneInString(text)
	return joined(": ", string(unicode.ToUpper(first))+text[size:], d.Reason) + fmt.Sprintf(" (%s, %s)", d.By, l.Clock.Day(d.At))
}
