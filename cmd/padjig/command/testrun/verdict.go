package testrun

import (
	"fmt"
	"strings"
	"time"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/station"
	"padjig/fixture/link"
	"padjig/results/fails"
	"padjig/results/report/pad"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
)

// verdict is the end of a test: what became of the unit, and why. The run is
// stored when there is one of these.
type verdict struct {
	terminal.Terminal
	product *product.Product
	run     runs.Stored
	cause   error  // of an aborted run
	at      string // serial number and store, for suggested commands
	owes    bool   // the next unit waits until this one lies where fails go
	earlier readings.Earlier
}

// VerdictOf is the verdict of a run that is stored.
func VerdictOf(t terminal.Terminal, p *product.Product, done station.Done, at string) verdict {
	owes := p.TagsFails() && done.Reference == nil && fails.Owes(done.Run)
	return verdict{t, p, done.Stored, done.Cause, at, owes, done.Earlier}
}

// Print ends with the banner, so that it stands in the same place whatever
// went before and however small the screen is.
func (v verdict) Print() {
	switch v.run.Outcome {
	case sequence.Pass, sequence.NothingFound:
	case sequence.Fail:
		v.pad()
		v.findings()
		v.causes()
		if v.run.Why.Code == sequence.SamePad {
			fmt.Fprintf(v, "  %s\n\n", v.Wrap(2, command.OneLine(v.Why(v.run.Run))))
		}
	default:
		v.reason()
	}
	v.proved()
	if v.owes {
		v.place()
	}
	v.banner()
}

// place says what is to be done with the unit before another one is tested on the jig.
func (v verdict) place() {
	_, store, _ := strings.Cut(v.at, " ")
	fmt.Fprintf(v, "the next unit waits until this one lies in the fail place:\n")
	fmt.Fprintf(v, "  its tag:            padjig unit tag %s\n", v.at)
	fmt.Fprintf(v, "  scan place and tag: padjig unit place --operator NAME%s\n\n", strings.TrimRight(" "+store, " "))
}

// proved says what the run proved; of a harness its reason said it.
func (v verdict) proved() {
	if v.run.Outcome == sequence.HarnessGood {
		return
	}
	for _, text := range []string{v.Words.Proved(v.run.Run), v.Words.Unproved(v.run.Run)} {
		if text != "" {
			fmt.Fprintf(v, "  %s\n", v.Wrap(4, text))
		}
	}
}

// mostAtOnce is how many findings are diagnosed before the verdict's banner: of more it
// can take a second, for which nobody should wait at the line.
const mostAtOnce = 16

// causes says what is likely wrong, physically. The result is stored by now, and nothing
// here can change it.
func (v verdict) causes() {
	if len(v.run.Findings) > mostAtOnce {
		fmt.Fprintf(v, "likely causes: padjig diagnose %s\n\n", v.at)
		return
	}
	d, err := evidence.DiagnoseAfter(v.run.Run, v.product, v.earlier)
	if err == nil {
		causesView{v.Terminal, d, v.at}.brief()
	}
}

// banner is the verdict in word, shape and brightness. A pass stands in a fine
// frame, a fail in a solid block, a good harness between double lines, anything
// else between broken ones.
func (v verdict) banner() {
	const wide = 14
	word := bannerWord(v.run.Run)
	word = fmt.Sprintf("%-*s", wide, strings.Repeat(" ", (wide-len(word))/2)+word)
	facts := v.facts()
	for i, line := range v.shape(word) {
		fmt.Fprintf(v, "%s  %s\n", line, facts[i])
	}
}

// bannerWord is the verdict; an engineering run has none, whatever it found.
func bannerWord(r sequence.Run) string {
	if r.Purpose == sequence.Engineering {
		return "ENGINEERING"
	}
	return strings.ToUpper(string(r.Outcome))
}

func (v verdict) shape(word string) [3]string {
	wide := len(word)
	outcome := v.run.Outcome
	if v.run.Purpose == sequence.Engineering {
		outcome = sequence.NothingFound
	}
	switch outcome {
	case sequence.Pass:
		edge := strings.Repeat("─", wide)
		return [3]string{
			v.In("╭"+edge+"╮", terminal.Bold, terminal.Green), v.In("│"+word+"│", terminal.Bold, terminal.Green),
			v.In("╰"+edge+"╯", terminal.Bold, terminal.Green),
		}
	case sequence.Fail:
		block := strings.Repeat("█", wide+2)
		edge := v.In(block, terminal.Red)
		return [3]string{edge, v.In("██"+word[1:wide-1]+"██", terminal.Bold, terminal.Red), edge}
	}
	if v.run.Outcome == sequence.HarnessGood { // two cables, and nothing closed
		cable := strings.Repeat("═", wide+2)
		return [3]string{v.In(cable, terminal.Cyan), v.In(" "+word+" ", terminal.Bold, terminal.Cyan), v.In(cable, terminal.Cyan)}
	}
	broken := v.In(" "+strings.Repeat("╌", wide)+" ", terminal.Yellow)
	return [3]string{broken, v.In(" "+word+" ", terminal.Bold, terminal.Yellow), broken}
}

func (v verdict) facts() [3]string {
	r := v.run
	facts := [3]string{
		fmt.Sprintf("%s  %s  %s", r.Serial, command.Named(r.Product, r.Revision), v.attempt()),
		fmt.Sprintf("%s on jig %s", command.Seconds(time.Duration(r.Duration)), r.Jig.Serial),
		"stored as " + r.ID.String(),
	}
	if r.Purpose == sequence.Engineering {
		facts[1] += ", " + v.tried()
	}
	if r.Simulated {
		facts[1] += "  " + v.In("SIMULATED", terminal.Bold, terminal.Reverse) + ": no proof of a real unit"
	}
	if r.Actuation == sequence.Electrical {
		facts[2] += "; keys not pressed, jig and harness only"
	}
	return facts
}

func (v verdict) attempt() string {
	switch {
	case v.run.Purpose == sequence.Engineering:
		return "no attempt: the unit still needs its test"
	case v.run.Outcome == sequence.HarnessGood:
		return "no attempt"
	}
	return fmt.Sprintf("attempt %d", v.run.Attempt)
}

// tried says what an engineering run came to.
func (v verdict) tried() string {
	said := string(v.run.Outcome)
	if n := len(v.run.Findings); n > 0 {
		said = command.Count(n, "defect")
	}
	return said
}

// findings lists everything wrong, worst first, as a repairer wants it.
func (v verdict) findings() {
	for i, f := range v.run.Findings {
		fmt.Fprintf(v, "%3d. %s\n", i+1, v.Wrap(5, v.Words.Finding(f)))
		if where := terminals(f); where != "" && !f.At.NamesPins() {
			fmt.Fprintf(v, "     %s\n", v.Wrap(5, where))
		}
	}
	fmt.Fprintln(v)
}

// terminals says where to put the probes of a meter.
func terminals(f sequence.Finding) string {
	if len(f.Lines) == 0 {
		return ""
	}
	pins := strings.Trim(fmt.Sprint(f.Pins), "[]")
	return fmt.Sprintf("%s %s, tail %s %s", plural("line", f.Lines), strings.Join(f.Lines, " and "),
		plural("pin", f.Pins), strings.ReplaceAll(pins, " ", " and "))
}

func plural[T any](what string, of []T) string {
	if len(of) == 1 {
		return what
	}
	return what + "s"
}

// pad draws the pad with the failing keys marked by the number of their
// finding, where the screen is wide enough.
func (v verdict) pad() {
	drawn := pad.OfRun(v.product.Keys, v.run.Keys, v.run.Findings)
	drawn.Pin = "pin"
	text := drawn.Text()
	if !v.Holds(text) {
		return
	}
	fmt.Fprint(v, text, "✗1 failed, see defect 1   · passed   ? not judged\n\n")
}

func (v verdict) reason() {
	if len(v.run.Findings) > 0 {
		fmt.Fprintln(v, "found until then:")
		v.findings()
	}
	fmt.Fprintf(v, "  %s\n", v.Wrap(2, command.OneLine(v.Why(v.run.Run))))
	fmt.Fprintf(v, "  next: %s\n", v.Wrap(8, v.next()))
}

// next is what to do after a run that says nothing of the unit.
func (v verdict) next() string {
	again := "test the unit again; no attempt was used up"
	if v.run.Purpose == sequence.Production && runs.UsesAttempt(v.run.Run) {
		again = "test the unit again; it had found something, so that an attempt was used up"
	}
	if v.run.Why.Code == sequence.SamePad {
		return "whoever is in charge of quality looks at both pads and their labels; no attempt was used up"
	}
	if v.run.Outcome == sequence.HarnessGood {
		return "the test of the unit, with its keys pressed: the same without --actuation electrical; no attempt was used up"
	}
	if v.run.Why.Code == sequence.NotProved && v.run.Purpose == sequence.Production {
		return "test the unit again, or on a jig that can prove what is missing; no attempt was used up"
	}
	if remedy := link.RemedyOf(v.cause); remedy != "" {
		return remedy + "; " + again
	}
	return again
}

// Stage tells what a stage of a returns case found. It shows no verdict: what is
// good here has not passed.
func (v verdict) Stage(number int64) {
	r := v.run
	switch {
	case r.Outcome == sequence.Fail:
		v.pad()
		v.findings()
	case r.Outcome != sequence.Pass && r.Outcome != sequence.Incomplete:
		v.reason()
	}
	said := "nothing found"
	switch r.Outcome {
	case sequence.Fail:
		said = command.Count(len(r.Findings), "finding")
	case sequence.Incomplete:
		said += "; " + command.OneLine(v.Why(r.Run))
	case sequence.Reseat, sequence.Aborted:
		said = string(r.Outcome) + ", to be made again"
	}
	simulated := ""
	if r.Simulated {
		simulated = "  " + v.In("SIMULATED", terminal.Bold, terminal.Reverse)
	}
	fmt.Fprintf(v, "%s of case %d, unit %s%s\n", r.Purpose, number, r.Serial, simulated)
	fmt.Fprintf(v, "  %s\n  stored as %s\n", v.In(v.Wrap(2, said), terminal.Bold), r.ID)
}

// OutcomeWord is what came of a run that is looked at later.
func OutcomeWord(r runs.Stored) string {
	word := strings.ToUpper(string(r.Outcome))
	switch {
	case r.Purpose != sequence.Engineering:
	case r.Outcome == sequence.NothingFound, r.Outcome == sequence.Fail:
		word = bannerWord(r.Run)
	default:
		word = bannerWord(r.Run) + " " + word
	}
	if r.Simulated {
		word += " SIMULATED"
	}
	return word
}
