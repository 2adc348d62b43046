package object

import (
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/diagnose/polish"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// Diagnosis is a diagnosis as --json prints it; the help of padjig diagnose
// describes it.
type Diagnosis struct {
	Run         string         `json:"run"`
	Serial      string         `json:"serial"`
	Product     string         `json:"product"`
	Revision    string         `json:"revision"`
	Verdict     string         `json:"verdict"`
	Simulated   bool           `json:"simulated"`
	Sentence    string         `json:"sentence"`
	Found       int            `json:"found"`
	Probability float64        `json:"probability"`
	Groups      []Group        `json:"groups"`
	Masked      []Masked       `json:"masked"`
	Unexplained []Contribution `json:"unexplained"`
	Check       *Check         `json:"check"`
	Patterns    []Pattern      `json:"patterns"`
	Terms       *Terms         `json:"terms"`
	Looked      *Looked        `json:"looked,omitempty"`
	Before      []Group        `json:"before,omitempty"`
}

type Group struct {
	Probability  float64        `json:"probability"`
	WithinLimits bool           `json:"within_limits"`
	Causes       []Cause        `json:"causes"` // the likeliest first
	For          []Contribution `json:"for"`
	Against      []Contribution `json:"against"`
}

type Cause struct {
	Kind    string   `json:"kind"`
	Place   string   `json:"place"`
	Key     string   `json:"key"`
	Lines   []string `json:"lines"`
	Pins    []int    `json:"pins"`
	Between []string `json:"between,omitempty"`
	Ohm     *float64 `json:"ohm"`
	U       *float64 `json:"u_ohm"` // standard uncertainty
	Weight  float64  `json:"weight"`
	Rows    []int    `json:"rows"`
	Jig     bool     `json:"jig"`
	Remedy  string   `json:"remedy"` // what a person can do to be sure
	Plant   string   `json:"plant"`
}

type Contribution struct {
	Reading string  `json:"reading"`
	Nats    float64 `json:"nats"`
}

type Masked struct {
	What string `json:"what"`
	Key  string `json:"key"`
	By   string `json:"by"`
}

type Check struct {
	Action   string         `json:"action"`
	By       string         `json:"by"`
	Key      string         `json:"key"`
	Lines    []string       `json:"lines"`
	Say      string         `json:"say"`
	Bits     float64        `json:"bits"`
	Outcomes []CheckOutcome `json:"outcomes"`
}

type CheckOutcome struct {
	Says        string   `json:"says"`
	Probability float64  `json:"probability"`
	For         []string `json:"for"`
}

type Pattern struct {
	Place       string  `json:"place"`
	Here        int     `json:"here"` // units before that failed there on this jig
	HereOf      int     `json:"here_of"`
	Elsewhere   int     `json:"elsewhere"` // and on the others, of the same lots
	ElsewhereOf int     `json:"elsewhere_of"`
	Jig         float64 `json:"jig"` // probability, by the counts alone, that the jig's part there fails
	Lot         float64 `json:"lot"` // that the units of the lot do
	Say         string  `json:"say"`
}

type Looked struct {
	Action string `json:"action"`
	Says   string `json:"says"`
}

// DiagnosisOf gives the diagnosis of a run; looked and before are nil where no check was made.
func DiagnosisOf(words wording.Words, run runs.Stored, p *product.Product, d diagnose.Diagnosis,
	looked *diagnose.Looked, before *diagnose.Diagnosis) Diagnosis {
	in := said{words.Diagnosis()}
	o := Diagnosis{
		Run: run.ID.String(), Serial: run.Serial, Product: run.Product, Revision: run.Revision,
		Verdict: string(run.Outcome), Simulated: run.Simulated,
		Sentence: in.words.Sentence(d), Found: d.Found, Probability: d.Probability,
		Groups:      each(d.Groups, in.group),
		Masked:      each(d.Masked, func(m diagnose.Masked) Masked { return Masked{in.words.Of(m.What), m.Key, in.words.Of(m.By)} }),
		Unexplained: each(d.Unexplained, in.contribution),
		Check:       in.check(d.Check),
		Patterns: each(d.Patterns, func(p diagnose.Pattern) Pattern {
			return Pattern{in.words.Of(p.Place), p.Here, p.HereOf, p.Elsewhere, p.ElsewhereOf, p.Failing, p.Odds.Lot, in.words.Reading(p.Says())}
		}),
		Terms: TermsOf(p, d.Terms),
	}
	if looked != nil {
		o.Looked = &Looked{string(looked.Action), in.words.Of(looked.Says)}
		o.Before = each(before.Groups, in.group)
	}
	return o
}

// Terms is the closed readings of a matrix taken apart, in ohm.
type Terms struct {
	Medians Polish `json:"medians"`
	Squares Polish `json:"squares"`
}

type Polish struct {
	Overall float64            `json:"overall"`
	Lines   map[string]float64 `json:"lines"`
}

func TermsOf(p *product.Product, t *diagnose.Terms) *Terms {
	if t == nil {
		return nil
	}
	of := func(polish polish.Terms) Polish {
		o := Polish{polish.Overall, map[string]float64{}}
		for i, l := range p.Rows {
			o.Lines[p.Lines[l].Name] = polish.Row[i]
		}
		for i, l := range p.Columns {
			o.Lines[p.Lines[l].Name] = polish.Col[i]
		}
		return o
	}
	return &Terms{of(t.Medians), of(t.Squares)}
}

// said gives what is said of a diagnosis in some words.
type said struct{ words wording.Diagnosis }

func (in said) group(g diagnose.Group) Group {
	return Group{
		g.Probability, g.WithinLimits, each(g.Causes, in.cause),
		each(g.For, in.contribution), each(g.Against, in.contribution),
	}
}

func (in said) contribution(c diagnose.Contribution) Contribution {
	return Contribution{in.words.Reading(c.Reading), c.Nats}
}

func (in said) cause(c diagnose.Cause) Cause {
	o := Cause{
		Kind: string(c.Kind), Place: in.words.Of(c.Place), Key: c.Key, Lines: each(c.Lines, same), Pins: each(c.Pins, same),
		Between: c.Between, Weight: c.Weight, Rows: c.Kind.Rows(), Jig: c.Kind.OfJig(), Remedy: in.words.Of(c.Kind.Remedy()), Plant: c.Plant,
	}
	if c.Ohm != nil {
		value, u := float64(c.Ohm.Value), float64(c.Ohm.U)
		o.Ohm, o.U = &value, &u
	}
	return o
}

// check is nil where there is nothing left to check.
func (in said) check(c *diagnose.Check) *Check {
	if c == nil {
		return nil
	}
	return &Check{
		string(c.Action), string(c.By), c.Key, each(c.Lines, same), in.words.Of(c.Say), c.Bits,
		each(c.Outcomes, func(o diagnose.Outcome) CheckOutcome {
			return CheckOutcome{in.words.Of(o.Says), o.Probability, each(o.For, func(k diagnose.Kind) string { return string(k) })}
		}),
	}
}

// Diagnose puts in what a failed unit likely has.
func (o *Run) Diagnose(words wording.Words, r runs.Stored, p *product.Product, earlier readings.Earlier) {
	if r.Outcome != sequence.Fail {
		return
	}
	if d, err := evidence.DiagnoseAfter(r.Run, p, earlier); err == nil {
		in := said{words.Diagnosis()}
		o.Causes, o.Check = in.likely(d), in.check(d.Check)
	}
}

// Likely is a likely cause as padjig test --json prints it.
type Likely struct {
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

// Likelys lists the causes of the likeliest explanation; those of one group cannot
// be told apart.
func (in said) likely(d diagnose.Diagnosis) []Likely {
	all := []Likely{}
	for i, g := range d.Groups[:d.Found] {
		for _, c := range g.Causes {
			o := in.cause(c)
			all = append(all, Likely{o.Kind, o.Place, o.Key, o.Lines, o.Pins, o.Ohm, o.U, i + 1, g.Probability * c.Weight})
		}
	}
	return all
}
