// Package tag is the tag that goes with a unit that failed: what a repairer needs of the
// record, and two barcodes, the unit's number and the run's. It is one model, written as
// text for a terminal and as HTML for a page and a printer, in every language.
package tag

import (
	"fmt"
	"strings"

	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/report/barcode"
	"padjig/results/report/pad"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// Tag is a run as its tag shows it: everything in words already, nothing cut.
type Tag struct {
	Word      string   `json:"word"`
	Serial    string   `json:"serial"`
	Simulated string   `json:"simulated,omitempty"` // what it is not, empty for a real run
	Facts     []Fact   `json:"facts"`
	Why       string   `json:"why,omitempty"`     // it ended with neither pass nor fail
	Proved    string   `json:"proved,omitempty"`  // by the run; of one of before it is not recorded
	Missing   string   `json:"missing,omitempty"` // what a pass has to prove beside that
	Findings  []Defect `json:"findings"`
	Causes    []Cause  `json:"causes"`
	Next      string   `json:"next"`
	Run       string   `json:"run"`
	Code      string   `json:"code"` // that the barcode of the run holds
	Pad       pad.Pad  `json:"-"`

	words       wording.Words
	serial, run barcode.Code
}

// Fact is a line of the head.
type Fact struct {
	Head string `json:"head"`
	Text string `json:"text"`
}

// Defect is one thing wrong, said for whoever mends it.
type Defect struct {
	N     int    `json:"n"`
	What  string `json:"what"`
	Place string `json:"place"`
	Read  string `json:"read"`  // the value, with its uncertainty and unit; empty for none
	Limit string `json:"limit"` // with its unit; empty for none
	Where string `json:"where"` // lines, pins of the tail and channels of the jig
}

// Cause is what is likely wrong, physically.
type Cause struct {
	N     int      `json:"n"`
	Text  string   `json:"text"`
	Or    []string `json:"or"` // what no reading tells apart from it
	Share string   `json:"share"`
}

// Of makes the tag of a stored run in the words of a language, by the plant's clock. The product
// is the one of the run.
func Of(facts wording.Words, clock floor.Clock, run runs.Stored, p *product.Product) (Tag, error) {
	t := Tag{words: facts, Serial: run.Serial, Run: run.ID.String(), Code: fails.TagCode(run.ID), Findings: []Defect{}, Causes: []Cause{}}
	var err error
	if t.serial, err = barcode.Of(run.Serial); err != nil {
		return t, err
	}
	if t.run, err = barcode.Of(t.Code); err != nil {
		return t, err
	}
	t.Word = t.say("word." + string(run.Outcome))
	if run.Purpose == sequence.Engineering { // whatever it found, it is no verdict on the unit
		t.Word = t.say("word.engineering")
	}
	if run.Simulated {
		t.Simulated = t.say("simulated")
	}
	t.Facts = []Fact{
		{t.say("product"), strings.TrimSpace(run.Product + " " + run.Revision)}, {t.say("title"), p.Title},
		{t.say("attempt"), t.say("of", run.Attempt, p.Attempts)}, {t.say("jig"), run.Jig.Serial},
		{t.say("operator"), run.Operator}, {t.say("when"), clock.Exact(run.Started)},
	}
	if text, _ := facts.Why(run.Run); text != "" {
		t.Why = text
	}
	t.Proved, t.Missing = facts.Proved(run.Run), facts.Missing(run.Run)
	for i, f := range run.Findings {
		t.Findings = append(t.Findings, t.defect(facts, i+1, f, readingOf(run.Run, f)))
	}
	t.causes(facts, run, p)
	if p.TagsFails() && fails.Owes(run.Run) {
		t.Next = t.say("next")
	}
	t.Pad = pad.OfRun(p.Keys, run.Keys, run.Findings)
	t.Pad.Pin = t.say("pin")
	for i := range t.Pad.Keys {
		if n := t.Pad.Keys[i].Defect; n > 0 {
			t.Pad.Keys[i].Now = fmt.Sprint(n)
		}
	}
	t.Pad.Desc = t.say("pad", len(run.Findings))
	return t, nil
}

// Lang is the language that it is in, by its tag.
func (t Tag) Lang() string { return t.words.Tag }

func (t Tag) say(key string, args ...any) string { return t.words.Say("tag."+key, args...) }

// readingOf is what was read: the finding's own value, else what its key read.
func readingOf(run sequence.Run, f sequence.Finding) string {
	if own := f.Reading(); own != "" || f.Key == "" {
		return own
	}
	for _, k := range run.Keys {
		if k.Key == f.Key && k.Closed != nil {
			return k.Closed.String()
		}
	}
	return ""
}

func (t Tag) defect(facts wording.Words, n int, f sequence.Finding, read string) Defect {
	place, _ := facts.Place(f)
	d := Defect{N: n, What: facts.Term(f.What), Place: place, Read: read}
	if bound := f.Bound(); bound != "" {
		d.Limit = t.say("limit", bound)
	}
	var where []string
	if len(f.Lines) > 0 {
		where = append(where, t.say("lines", strings.Join(f.Lines, ", ")))
	}
	if len(f.Pins) > 0 { // one channel serves one pin, and has its number
		pins := strings.ReplaceAll(strings.Trim(fmt.Sprint(f.Pins), "[]"), " ", ", ")
		where = append(where, t.say("pins", pins), t.say("channels", pins))
	}
	d.Where = strings.Join(where, " · ")
	return d
}

// leastShown is the share from which a cause is worth a line of a tag.
const leastShown = 0.02

// causes are those that together explain everything; there are none where run and
// product do not fit each other.
func (t *Tag) causes(facts wording.Words, run runs.Stored, p *product.Product) {
	if len(run.Findings) == 0 {
		return
	}
	d, err := evidence.Diagnose(run.Run, p)
	if err != nil {
		return
	}
	said := facts.Diagnosis()
	for _, g := range d.Groups[:d.Found] {
		first, rest := g.Causes[0], g.Causes[1:]
		c := Cause{N: len(t.Causes) + 1, Text: said.Cause(first), Or: []string{}, Share: share(g, first)}
		for _, other := range rest {
			if other.Weight >= leastShown {
				c.Or = append(c.Or, t.say("or", said.Cause(other), share(g, other)))
			}
		}
		t.Causes = append(t.Causes, c)
	}
}

// share never says that something is certain.
func share(g diagnose.Group, c diagnose.Cause) string {
	switch p := g.Probability * c.Weight; {
	case p > 0.99:
		return "> 99 %"
	case p < 0.01:
		return "< 1 %"
	default:
		return fmt.Sprintf("%.0f %%", 100*p)
	}
}
