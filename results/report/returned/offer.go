package returned

import (
	"slices"
	"strings"

	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// Offer is a disposition that the records suggest, and why. A person decides.
type Offer struct {
	Disposition string `json:"disposition"`
	Why         string `json:"why"`
}

// Against lists what speaks against the verdict the unit left with: the jig, or
// a margin less than the guard band.
func (l *Life) Against() []string { return AgainstIn(l, wording.Words{}) }

// AgainstIn lists it in words of a language.
func AgainstIn(l *Life, w wording.Words) (why []string) {
	if l.Shipped == nil {
		return nil
	}
	for _, m := range l.Shipped.Thin() {
		said := sequence.Fact("thin", m.Key, m.Closed.String(), m.Margin.String(), m.Limit.String(), m.Band().String())
		if m.Margin < 0 {
			said = sequence.Fact("beyond", m.Key, m.Closed.String(), (-m.Margin).String(), m.Limit.String())
		}
		why = append(why, w.Desk(said))
	}
	return append(why, l.Shipped.Doubts(l.Clock)...)
}

// OffersIn are the dispositions that the records suggest, in words of a language.
func OffersIn(l *Life, w wording.Words) (offers []Offer) {
	found, any := l.Case.FoundBy()
	against := AgainstIn(l, w)
	if len(against) > 0 {
		offers = append(offers, Offer{returns.FalseAccept, against[0]})
	}
	if damage := l.damage(); damage != "" {
		offers = append(offers, Offer{returns.CustomerDamage, w.Desk(sequence.Fact("offer.damage", damage))})
	}
	switch {
	case any:
		offers = append(offers, Offer{returns.Confirmed, w.Desk(sequence.Fact("offer.found", string(found.Purpose), found.Worst))})
	case l.Case.Done(sequence.Exercise):
		offers = append(offers, Offer{returns.NotReproduced, w.Desk(sequence.Fact("offer.none"))})
	}
	return offers
}

// damage is what was seen that does not come from the line.
func (l *Life) damage() string {
	seen := slices.DeleteFunc(slices.Clone(l.Case.Intake().Conditions), func(c string) bool {
		return !returns.IsDamage(c) && c != "opened before" && c != "tail creased"
	})
	return strings.Join(seen, ", ")
}

// Step is what comes next in a case: its code, a word for it, and the command.
type Step struct {
	Code         returns.Next
	Say, Command string
}

// toMeasure is what a command that measures needs besides.
const toMeasure = " --product FILE --jig JIG --operator NAME"

// Next says what comes next.
func (l *Life) Next() Step {
	unit, next := l.Case.Serial, l.Case.Next(l.Reworks)
	command := map[returns.Next]string{
		returns.NextSeen:       "intake " + unit + " --correct --condition WORD --product FILE --complaint WORD --operator NAME",
		returns.NextPhoto:      "photo " + unit + " FILE --operator NAME",
		returns.NextFirstPress: "first-press " + unit + toMeasure,
		returns.NextTest:       "test " + unit + toMeasure,
		returns.NextAgain:      "test " + unit + toMeasure,
		returns.NextExercise:   "exercise " + unit + toMeasure + " --bound 1%",
		returns.NextReport:     "report " + unit + " --to " + unit + ".html",
	}[next]
	if command == "" {
		command = "dispose " + unit + " WORD --becomes WORD --operator NAME"
	}
	return Step{next, wording.Words{}.Desk(next.Say()), "padjig returns " + command + l.At}
}
