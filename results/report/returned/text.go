package returned

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"padjig/results/report/columns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// Text writes the life of the unit as plain text, lines no longer than wide
// where they can be broken.
func (l *Life) Text(w io.Writer, wide int) error {
	p := &page{to: w, wide: wide}
	p.head(l)
	p.life(l)
	p.keys(l)
	p.insulation(l)
	p.found(l)
	p.causes(l)
	p.alike(l)
	p.end(l)
	return p.err
}

// page writes lines and remembers what went wrong first.
type page struct {
	to   io.Writer
	wide int
	err  error
}

func (p *page) printf(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.to, format, args...)
	}
}

func (p *page) title(text string) { p.printf("\n%s\n", text) }

// item writes text behind a mark, broken lines under its beginning.
func (p *page) item(mark, text string) {
	p.printf("%s%s\n", mark, columns.Fill(strings.Fields(text), p.wide, columns.Width(mark), columns.Width(mark)))
}

func (p *page) head(l *Life) {
	simulated := ""
	if l.Simulated {
		simulated = "   SIMULATED: no proof of a real unit"
	}
	p.printf("returns case %d   unit %s   %s%s\n", l.Case.Number, l.Case.Serial, l.Unit(), simulated)
	p.item("  complaint  ", l.Complaint())
	if seen := l.Seen(); seen != "" {
		p.item("  seen       ", seen)
	}
	p.item("  came back  ", l.CameFrom())
	if n := len(l.Case.Photos); n > 0 {
		p.item("  photos     ", plural(n, "photo"))
	}
	p.item("  result     ", l.ResultLine())
}

func (p *page) life(l *Life) {
	p.title("life")
	for _, e := range l.Events {
		p.item(fmt.Sprintf("  %-21s %-12s ", l.Clock.Zoned(e.At), e.What), e.Text)
	}
}

// keys draws the pad and lists the keys worth a line.
func (p *page) keys(l *Life) {
	if len(l.Keys) == 0 {
		return
	}
	p.title("as shipped and now")
	p.item("  ", l.ShippedLine())
	for _, said := range l.Identified(wording.Words{}) {
		p.item("  ", said)
	}
	if l.First == nil && l.Test == nil {
		return
	}
	p.printf("\n%s", p.drawn(l))
	worth, left := listed(l.Keys)
	if len(worth) > 0 {
		p.table(worth)
	}
	if left > 0 {
		p.item("  ", fmt.Sprintf("%s changed by less; --json has all", plural(left, "more key")))
	}
	if rest := quiet(l.Keys); rest != "" {
		p.item("  ", rest)
	}
}

// insulation is that of the weakest pair of lines, as shipped and now.
func (p *page) insulation(l *Life) {
	if len(l.Weakest) == 0 {
		return
	}
	p.title("insulation as shipped and now, of the pair of lines with the least")
	for _, w := range l.Weakest {
		p.item("  ", w.Line())
	}
}

// notable reports whether a key has something to be said of.
func (k Beside) notable() bool {
	return k.Wrong || k.Thin || k.Change != nil && k.Change.Real()
}

// mostListed is how many keys the table names.
const mostListed = 10

// listed are the keys worth a line: those at fault, those that left with too
// little margin, and those that changed most; and how many are left out.
func listed(all []Beside) (keys []Beside, left int) {
	for _, k := range all {
		if k.notable() {
			keys = append(keys, k)
		}
	}
	slices.SortStableFunc(keys, func(a, b Beside) int { return cmp.Compare(b.weight(), a.weight()) })
	left = max(0, len(keys)-mostListed)
	return keys[:len(keys)-left], left
}

// weight orders keys by how much there is to be said of them.
func (k Beside) weight() float64 {
	w := 0.0
	if k.Change != nil {
		w = math.Abs(float64(k.Change.Value)) / (1 + math.Abs(float64(k.Change.Value)))
	}
	if k.Thin {
		w += 1
	}
	if k.Wrong {
		w += 2
	}
	return w
}

// drawn is the pad with its key to the signs, empty where it is wider than the page.
func (p *page) drawn(l *Life) string {
	drawn := PadOf(l).Text()
	for line := range strings.Lines(drawn) {
		if len([]rune(line)) > p.wide+1 {
			return ""
		}
	}
	return drawn + "✗ found at fault   ~ by one stage, not by the last   ! left with too little margin\n" +
		"+ - changed   · as it was   ? not measured\n"
}

func (p *page) table(keys []Beside) {
	var text bytes.Buffer
	t := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "  key\tshipped, ohm\tfirst press\ttest\tchange\treal\tworst\tbounce, ms\n")
	spread := false
	for _, k := range keys {
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", k.Key, reading(k.Shipped), reading(k.First), reading(k.Test),
			k.changed(), k.real(), k.worstStage(), thenNow(k.MakeThen, k.MakeNow))
		spread = spread || k.real() == "spread"
	}
	t.Flush()
	p.printf("\n")
	for line := range strings.Lines(text.String()) {
		p.printf("%s\n", strings.TrimRight(line, " \n"))
	}
	p.item("  ", "± is the expanded uncertainty, k = 2. A change is real when it is larger; what both readings have in common is "+
		"not taken off, so a change that is called real is one.")
	if spread {
		p.item("  ", "spread: real, but the key reads as much today from one press to the next.")
	}
}

func (k Beside) changed() string {
	if k.Change == nil {
		return "-"
	}
	return k.Change.inOhm()
}

func (k Beside) real() string {
	switch {
	case k.Change == nil:
		return ""
	case !k.Change.Real():
		return "no"
	case k.Spread:
		return "spread"
	}
	return "yes"
}

// worstStage names the stage that read worst, with what it read where no other column has it.
func (k Beside) worstStage() string {
	in := k.Worst()
	switch {
	case in == nil && len(k.Readings) == 0:
		return ""
	case in == nil:
		return "now"
	case in.Stage == sequence.Exercise:
		return "exercise, " + in.short()
	}
	return string(in.Stage)
}

// quiet sums up the keys that changed by less than is known.
func quiet(keys []Beside) string {
	var most *Beside
	count := 0
	for i, k := range keys {
		if k.notable() || k.Change == nil {
			continue
		}
		count++
		if most == nil || math.Abs(float64(k.Change.Value)) > math.Abs(float64(most.Change.Value)) {
			most = &keys[i]
		}
	}
	if most == nil {
		return ""
	}
	return fmt.Sprintf("%s read as shipped, within uncertainty; the most is %v at %s", plural(count, "other key"), most.Change, most.Key)
}

func (p *page) found(l *Life) {
	p.title("what was found, and by which stage")
	if len(l.Findings) == 0 {
		p.item("  ", l.FoundLine())
	}
	for _, f := range l.Findings {
		p.item(fmt.Sprintf("  %-12s - ", f.Stage), wording.Words{}.Finding(f.Finding))
	}
	for _, gone := range Went(l.Gone, wording.Words{}) {
		p.item("  went away    - ", gone)
	}
	if l.Bound != nil {
		p.item("  exercise     - ", l.Bound.String())
	}
	for _, line := range held(l.Exercise) {
		p.item("  ", line)
	}
	for _, why := range l.Against() {
		p.item("  ! ", why)
	}
}

// held says how long keys were held and watched.
func held(exercise *runs.Stored) (said []string) {
	if exercise == nil {
		return nil
	}
	for _, part := range []struct {
		say   string
		watch func(int) (seconds float64, openings int)
	}{
		{"held closed and watched", func(i int) (float64, int) {
			h := exercise.Exercised[i].Held
			return h.Watched.Seconds(), h.Openings
		}},
		{"held and watched while the tail was moved", func(i int) (float64, int) {
			h := exercise.Exercised[i].Flexed
			return h.Watched.Seconds(), h.Openings
		}},
	} {
		keys, openings, most := 0, 0, 0.0
		for i := range exercise.Exercised {
			seconds, opened := part.watch(i)
			if seconds > 0 {
				keys, openings, most = keys+1, openings+opened, max(most, seconds)
			}
		}
		if keys > 0 {
			said = append(said, fmt.Sprintf("%s %s for %.3g s each: %s", plural(keys, "key"), part.say, most, plural(openings, "opening")))
		}
	}
	return said
}

func (p *page) causes(l *Life) {
	if len(l.Groups) == 0 {
		return
	}
	p.title("likely causes")
	for i, g := range l.Groups {
		if len(g.Causes) == 0 || i > 0 && g.Probability < leastShown {
			continue
		}
		p.item(fmt.Sprintf("  %d. %3.0f %%  ", i+1, 100*g.Probability), g.say())
		for _, side := range []struct {
			word string
			list []Speaks
		}{{"for", g.For}, {"against", g.Against}} {
			if text := sayAll(side.list); text != "" {
				p.item(fmt.Sprintf("            %-8s", side.word), text)
			}
		}
	}
	if check := l.Groups[0].next(); check != "" {
		p.item("  next check  ", check)
	}
}

// leastShown is the probability below which a rival is not worth a line.
const leastShown = 0.005

// say names the causes of a group, which the readings cannot tell apart; a
// place that they share is said once.
func (g Group) say() string {
	shown := g.Causes[:min(len(g.Causes), 3)]
	var text strings.Builder
	for i, c := range shown {
		if i > 0 {
			text.WriteString(", or ")
		}
		text.WriteString(c.Cause)
		if c.OfJig {
			text.WriteString(" (the jig, not the unit)")
		}
		if i == len(shown)-1 || shown[i+1].Place != c.Place {
			text.WriteString(": " + c.Place)
		}
	}
	return text.String()
}

// next is the check that would tell most.
func (g Group) next() string {
	if g.Check != "" || len(g.Causes) == 0 {
		return g.Check
	}
	return g.Causes[0].Remedy
}

func sayAll(list []Speaks) string {
	var said []string
	for _, s := range list[:min(len(list), 3)] {
		said = append(said, s.Reading)
	}
	return strings.Join(said, "; ")
}

func (p *page) alike(l *Life) {
	if len(l.Findings) == 0 || l.Shipped == nil && len(l.Alike) == 0 {
		return
	}
	p.title("other units with something at the same place")
	if len(l.Alike) == 0 {
		p.item("  ", "none of the same jig and shift, none of the same lot, none that came back")
	}
	for _, a := range l.Alike {
		p.item(fmt.Sprintf("  %-14s ", a.Serial), fmt.Sprintf("%s: %s, %s (%s)", a.What, a.Location, l.Clock.Day(a.Started), strings.Join(a.Why, ", ")))
	}
}

func (p *page) end(l *Life) {
	p.title("next")
	if !l.Case.Closed() {
		for _, o := range l.Offers {
			p.item("  offered: ", fmt.Sprintf("%s, since %s", o.Disposition, o.Why))
		}
	}
	next := l.Next()
	p.item("  ", next.Say)
	p.printf("    %s\n", next.Command)
}
