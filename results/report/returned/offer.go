package returned

import (
	"fmt"
	"slices"
	"strings"

	"padjig/results/returns"
	"padjig/sequence"
)

// Offer is a disposition that the records suggest, and why. A person decides.
type Offer struct {
	Disposition string `json:"disposition"`
	Why         string `json:"why"`
}

// Against lists what speaks against the verdict the unit left with: the jig, or
// a margin less than the guard band.
func (l *Life) Against() (why []string) {
	if l.Shipped == nil {
		return nil
	}
	for _, m := range l.Shipped.Thin() {
		how := fmt.Sprintf("%v inside its limit of %v: less than its guard band of %v (k = 2)", m.Margin, m.Limit, m.Band())
		if m.Margin < 0 {
			how = fmt.Sprintf("%v beyond its limit of %v", -m.Margin, m.Limit)
		}
		why = append(why, fmt.Sprintf("key %s left with %v, %s", m.Key, m.Closed, how))
	}
	return append(why, l.Shipped.Doubts()...)
}

func (l *Life) offers() (offers []Offer) {
	found, any := l.Case.FoundBy()
	against := l.Against()
	if len(against) > 0 {
		offers = append(offers, Offer{returns.FalseAccept, against[0]})
	}
	if damage := l.damage(); damage != "" {
		offers = append(offers, Offer{returns.CustomerDamage, damage})
	}
	switch {
	case any:
		offers = append(offers, Offer{returns.Confirmed, fmt.Sprintf("the %s found %s", found.Purpose, found.Worst)})
	case l.Case.Done(sequence.Exercise):
		offers = append(offers, Offer{returns.NotReproduced, "no stage found a fault"})
	}
	return offers
}

// damage says what was seen that does not come from the line.
func (l *Life) damage() string {
	seen := slices.DeleteFunc(slices.Clone(l.Case.Intake().Conditions), func(c string) bool {
		return !returns.IsDamage(c) && c != "opened before" && c != "tail creased"
	})
	if len(seen) == 0 {
		return ""
	}
	return "at intake: " + strings.Join(seen, ", ")
}

// Step is what comes next in a case: a word for it, and the command.
type Step struct{ Say, Command string }

// toMeasure is what a command that measures needs besides.
const toMeasure = " --product FILE --jig JIG --operator NAME"

// Next says what comes next.
func (l *Life) Next() Step {
	unit := l.Case.Serial
	switch c := l.Case; {
	case c.Closed():
		return l.step("the case is closed: print its report", "report "+unit+" --to "+unit+".html")
	case len(c.Intake().Conditions) == 0:
		return l.step("the intake does not say what can be seen", "intake "+unit+" --correct --condition WORD --product FILE --complaint WORD --operator NAME")
	case !c.Seen():
		return l.step("photograph it before anything touches it", "photo "+unit+" FILE --operator NAME")
	case c.Locked():
		return l.step("visible damage ended electrical testing: dispose, or have an engineer decide", toDispose(unit))
	case !c.Done(sequence.FirstPress):
		return l.step("one gentle press a key, before anything else presses it", "first-press "+unit+toMeasure)
	case !c.Done(sequence.ReturnTest):
		return l.step("the production test at production limits", "test "+unit+toMeasure)
	case len(l.Findings) == 0 && !c.Done(sequence.Exercise):
		return l.step("nothing found yet, and a press or two bound nothing: press each key many times",
			"exercise "+unit+toMeasure+" --bound 1%")
	}
	return l.step("dispose", toDispose(unit))
}

func toDispose(unit string) string { return "dispose " + unit + " WORD --becomes WORD --operator NAME" }

func (l *Life) step(say, command string) Step { return Step{say, "padjig returns " + command + l.At} }
