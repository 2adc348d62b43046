package product

import (
	"strconv"
	"strings"

	"padjig/sequence/fields"
)

// Stops are the rules by which a line of this product stops itself. A number of 0
// is no rule.
type Stops struct {
	SameFinding int     // units in a row that fail with the same finding at the same place
	Yield       float64 // first-pass yield below which it stops,
	Of          int     // over so many units; not before there are as many
	Reseats     int     // of one unit in a row; it is not tested again then, the line goes on
	SameProbe   int     // units in a row at which the contact of the same pin was doubtful
	Unseated    int     // units in a row that had to be reseated, for whatever pins
}

// UsualStops are the rules of a product that says nothing. The handbook's three fails in
// a row and 90 % are common practice, no source, and so is the window of 50 units. Two
// reseats: wiping the tail and putting the unit in again mends what dirt does, and a third
// try only wears the tail. Three units at which the same pin is doubtful have the probe in
// common and nothing else. Of units reseated for any pins it takes five: where one unit in
// ten has to be put in twice, that happens by chance in one shift of 400 units out of 280.
func UsualStops() Stops {
	return Stops{SameFinding: 3, Yield: 0.9, Of: 50, Reseats: 2, SameProbe: 3, Unseated: 5}
}

// The most units that a rule may count: beyond it, it stops nothing in time.
const (
	maxRow    = 50
	maxWindow = 1000
)

func readStops(o fields.Object) Stops {
	s := UsualStops()
	l, ok := o.Section("stops", "same finding", "yield", "reseats", "same probe", "unseated")
	if !ok {
		return s
	}
	for _, rule := range []struct {
		name  string
		least int
		n     *int
	}{
		{"same finding", 2, &s.SameFinding}, {"reseats", 1, &s.Reseats}, {"same probe", 2, &s.SameProbe},
		{"unseated", 2, &s.Unseated},
	} {
		f, ok := l.Get(rule.name)
		if !ok {
			continue
		}
		n, ok := inARow(f.Words(), rule.least)
		if !ok {
			l.Wrong(f.At(), "stops.row", rule.name, fields.Joined(f.Words()), rule.least, maxRow)
			continue
		}
		*rule.n = n
	}
	if f, ok := l.Get("yield"); ok {
		if s.Yield, s.Of, ok = yieldOf(f.Words()); !ok {
			l.Wrong(f.At(), "stops.yield", fields.Joined(f.Words()), maxWindow)
		}
	}
	return s
}

// inARow reads "3", "3 units" or "none".
func inARow(words []fields.Word, least int) (n int, ok bool) {
	if len(words) == 2 && (words[1].Text == "units" || words[1].Text == "times") {
		words = words[:1]
	}
	if len(words) != 1 {
		return 0, false
	}
	if words[0].Text == "none" {
		return 0, true
	}
	n, err := strconv.Atoi(words[0].Text)
	return n, err == nil && n >= least && n <= maxRow
}

// yieldOf reads "90 % of 50 units" or "none".
func yieldOf(words []fields.Word) (yield float64, units int, ok bool) {
	if len(words) == 1 && words[0].Text == "none" {
		return 0, 0, true
	}
	share, rest, found := strings.Cut(fields.Joined(words), " of ")
	yield, is := numberOf(share, "%")
	count, unit, _ := strings.Cut(rest, " ")
	units, err := strconv.Atoi(count)
	return yield / 100, units, found && is && err == nil && (unit == "" || unit == "units") &&
		yield > 0 && yield < 100 && units >= 2 && units <= maxWindow
}

// stopsMeaning holds the rules that are not as usual.
type stopsMeaning struct {
	SameFinding *int    `json:"same_finding,omitempty"`
	Yield       *number `json:"yield,omitempty"`
	Of          *int    `json:"of,omitempty"`
	Reseats     *int    `json:"reseats,omitempty"`
	SameProbe   *int    `json:"same_probe,omitempty"`
	Unseated    *int    `json:"unseated,omitempty"`
}

func stopsMeaningOf(s Stops) *stopsMeaning {
	usual := UsualStops()
	other := func(n, usual int) *int {
		if n == usual {
			return nil
		}
		return &n
	}
	m := stopsMeaning{
		SameFinding: other(s.SameFinding, usual.SameFinding), Yield: unless(s.Yield, usual.Yield), Of: other(s.Of, usual.Of),
		Reseats: other(s.Reseats, usual.Reseats), SameProbe: other(s.SameProbe, usual.SameProbe),
		Unseated: other(s.Unseated, usual.Unseated),
	}
	if m == (stopsMeaning{}) {
		return nil
	}
	return &m
}

func (m *stopsMeaning) stops() Stops {
	s := UsualStops()
	if m == nil {
		return s
	}
	for _, rule := range []struct {
		from *int
		to   *int
	}{
		{m.SameFinding, &s.SameFinding}, {m.Of, &s.Of}, {m.Reseats, &s.Reseats}, {m.SameProbe, &s.SameProbe},
		{m.Unseated, &s.Unseated},
	} {
		if rule.from != nil {
			*rule.to = *rule.from
		}
	}
	if m.Yield != nil {
		s.Yield = float64(*m.Yield)
	}
	return s
}
