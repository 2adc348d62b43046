package returned

import (
	"fmt"
	"slices"
	"time"

	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// Event is something that happened to the unit, by the order of records.
type Event struct {
	At   time.Time
	What string
	Text string

	after int64 // number of the run that came before it, its own for a run
}

// events lists the unit's life up to its disposition.
func (l *Life) events(runs []runs.Stored, starts []runs.Start) {
	for _, r := range runs {
		l.Events = append(l.Events, l.eventOf(r))
	}
	for _, s := range starts {
		l.Events = append(l.Events, begun(s))
	}
	for _, w := range l.Reworks {
		l.Events = append(l.Events, Event{w.Done, "rework", Reworked(w), w.AfterRun})
	}
	in := l.Case.Intake()
	l.Events = append(l.Events, Event{in.Received, "came back", fmt.Sprintf("%s, taken in by %s", in.Complaint, in.By), l.Case.AfterRun})
	for _, n := range l.Case.NoPhotos {
		l.Events = append(l.Events, Event{n.At, "no photo", fmt.Sprintf("%s, by %s", n.Reason, n.By), l.Case.AfterRun})
	}
	for _, u := range l.Case.Unlocks {
		l.Events = append(l.Events, Event{u.At, "override", fmt.Sprintf("tested although damaged: %s, by %s", u.Reason, u.By), l.Case.AfterRun})
	}
	slices.SortStableFunc(l.Events, func(a, b Event) int { return int(a.after - b.after) })
	for _, d := range l.Case.Dispositions {
		text := joined(": ", joined(", ", d.Code, d.Disposal), d.Reason)
		for _, a := range d.Answered {
			text += fmt.Sprintf("; although %s: %s", wording.Words{}.Desk(a.Say()), a.Answer)
		}
		l.Events = append(l.Events, Event{At: d.At, What: "disposition", Text: fmt.Sprintf("%s, by %s", text, d.By)})
	}
}

// begun is a run that has no result.
func begun(s runs.Start) Event {
	what, text := string(s.Purpose), "not finished, and what was found is not known"
	if s.Purpose == sequence.Production {
		what = "tested"
	}
	if s.InHand {
		text = "goes on"
	}
	return Event{s.Started, what, fmt.Sprintf("%s on jig %s", text, s.Jig.Serial), s.AfterRun}
}

func (l *Life) eventOf(r runs.Stored) Event {
	what := string(r.Purpose)
	if r.Purpose == sequence.Production {
		what = "tested"
	}
	text := fmt.Sprintf("%s on jig %s", r.Outcome, r.Jig.Serial)
	if r.Purpose == sequence.Production {
		text += fmt.Sprintf(", attempt %d", r.Attempt)
	}
	if r.Simulated != l.Simulated { // else the page says it for all
		text += map[bool]string{true: ", SIMULATED", false: ", on a real jig"}[r.Simulated]
	}
	if len(r.Findings) > 0 {
		text += ": " + brief(r.Findings)
	}
	return Event{r.Started, what, text, r.Seq}
}

// brief names the worst finding by its place alone.
func brief(findings []sequence.Finding) string {
	f := findings[0]
	text := f.What + " at key " + f.Key
	if f.Key == "" {
		text = f.What + ", " + wording.Words{}.Where(f)
	}
	if more := len(findings) - 1; more > 0 {
		text += fmt.Sprintf(", and %d more", more)
	}
	return text
}

// Reworked says what was done to a unit.
func Reworked(w returns.Rework) string {
	text := w.What
	if w.Where != "" {
		text += " at " + w.Where
	}
	if w.Lot != "" {
		text += ", " + w.Part() + " of lot " + w.Lot
	}
	if w.Note != "" {
		text += " (" + w.Note + ")"
	}
	return text + ", by " + w.By
}
