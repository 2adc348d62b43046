package returned

import (
	"encoding/json"
	"slices"

	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/wording"
)

// Group is causes that the readings could not tell apart, as they are kept in
// the records of a case.
type Group struct {
	Causes      []Cause  `json:"causes"` // the likeliest first
	Probability float64  `json:"probability"`
	Found       bool     `json:"found"` // part of the most likely explanation
	For         []Speaks `json:"for"`
	Against     []Speaks `json:"against"`
	Check       string   `json:"check,omitempty"` // with the first group: what would tell most

	// The same as a code with its arguments; null in what was kept before there were codes.
	CheckSaid sequence.Said `json:"check_said,omitzero"`
}

// Cause is one thing that may have happened.
type Cause struct {
	Cause  string   `json:"cause"`
	Place  string   `json:"place"`
	Key    string   `json:"key,omitempty"`
	Ohm    *float64 `json:"ohm,omitempty"`
	U      *float64 `json:"u_ohm,omitempty"` // standard uncertainty
	Weight float64  `json:"weight"`
	Remedy string   `json:"remedy,omitempty"` // what a person can do to be sure
	OfJig  bool     `json:"of_jig,omitempty"`

	PlaceSaid sequence.Said `json:"place_said,omitzero"` // as CheckSaid
}

// Speaks is a reading that speaks for or against, and how loudly: nats, a
// factor of e each.
type Speaks struct {
	Reading string  `json:"reading"`
	Nats    float64 `json:"nats"`

	Said []sequence.Said `json:"said,omitempty"` // as CheckSaid
}

// kept is a fact of a diagnosis as a case keeps it.
func kept(s diagnose.Said) sequence.Said { return sequence.Fact(sequence.Code(s.Code), s.Args...) }

// inWords says a fact that was kept; what was kept before there were codes stays as it was written.
func inWords(w wording.Words, written string, said ...sequence.Said) string {
	if len(said) == 0 || said[0].Code == "" {
		return written
	}
	facts := make([]diagnose.Said, len(said))
	for i, s := range said {
		facts[i] = diagnose.Said{Code: diagnose.Code(s.Code), Args: s.Args}
	}
	return w.Diagnosis().Reading(facts)
}

// In is the group in words of a language.
func (g Group) In(w wording.Words) Group {
	speaking := func(list []Speaks) (out []Speaks) {
		for _, s := range list {
			s.Reading = inWords(w, s.Reading, s.Said...)
			out = append(out, s)
		}
		return out
	}
	g.Check, g.For, g.Against = inWords(w, g.Check, g.CheckSaid), speaking(g.For), speaking(g.Against)
	g.Causes = slices.Clone(g.Causes)
	for i := range g.Causes {
		c := &g.Causes[i]
		c.Place = inWords(w, c.Place, c.PlaceSaid)
		if kind := diagnose.Kind(c.Cause); len(kind.Rows()) > 0 {
			c.Cause = w.Diagnosis().Kind(kind)
			if c.Remedy != "" {
				c.Remedy = w.Diagnosis().Of(kind.Remedy())
			}
		}
	}
	return g
}

// mostKept of each list keeps a record of what tells, not of everything.
const mostKept = 6

// Snapshot is a diagnosis as a case keeps it.
func Snapshot(d diagnose.Diagnosis) (json.RawMessage, error) {
	groups := []Group{}
	for i, g := range d.Groups[:min(len(d.Groups), mostKept)] {
		group := Group{Probability: g.Probability, Found: i < d.Found, For: speaks(g.For), Against: speaks(g.Against)}
		for _, c := range g.Causes[:min(len(g.Causes), mostKept)] {
			group.Causes = append(group.Causes, cause(c))
		}
		groups = append(groups, group)
	}
	if d.Check != nil && len(groups) > 0 {
		groups[0].Check, groups[0].CheckSaid = wording.Kept().Of(d.Check.Say), kept(d.Check.Say)
	}
	return json.Marshal(groups)
}

func cause(c diagnose.Cause) Cause {
	words := wording.Kept()
	out := Cause{
		Cause: string(c.Kind), Place: words.Of(c.Place), Key: c.Key, Weight: c.Weight,
		Remedy: words.Of(c.Kind.Remedy()), OfJig: c.Kind.OfJig(), PlaceSaid: kept(c.Place),
	}
	if c.Ohm != nil {
		out.Ohm, out.U = new(float64(c.Ohm.Value)), new(float64(c.Ohm.U))
	}
	return out
}

func speaks(list []diagnose.Contribution) []Speaks {
	out := []Speaks{}
	for _, c := range list[:min(len(list), mostKept)] {
		said := make([]sequence.Said, len(c.Reading))
		for i, one := range c.Reading {
			said[i] = kept(one)
		}
		out = append(out, Speaks{wording.Kept().Reading(c.Reading), c.Nats, said})
	}
	return out
}

// diagnosis is the one to show: of the return test where that found something,
// for it has read most, else the last one.
func (l *Life) diagnosis() (groups []Group) {
	show, any := l.Diagnosis()
	if !any || json.Unmarshal(show.Causes, &groups) != nil {
		return nil // none, or written by a version that kept them otherwise
	}
	return groups
}

// Diagnosis is the one of the case that is shown, and of which run it is.
func (l *Life) Diagnosis() (show returns.Diagnosis, any bool) {
	list := l.Case.Diagnoses
	if len(list) == 0 {
		return show, false
	}
	show = list[len(list)-1]
	if i := slices.IndexFunc(l.Case.Stages, func(s returns.Stage) bool { return s.Purpose == sequence.ReturnTest && s.Findings > 0 }); i >= 0 {
		for _, d := range list {
			if d.Run == l.Case.Stages[i].Seq {
				show = d
			}
		}
	}
	return show, true
}
