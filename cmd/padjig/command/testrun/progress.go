package testrun

import (
	"fmt"
	"strings"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/fixture/quantity"
	"padjig/results/report/pad"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/runner"
)

// progress shows a run on standard error: each step as it is done and, on a
// terminal, the pad filling in or a bar where the pad would not fit. It shows
// no verdict.
type progress struct {
	terminal.Terminal
	store string        // path of the records
	of    *returns.Case // returns case, nil for production

	plan    *runner.Plan
	current sequence.Progress
	labels  map[string]int
	pad     pad.Pad
	drawn   int    // lines on the terminal that are to be redrawn
	asked   string // what a person who presses keys is to do now, on a terminal
}

func (p *progress) Begin(plan *runner.Plan, unit sequence.Unit, limit int) {
	p.plan, p.labels = plan, map[string]int{}
	p.pad = pad.Of(plan.Product.Keys, pad.Waiting)
	for k, key := range plan.Product.Keys {
		p.labels[key.Label] = k
	}
	what := fmt.Sprintf("attempt %d of %d", unit.Attempt, limit)
	if p.of != nil {
		what = fmt.Sprintf("%s of returns case %d", plan.Purpose, p.of.Number)
	}
	if plan.Purpose == sequence.Engineering {
		what = "ENGINEERING: no attempt, and no production test"
	}
	fmt.Fprintf(p, "unit %s, %s, %s\n", unit.Serial, command.Named(plan.Product.Code, plan.Product.Revision), what)
	fmt.Fprintf(p, "jig %s%s, keys pressed %s\n", plan.Jig.Serial, p.simulated(), command.PressWord(plan.Actuation))
	fmt.Fprintf(p, "records in %s\n", p.store)
	if plan.Purpose != sequence.Exercise {
		return
	}
	for _, s := range plan.Steps {
		if len(s.Keys) > 0 {
			fmt.Fprintf(p, "%s: %s\n", s.Name, p.Wrap(len(s.Name)+2, s.Does))
		}
	}
}

func (p *progress) simulated() string {
	if p.plan.Jig.Simulated {
		return p.In(" SIMULATED", terminal.Bold)
	}
	return ""
}

func (p *progress) Step(now sequence.Progress) {
	if now.Step.Name != p.current.Step.Name {
		p.finish("done")
		p.asked = ""
	}
	p.current = now
	if now.Key != nil && now.Key.Verdict != sequence.KeyUntested {
		p.pad.Keys[p.labels[now.Key.Key]].State = pad.StateOf(now.Key.Verdict)
	}
	switch {
	case now.Ask.Code != "" && p.Live:
		p.asked = now.Prompt // it goes when it no longer holds
	case now.Key != nil && !p.Live && (p.plan.Actuation == sequence.Hand || p.plan.Purpose == sequence.Exercise):
		// A person waits to hear that the press counted, or that it goes on.
		fmt.Fprintf(p, "  %s, %d of %d%s\n", p.latest(), now.Done, now.Total, after(", ", now.Prompt))
	case now.Prompt != "":
		p.say(now.Prompt)
	}
	p.draw()
}

// after is a text with what stands before it, where there is one.
func after(before, text string) string {
	if text == "" {
		return ""
	}
	return before + text
}

// say prints a line that stays.
func (p *progress) say(text string) {
	fmt.Fprintf(p, "%s  %s\n", p.eraser(), p.In(p.Wrap(2, text), terminal.Bold))
}

// finish ends the line of the current step.
func (p *progress) finish(how string) {
	if p.current.Step.Name == "" {
		return
	}
	if p.current.Total > 0 {
		how = fmt.Sprintf("%s, %d of %s", how, p.current.Done, command.Count(p.current.Total, "key"))
	}
	fmt.Fprintf(p, "%s  %-13s %s\n", p.eraser(), p.current.Step.Name, how)
}

func (p *progress) End(run sequence.Run) {
	how := "done"
	for _, s := range run.Steps {
		if s.Name == p.current.Step.Name && !s.Done {
			how = "not finished"
		}
	}
	p.finish(how)
	fmt.Fprintln(p)
}

// eraser is what takes away what draw has drawn. It goes out in one write with
// what comes in its place, so that nothing flickers.
func (p *progress) eraser() string {
	up := p.Up(p.drawn)
	p.drawn = 0
	return up
}

// draw shows how far the current step is, on a terminal only.
func (p *progress) draw() {
	if !p.Live {
		return
	}
	text := p.line() + "\n"
	if p.asked != "" {
		text += "  " + p.In(p.Wrap(2, p.asked), terminal.Bold) + "\n"
	}
	if p.current.Total > 0 {
		if pad := p.pad.Text(); p.fits(pad) {
			text = pad + text
		}
	}
	fmt.Fprint(p, p.eraser()+text)
	p.drawn = strings.Count(text, "\n")
}

// linesAround is what stands above and below the pad: three lines of header,
// the steps, the current line, and what a person is asked.
const linesAround = 11

func (p *progress) fits(pad string) bool {
	return strings.Count(pad, "\n")+linesAround < p.High && p.Holds(pad)
}

// Bar is how far a step with keys is.
func Bar(p sequence.Progress) string {
	const wide = 24
	full := wide * p.Done / p.Total
	return strings.Repeat("█", full) + strings.Repeat("░", wide-full)
}

func (p *progress) line() string {
	name := fmt.Sprintf("  %-13s ", p.current.Step.Name)
	if p.current.Total == 0 {
		return name + "..."
	}
	return fmt.Sprintf("%s%s %d of %d  %s%s", name, Bar(p.current), p.current.Done, p.current.Total, p.latest(), p.left())
}

// left is about how long an exercise still takes.
func (p *progress) left() string {
	if p.current.Left <= 0 {
		return ""
	}
	return "  " + terminal.Left(p.current.Left)
}

// latest is the key just done, with its value.
func (p *progress) latest() string {
	k := p.current.Key
	switch {
	case p.current.Press > 0:
		return fmt.Sprintf("press %d", p.current.Press)
	case k == nil:
		return ""
	}
	if k.Closed == nil || k.Closed.AtLeast {
		return k.Key
	}
	return k.Key + " " + quantity.Ohm(k.Closed.Value).String()
}

// PromptsOnly shows what a person must do, and nothing else.
type PromptsOnly struct{ terminal.Terminal }

func (p PromptsOnly) Begin(*runner.Plan, sequence.Unit, int) {}
func (p PromptsOnly) End(sequence.Run)                       {}

func (p PromptsOnly) Step(now sequence.Progress) {
	switch {
	case now.Ask.Code == sequence.AskNext, now.Ask.Code == sequence.AskHandsOff:
		fmt.Fprintf(p, "%d of %d, %s\n", now.Done, now.Total, now.Prompt)
	case now.Prompt != "":
		fmt.Fprintln(p, now.Prompt)
	}
}
