package main

import (
	"encoding/json"
	"io"
	"time"

	"padjig/fixture"
	"padjig/results/care"
	"padjig/results/runs"
	"padjig/sequence"
)

// printObject prints the one object of --json.
func printObject(to io.Writer, o any) error {
	encoder := json.NewEncoder(to)
	encoder.SetEscapeHTML(false) // labels such as "<" stay as they are
	encoder.SetIndent("", "  ")
	return encoder.Encode(o)
}

// object is a run as --json prints it; the help of padjig test describes it.
type object struct {
	Run       string          `json:"run"`
	Serial    string          `json:"serial"`
	Product   string          `json:"product"`
	Revision  string          `json:"revision"`
	Verdict   string          `json:"verdict"`
	Reason    string          `json:"reason,omitempty"`
	Why       []string        `json:"why,omitempty"` // the same as a code with its arguments
	Simulated bool            `json:"simulated"`
	Started   string          `json:"started"`
	Seconds   float64         `json:"seconds"`
	Jig       string          `json:"jig"`
	Operator  string          `json:"operator"`
	Attempt   int             `json:"attempt"`
	Press     string          `json:"actuation"`
	Purpose   string          `json:"purpose,omitempty"`
	Keys      []keyObject     `json:"keys"`
	Pairs     []pairObject    `json:"pairs"`
	Findings  []findingObject `json:"findings"`

	Exercised []exerciseObject `json:"exercised,omitempty"`
	Reference *referenceObject `json:"reference,omitempty"`
	Causes    []likelyObject   `json:"causes,omitempty"` // of a fail just tested
	Check     *checkObject     `json:"check,omitempty"`
}

type referenceObject struct {
	Good bool     `json:"good"`
	Why  []string `json:"why"`
}

// referenceObjectOf is nil for a unit that is no reference unit.
func referenceObjectOf(c *care.ReferenceCheck) *referenceObject {
	if c == nil {
		return nil
	}
	return &referenceObject{c.Good(), each(c.Why, same)}
}

type keyObject struct {
	Key         string    `json:"key"`
	Lines       [2]string `json:"lines"`
	Verdict     string    `json:"verdict"`
	Closed      *float64  `json:"closed_ohm"`
	U           *float64  `json:"u_ohm"`
	BounceMake  *float64  `json:"bounce_make_ms"`
	BounceBreak *float64  `json:"bounce_break_ms"`
}

type pairObject struct {
	Lines    [2]string `json:"lines"`
	Ohm      *float64  `json:"ohm"`
	U        *float64  `json:"u_ohm"`
	While    string    `json:"while"`
	Forward  *float64  `json:"forward_ohm"`
	Backward *float64  `json:"backward_ohm"`
	Trend    string    `json:"trend,omitempty"`
}

type findingObject struct {
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

func objectOf(r runs.Stored) object {
	return object{
		Run: r.ID.String(), Serial: r.Serial, Product: r.Product, Revision: r.Revision,
		Verdict: string(r.Outcome), Reason: r.Reason, Why: factOf(r.Why), Simulated: r.Simulated,
		Started: r.Started.UTC().Format(time.RFC3339Nano), Seconds: r.Duration.Seconds(),
		Jig: r.Jig.Serial, Operator: r.Operator, Attempt: r.Attempt, Press: string(r.Actuation), Purpose: string(r.Purpose),
		Keys:     each(r.Keys, keyObjectOf),
		Pairs:    each(r.Pairs, pairObjectOf),
		Findings: each(r.Findings, findingObjectOf),

		Exercised: each(r.Exercised, exerciseObjectOf),
	}
}

func keyObjectOf(k sequence.KeyResult) keyObject {
	o := keyObject{
		Key: k.Key, Lines: k.Lines, Verdict: string(k.Verdict),
		BounceMake: milliseconds(k.Make), BounceBreak: milliseconds(k.Break),
	}
	if k.Closed != nil {
		o.Closed, o.U = ohms(*k.Closed)
	}
	return o
}

func pairObjectOf(p sequence.Pair) pairObject {
	o := pairObject{Lines: p.Lines, While: p.While, Trend: string(p.Trend)}
	if p.Forward != nil && p.Backward != nil {
		o.Forward, _ = ohms(*p.Forward)
		o.Backward, _ = ohms(*p.Backward)
	}
	o.Ohm, o.U = ohms(p.Ohm)
	return o
}

func findingObjectOf(f sequence.Finding) findingObject {
	return findingObject{
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

// each turns a list into another; never nil, so that JSON says [] and not null.
func each[A, B any](list []A, turn func(A) B) []B {
	out := make([]B, 0, len(list))
	for _, a := range list {
		out = append(out, turn(a))
	}
	return out
}

func same[T any](v T) T { return v }
