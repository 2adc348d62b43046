package object

import (
	"time"

	"padjig/fixture"
	"padjig/results/care"
	"padjig/results/runs"
	"padjig/sequence"
)

// Run is a run as --json prints it; the help of padjig test describes it.
type Run struct {
	Run       string    `json:"run"`
	Serial    string    `json:"serial"`
	Product   string    `json:"product"`
	Revision  string    `json:"revision"`
	Verdict   string    `json:"verdict"`
	Reason    string    `json:"reason,omitempty"`
	Why       []string  `json:"why,omitempty"` // the same as a code with its arguments
	Simulated bool      `json:"simulated"`
	Started   string    `json:"started"`
	Seconds   float64   `json:"seconds"`
	Jig       string    `json:"jig"`
	Operator  string    `json:"operator"`
	Attempt   int       `json:"attempt"`
	Press     string    `json:"actuation"`
	Purpose   string    `json:"purpose,omitempty"`
	Keys      []Key     `json:"keys"`
	Pairs     []Pair    `json:"pairs"`
	Findings  []Finding `json:"findings"`

	Exercised []Exercise      `json:"exercised,omitempty"`
	Reference *ReferenceCheck `json:"reference,omitempty"`
	Causes    []Likely        `json:"causes,omitempty"` // of a fail just tested
	Check     *Check          `json:"check,omitempty"`
}

type ReferenceCheck struct {
	Good bool     `json:"good"`
	Why  []string `json:"why"`
}

// ReferenceCheckOf is nil for a unit that is no reference unit.
func ReferenceCheckOf(c *care.ReferenceCheck) *ReferenceCheck {
	if c == nil {
		return nil
	}
	return &ReferenceCheck{c.Good(), c.Sentences()}
}

type Key struct {
	Key         string    `json:"key"`
	Lines       [2]string `json:"lines"`
	Verdict     string    `json:"verdict"`
	Closed      *float64  `json:"closed_ohm"`
	U           *float64  `json:"u_ohm"`
	BounceMake  *float64  `json:"bounce_make_ms"`
	BounceBreak *float64  `json:"bounce_break_ms"`
}

type Pair struct {
	Lines    [2]string `json:"lines"`
	Ohm      *float64  `json:"ohm"`
	U        *float64  `json:"u_ohm"`
	While    string    `json:"while"`
	Forward  *float64  `json:"forward_ohm"`
	Backward *float64  `json:"backward_ohm"`
	Trend    string    `json:"trend,omitempty"`
}

type Finding struct {
	What  string   `json:"what"`
	Place string   `json:"place"`
	Key   string   `json:"key"`
	Lines []string `json:"lines"`
	Pins  []int    `json:"pins"`
	Value *float64 `json:"value"`
	Limit *float64 `json:"limit"`
	Unit  string   `json:"unit"`

	Site []string   `json:"site,omitempty"` // as codes with their arguments: where it is
	How  [][]string `json:"how,omitempty"`  // and what is odd about it
}

func RunOf(r runs.Stored) Run {
	return Run{
		Run: r.ID.String(), Serial: r.Serial, Product: r.Product, Revision: r.Revision,
		Verdict: string(r.Outcome), Reason: r.Reason, Why: factOf(r.Why), Simulated: r.Simulated,
		Started: r.Started.UTC().Format(time.RFC3339Nano), Seconds: r.Duration.Seconds(),
		Jig: r.Jig.Serial, Operator: r.Operator, Attempt: r.Attempt, Press: string(r.Actuation), Purpose: string(r.Purpose),
		Keys:     each(r.Keys, KeyOf),
		Pairs:    each(r.Pairs, PairOf),
		Findings: each(r.Findings, FindingOf),

		Exercised: each(r.Exercised, ExerciseOf),
	}
}

func KeyOf(k sequence.KeyResult) Key {
	o := Key{
		Key: k.Key, Lines: k.Lines, Verdict: string(k.Verdict),
		BounceMake: milliseconds(k.Make), BounceBreak: milliseconds(k.Break),
	}
	if k.Closed != nil {
		o.Closed, o.U = ohms(*k.Closed)
	}
	return o
}

func PairOf(p sequence.Pair) Pair {
	o := Pair{Lines: p.Lines, While: p.While, Trend: string(p.Trend)}
	if p.Forward != nil && p.Backward != nil {
		o.Forward, _ = ohms(*p.Forward)
		o.Backward, _ = ohms(*p.Backward)
	}
	o.Ohm, o.U = ohms(p.Ohm)
	return o
}

func FindingOf(f sequence.Finding) Finding {
	return Finding{
		What: f.What, Place: f.Place, Key: f.Key, Lines: each(f.Lines, same), Pins: each(f.Pins, same),
		Value: f.Value, Limit: f.Limit, Unit: f.Unit, Site: factOf(f.At), How: each(f.How, factOf),
	}
}

// factOf is a code with its arguments, the code first; nothing where there is none.
func factOf(s sequence.Said) []string {
	if s.Code == "" {
		return nil
	}
	return append([]string{string(s.Code)}, s.Args...)
}

// ohms gives value and uncertainty; nothing for a reading beyond the range.
func ohms(r fixture.Resistance) (value, u *float64) {
	if r.AtLeast {
		return nil, nil
	}
	return new(float64(r.Value)), new(float64(r.U))
}

func milliseconds(b *fixture.Bounce) *float64 {
	if b == nil {
		return nil
	}
	return new(float64(b.Time) / float64(time.Millisecond))
}
