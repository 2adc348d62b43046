package object

import (
	"time"

	"padjig/fixture"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/decide"
)

// ReturnsCase is a case in a list, as --json prints it.
type ReturnsCase struct {
	Case          int64    `json:"case"`
	Serial        string   `json:"serial"`
	Product       string   `json:"product"`
	Received      string   `json:"received"`
	Complaint     string   `json:"complaint"`
	ComplaintText string   `json:"complaint_text"`
	Conditions    []string `json:"conditions"`
	EndsTesting   bool     `json:"ends_testing"`
	Disposition   string   `json:"disposition"` // "open" before any
	Reason        string   `json:"reason"`
	FoundBy       string   `json:"found_by"` // "" for none
	Photos        []string `json:"photos"`   // SHA-256
	Stages        []Stage  `json:"stages"`
}

// Cases are those of a list.
type Cases struct {
	Cases []ReturnsCase `json:"cases"`
}

type Stage struct {
	Stage   string `json:"stage"`
	Run     string `json:"run"`
	Outcome string `json:"outcome"`
	Worst   string `json:"worst"`
}

func StageOf(s returns.Stage) Stage {
	return Stage{string(s.Purpose), s.Run.String(), string(s.Outcome), s.Worst}
}

func ReturnsCaseOf(c returns.Case) ReturnsCase {
	in, d := c.Intake(), c.Disposition()
	o := ReturnsCase{
		Case: c.Number, Serial: c.Serial, Product: c.Product, Received: in.Received.Format(time.RFC3339),
		Complaint: in.Complaint, ComplaintText: in.ComplaintText, Conditions: each(in.Conditions, same), EndsTesting: in.EndsTesting,
		Disposition: "open", Reason: d.Reason, Photos: each(c.Photos, returns.Photo.Sum),
		Stages: each(c.Stages, StageOf),
	}
	if d.Code != "" {
		o.Disposition = d.Code
	}
	if found, any := c.FoundBy(); any {
		o.FoundBy = string(found.Purpose)
	}
	return o
}

// Life is a case with everything around it; the help of padjig returns
// show describes it.
type Life struct {
	ReturnsCase
	Simulated bool             `json:"simulated"`
	Shipped   string           `json:"shipped_run"` // id, "" for none
	Keys      []Beside         `json:"keys"`
	Findings  []Finding        `json:"findings"`
	Causes    []returned.Group `json:"causes"`
	Against   []string         `json:"against"`
	Offers    []Offer          `json:"offers"`
	Alike     []Alike          `json:"alike"`
	Bound     *Bound           `json:"bound"`
	Next      string           `json:"next"`
}

type Beside struct {
	Key     string   `json:"key"`
	Shipped *float64 `json:"shipped_ohm"`
	First   *float64 `json:"first_press_ohm"`
	Test    *float64 `json:"test_ohm"`
	Change  *float64 `json:"change_ohm"`
	U       *float64 `json:"change_u_ohm"` // expanded, k = 2
	Real    bool     `json:"real"`
	Thin    bool     `json:"thin"`

	MakeThen  *float64 `json:"shipped_make_ms"`
	MakeNow   *float64 `json:"make_ms"`
	BreakThen *float64 `json:"shipped_break_ms"`
	BreakNow  *float64 `json:"break_ms"`
}

type Offer struct {
	Disposition string `json:"disposition"`
	Why         string `json:"why"`
}

type Alike struct {
	Serial string   `json:"serial"`
	What   string   `json:"what"`
	Place  string   `json:"place"`
	Why    []string `json:"why"`
}

type Bound struct {
	Presses     int      `json:"presses"` // of the key pressed least
	RuleOfThree *float64 `json:"rule_of_three"`
	Exact       *float64 `json:"exact"` // both null where a press was not good
}

func LifeOf(l *returned.Life) Life {
	o := Life{
		ReturnsCase: ReturnsCaseOf(l.Case), Simulated: l.Simulated,
		Keys: each(l.Keys, BesideOf), Causes: each(l.Groups, same), Against: each(l.Against(), same),
		Findings: each(l.Findings, func(f returned.Found) Finding { return FindingOf(f.Finding) }),
		Offers:   each(l.Offers, func(f returned.Offer) Offer { return Offer{f.Disposition, f.Why} }),
		Alike: each(l.Alike, func(a returns.Alike) Alike {
			return Alike{a.Serial, a.What, a.Location, a.Why}
		}),
		Next: l.Next().Command,
	}
	if l.Shipped != nil {
		o.Shipped = l.Shipped.Run.ID.String()
	}
	if b := l.Bound; b != nil && b.Presses > 0 {
		o.Bound = &Bound{Presses: b.Presses}
		if len(b.Bad) == 0 {
			o.Bound.RuleOfThree, o.Bound.Exact = new(decide.RuleOfThree(b.Presses)), new(decide.MissBound(b.Presses))
		}
	}
	return o
}

func BesideOf(b returned.Beside) Beside {
	o := Beside{
		Key: b.Key, Shipped: ohmOf(b.Shipped), First: ohmOf(b.First), Test: ohmOf(b.Test), Thin: b.Thin,
		MakeThen: millisecondsOf(b.MakeThen), MakeNow: millisecondsOf(b.MakeNow),
		BreakThen: millisecondsOf(b.BreakThen), BreakNow: millisecondsOf(b.BreakNow),
	}
	if b.Change != nil {
		o.Change, o.U, o.Real = new(float64(b.Change.Value)), new(float64(b.Change.U)), b.Change.Real()
	}
	return o
}

func millisecondsOf(d *time.Duration) *float64 {
	if d == nil {
		return nil
	}
	return new(float64(*d) / float64(time.Millisecond))
}

func ohmOf(r *fixture.Resistance) *float64 {
	if r == nil {
		return nil
	}
	value, _ := ohms(*r)
	return value
}

// Exercise is what came of pressing a key often and of holding it.
type Exercise struct {
	Key           string  `json:"key"`
	Presses       int     `json:"presses"`
	Misses        int     `json:"misses"`
	High          int     `json:"high"`
	Sticks        int     `json:"sticks"`
	Held          float64 `json:"held_s"`
	HeldOpenings  int     `json:"held_openings"`
	HeldLongest   float64 `json:"held_longest_ms"`
	Flexed        float64 `json:"flexed_s"`
	FlexOpenings  int     `json:"flexed_openings"`
	FlexedLongest float64 `json:"flexed_longest_ms"`
}

func ExerciseOf(x sequence.KeyExercise) Exercise {
	return Exercise{
		Key: x.Key, Presses: x.Presses, Misses: x.Misses, High: x.High, Sticks: x.Sticks,
		Held: x.Held.Watched.Seconds(), HeldOpenings: x.Held.Openings, HeldLongest: x.Held.Longest.Seconds() * 1e3,
		Flexed: x.Flexed.Watched.Seconds(), FlexOpenings: x.Flexed.Openings, FlexedLongest: x.Flexed.Longest.Seconds() * 1e3,
	}
}
