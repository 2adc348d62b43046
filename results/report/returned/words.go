package returned

import (
	"fmt"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/results/floor"
	"padjig/sequence"
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

const dayForm, clockForm = "2006-01-02", "2006-01-02 15:04 MST"

func clock(t time.Time) string { return t.Local().Format(clockForm) }

func day(t time.Time) string { return t.Local().Format(dayForm) }

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
func (l *Life) CameFrom() string {
	in := l.Case.Intake()
	parts := []string{day(in.Received) + ", taken in by " + in.By}
	if in.Customer != "" {
		parts = append(parts, "customer "+in.Customer)
	}
	if in.Lot != "" {
		parts = append(parts, "lot "+in.Lot)
	}
	return strings.Join(parts, ", ")
}

// Unit names the unit.
func (l *Life) Unit() string { return joined(" ", l.Case.Product, l.Revision) }

// FoundLine says which stage found a fault first.
func (l *Life) FoundLine() string {
	if s, found := l.Case.FoundBy(); found {
		return fmt.Sprintf("a fault was found, first by the %s", s.Purpose)
	}
	if len(l.Case.Stages) == 0 {
		return "nothing was measured yet"
	}
	return "no stage has found a fault"
}

// ShippedLine says with which run the unit left.
func (l *Life) ShippedLine() string {
	if l.Shipped == nil {
		return "no passing run of this unit is in these records: nothing to compare with"
	}
	r := l.Shipped.Run
	text := fmt.Sprintf("left with run %d, %s, on jig %s", r.Seq, clock(r.Started), r.Jig.Serial)
	for _, material := range floor.Materials {
		if lot := l.Shipped.Lots[material]; lot != "" {
			text += fmt.Sprintf(", %s %s", material, lot)
		}
	}
	return text
}

// ResultLine says what the case ended with.
func (l *Life) ResultLine() string {
	d := l.Case.Disposition()
	if !l.Case.Closed() {
		return "open"
	}
	return joined(": ", joined(", ", strings.ToUpper(d.Code[:1])+d.Code[1:], d.Disposal), d.Reason) + fmt.Sprintf(" (%s, %s)", d.By, day(d.At))
}
