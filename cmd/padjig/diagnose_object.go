package main

import (
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/product"
)

// diagnosisObject is a diagnosis as --json prints it; the help of padjig diagnose
// describes it.
type diagnosisObject struct {
	Run         string               `json:"run"`
	Serial      string               `json:"serial"`
	Product     string               `json:"product"`
	Revision    string               `json:"revision"`
	Verdict     string               `json:"verdict"`
	Simulated   bool                 `json:"simulated"`
	Sentence    string               `json:"sentence"`
	Found       int                  `json:"found"`
	Probability float64              `json:"probability"`
	Groups      []groupObject        `json:"groups"`
	Masked      []maskedObject       `json:"masked"`
	Unexplained []contributionObject `json:"unexplained"`
	Check       *checkObject         `json:"check"`
	Patterns    []patternObject      `json:"patterns"`
	Terms       *termsObject         `json:"terms"`
	Looked      *lookedObject        `json:"looked,omitempty"`
	Before      []groupObject        `json:"before,omitempty"`
}

type groupObject struct {
	Probability  float64              `json:"probability"`
	WithinLimits bool                 `json:"within_limits"`
	Causes       []causeObject        `json:"causes"`
	For          []contributionObject `json:"for"`
	Against      []contributionObject `json:"against"`
}

type causeObject struct {
	Kind    string   `json:"kind"`
	Place   string   `json:"place"`
	Key     string   `json:"key"`
	Lines   []string `json:"lines"`
	Pins    []int    `json:"pins"`
	Between []string `json:"between,omitempty"`
	Ohm     *float64 `json:"ohm"`
	U       *float64 `json:"u_ohm"`
	Weight  float64  `json:"weight"`
	Rows    []int    `json:"rows"`
	Jig     bool     `json:"jig"`
	Remedy  string   `json:"remedy"`
	Plant   string   `json:"plant"`
}

type contributionObject struct {
	Reading string  `json:"reading"`
	Nats    float64 `json:"nats"`
}

type maskedObject struct {
	What string `json:"what"`
	Key  string `json:"key"`
	By   string `json:"by"`
}

type checkObject struct {
	Action   string          `json:"action"`
	By       string          `json:"by"`
	Key      string          `json:"key"`
	Lines    []string        `json:"lines"`
	Say      string          `json:"say"`
	Bits     float64         `json:"bits"`
	Outcomes []outcomeObject `json:"outcomes"`
}

type outcomeObject struct {
	Says        string   `json:"says"`
	Probability float64  `json:"probability"`
	For         []string `json:"for"`
}

type patternObject struct {
	Place       string  `json:"place"`
	Units       int     `json:"units"`
	Chance      float64 `json:"chance"`
	Probability float64 `json:"probability"`
	Say         string  `json:"say"`
}

type lookedObject struct {
	Action string `json:"action"`
	Says   string `json:"says"`
}

func diagnosisObjectOf(x *examined, looked *diagnose.Looked, before *diagnose.Diagnosis) diagnosisObject {
	d := x.diagnosis
	o := diagnosisObject{
		Run: x.run.ID.String(), Serial: x.run.Serial, Product: x.run.Product, Revision: x.run.Revision,
		Verdict: string(x.run.Outcome), Simulated: x.run.Simulated,
		Sentence: d.Sentence, Found: d.Found, Probability: d.Probability,
		Groups:      each(d.Groups, groupObjectOf),
		Masked:      each(d.Masked, func(m diagnose.Masked) maskedObject { return maskedObject(m) }),
		Unexplained: each(d.Unexplained, contributionObjectOf),
		Check:       checkObjectOf(d.Check),
		Patterns: each(x.patterns, func(s diagnose.Suspicion) patternObject {
			return patternObject{s.Place, s.Units, s.Chance, s.Probability, s.Say}
		}),
		Terms: termsObjectOf(x.product, d.Terms),
	}
	if looked != nil {
		o.Looked = &lookedObject{string(looked.Action), looked.Says}
		o.Before = each(before.Groups, groupObjectOf)
	}
	return o
}

// termsObject is the closed readings of a matrix taken apart, in ohm.
type termsObject struct {
	Medians polishObject `json:"medians"`
	Squares polishObject `json:"squares"`
}

type polishObject struct {
	Overall float64            `json:"overall"`
	Lines   map[string]float64 `json:"lines"`
}

func termsObjectOf(p *product.Product, t *diagnose.Terms) *termsObject {
	if t == nil {
		return nil
	}
	of := func(polish diagnose.Polish) polishObject {
		o := polishObject{polish.Overall, map[string]float64{}}
		for i, l := range p.Rows {
			o.Lines[p.Lines[l].Name] = polish.Row[i]
		}
		for i, l := range p.Columns {
			o.Lines[p.Lines[l].Name] = polish.Col[i]
		}
		return o
	}
	return &termsObject{of(t.Medians), of(t.Squares)}
}

func groupObjectOf(g diagnose.Group) groupObject {
	return groupObject{
		g.Probability, g.WithinLimits, each(g.Causes, causeObjectOf),
		each(g.For, contributionObjectOf), each(g.Against, contributionObjectOf),
	}
}

func contributionObjectOf(c diagnose.Contribution) contributionObject { return contributionObject(c) }

func causeObjectOf(c diagnose.Cause) causeObject {
	o := causeObject{
		Kind: string(c.Kind), Place: c.Place, Key: c.Key, Lines: each(c.Lines, same), Pins: each(c.Pins, same),
		Between: c.Between, Weight: c.Weight, Rows: c.Kind.Rows(), Jig: c.Kind.OfJig(), Remedy: c.Kind.Remedy(), Plant: c.Plant,
	}
	if c.Ohm != nil {
		value, u := float64(c.Ohm.Value), float64(c.Ohm.U)
		o.Ohm, o.U = &value, &u
	}
	return o
}

// checkObjectOf is nil where there is nothing left to check.
func checkObjectOf(c *diagnose.Check) *checkObject {
	if c == nil {
		return nil
	}
	return &checkObject{
		string(c.Action), string(c.By), c.Key, each(c.Lines, same), c.Say, c.Bits,
		each(c.Outcomes, func(o diagnose.Outcome) outcomeObject {
			return outcomeObject{o.Says, o.Probability, each(o.For, func(k diagnose.Kind) string { return string(k) })}
		}),
	}
}

// diagnose puts in what a failed unit likely has.
func (o *object) diagnose(r runs.Stored, p *product.Product) {
	if r.Outcome != sequence.Fail {
		return
	}
	if d, err := sequence.Diagnose(r.Run, p); err == nil {
		o.Causes, o.Check = likelyObjects(d), checkObjectOf(d.Check)
	}
}

// likelyObject is a likely cause as padjig test --json prints it.
type likelyObject struct {
	Kind        string   `json:"kind"`
	Place       string   `json:"place"`
	Key         string   `json:"key"`
	Lines       []string `json:"lines"`
	Pins        []int    `json:"pins"`
	Ohm         *float64 `json:"ohm"`
	U           *float64 `json:"u_ohm"`
	Group       int      `json:"group"`
	Probability float64  `json:"probability"`
}

// likelyObjects lists the causes of the likeliest explanation; those of one group cannot
// be told apart.
func likelyObjects(d diagnose.Diagnosis) []likelyObject {
	all := []likelyObject{}
	for i, g := range d.Groups[:d.Found] {
		for _, c := range g.Causes {
			o := causeObjectOf(c)
			all = append(all, likelyObject{o.Kind, o.Place, o.Key, o.Lines, o.Pins, o.Ohm, o.U, i + 1, g.Probability * c.Weight})
		}
	}
	return all
}
