package testrun

// What is likely wrong with a unit, below its verdict and in padjig diagnose.

import (
	"fmt"
	"math"
	"strings"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/sequence/diagnose"
	"padjig/sequence/wording"
)

// causesView writes a diagnosis for people.
type causesView struct {
	terminal.Terminal
	d  diagnose.Diagnosis
	at string // serial number and store, for suggested commands
}

// CausesOf is a diagnosis of a unit; at is its serial number and the store.
func CausesOf(t terminal.Terminal, d diagnose.Diagnosis, at string) causesView {
	return causesView{t, d, at}
}

func (v causesView) told() wording.Diagnosis { return v.Words.Diagnosis() }

// Head says of which run.
func (v causesView) Head(clock floor.Clock, r runs.Stored) {
	fmt.Fprintf(v, "unit %s, %s, jig %s, %s  %s\n", r.Serial, command.Named(r.Product, r.Revision), r.Jig.Serial,
		clock.Exact(r.Started), v.In(OutcomeWord(r), terminal.Bold))
	fmt.Fprintf(v, "run %s\n\n", r.ID)
}

// All writes the whole diagnosis.
func (v causesView) All() {
	fmt.Fprintln(v, v.Wrap(0, v.told().Sentence(v.d)))
	for i, g := range v.d.Groups {
		if i == v.d.Found {
			fmt.Fprint(v, "\nless likely:\n")
		}
		v.group(i, g)
	}
	v.list("\nnot explained by any of these:", v.d.Unexplained)
	if len(v.d.Masked) > 0 {
		fmt.Fprint(v, "\nnot tested, so that nothing is known of it:\n")
		for _, m := range v.d.Masked {
			fmt.Fprintf(v, "     %s\n", v.Wrap(7, v.told().Of(m.What)+": "+v.told().Of(m.By)))
		}
	}
	v.next()
}

// group writes the causes of a group: the first in full, the others by name.
func (v causesView) group(i int, g diagnose.Group) {
	mark := fmt.Sprintf("%3d.", i+1)
	if i >= v.d.Found {
		mark = "    "
	}
	fmt.Fprintf(v, "%s %s\n", mark, v.Wrap(5, v.In(v.told().Cause(g.Causes[0]), terminal.Bold)+", "+percent(g.Probability*g.Causes[0].Weight)))
	for _, c := range g.Causes[1:] {
		if c.Weight >= leastShown {
			fmt.Fprintf(v, "       or %s\n", v.Wrap(10, v.told().Cause(c)+", "+percent(g.Probability*c.Weight)))
		}
	}
	if g.WithinLimits {
		fmt.Fprintln(v, "     within every limit: not why the unit failed")
	}
	if i < v.d.Found {
		v.list("     for:", firstFew(g.For))
		v.list("     against:", firstFew(g.Against))
	}
}

// leastShown is the weight from which a cause of a group is worth a line; --json has all.
const leastShown = 0.02

func firstFew(c []diagnose.Contribution) []diagnose.Contribution {
	const few = 4
	return c[:min(few, len(c))]
}

func (v causesView) list(title string, what []diagnose.Contribution) {
	if len(what) == 0 {
		return
	}
	fmt.Fprintln(v, title)
	for _, c := range what {
		fmt.Fprintf(v, "       %s\n", v.Wrap(9, fmt.Sprintf("%s (%s)", v.told().Reading(c.Reading), times10(c.Nats))))
	}
}

// times10 says nats as a factor: a nat is a factor of e.
func times10(nats float64) string {
	tens := nats / math.Ln10
	switch {
	case math.Abs(tens) < 1:
		return fmt.Sprintf("%.1f times as likely", math.Exp(nats))
	case tens > 0:
		return fmt.Sprintf("10^%.0f times as likely", tens)
	}
	return fmt.Sprintf("10^%.0f times less likely", -tens)
}

// percent never says that something is certain.
func percent(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "below 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// next says the check that would tell most.
func (v causesView) next() {
	c := v.d.Check
	if c == nil {
		return
	}
	fmt.Fprintf(v, "\nnext: %s\n", v.Wrap(6, v.told().Of(c.Say)))
	for _, o := range c.Outcomes {
		if len(o.For) > 0 && len(c.Outcomes) > 1 {
			fmt.Fprintf(v, "      %s\n", v.Wrap(8, fmt.Sprintf("%s: speaks for %s", v.told().Of(o.Says), v.joinKinds(o.For))))
		}
	}
	if c.By == diagnose.Jig {
		fmt.Fprintf(v, "      the jig can do it: padjig diagnose %s --check --jig PORT\n", v.at)
	}
}

func (v causesView) joinKinds(kinds []diagnose.Kind) string {
	return strings.Join(command.Each(kinds, v.told().Kind), ", ")
}

// Changed says what a check brought.
func (v causesView) Changed(l diagnose.Looked, before diagnose.Diagnosis) {
	fmt.Fprintf(v, "checked: %s\n", v.Wrap(9, v.told().Of(l.Says)))
	for _, s := range diagnose.Shifts(before, v.d) {
		if max(s.Was, s.Is) >= leastShown {
			fmt.Fprintf(v, "  %-18s %9s -> %s\n", v.told().Kind(s.Cause.Kind), percent(s.Was), percent(s.Is))
		}
	}
	fmt.Fprintln(v)
}

// brief writes the likeliest causes and the next check below a verdict.
func (v causesView) brief() {
	if v.d.Found == 0 {
		return
	}
	fmt.Fprintln(v, "likely cause:")
	for i, g := range v.d.Groups[:v.d.Found] {
		fmt.Fprintf(v, "%3d. %s\n", i+1, v.Wrap(5, v.told().Cause(g.Causes[0])+", "+percent(g.Probability*g.Causes[0].Weight)+v.orElse(g)))
	}
	for _, p := range v.d.Patterns {
		fmt.Fprintf(v, "     %s\n", v.Wrap(5, v.told().Reading(p.Says())))
	}
	if c := v.d.Check; c != nil {
		fmt.Fprintf(v, "     next: %s\n", v.Wrap(11, v.told().Of(c.Say)))
	}
	fmt.Fprintf(v, "     more: padjig diagnose %s\n\n", v.at)
}

// orElse names what the readings cannot tell from the first cause of a group.
func (v causesView) orElse(g diagnose.Group) string {
	var others []string
	for _, c := range g.Causes[1:] {
		if c.Weight >= leastShown {
			others = append(others, v.told().Kind(c.Kind))
		}
	}
	if len(others) == 0 {
		return ""
	}
	return "; or " + strings.Join(others, ", ")
}
