package returned

import (
	"slices"
	"strconv"
	"time"

	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/runs/elsewhere"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// DecidedAlone says why a run or start, by what became of its question to the plant, rests on its station alone; empty where
// the plant answered, or there is none. Terminal, pages and report say it so.
func DecidedAlone(w wording.Words, plant string) string {
	if !elsewhere.Word(plant).Alone() {
		return ""
	}
	return w.Refusal(elsewhere.DecidedAlone, []string{plant})
}

// Event is something that happened to the unit, by the order of records.
type Event struct {
	At   time.Time
	What string
	Text string

	after int64 // number of the run that came before it, its own for a run
}

// EventsIn lists the unit's life up to its disposition, in words of a language. What
// people wrote stays as it is.
func EventsIn(l *Life, w wording.Words) (list []Event) {
	add := func(at time.Time, after int64, what sequence.Code, text string) {
		list = append(list, Event{at, happened(w, what), text, after})
	}
	for _, r := range l.made {
		list = append(list, Event{r.Started, tested(w, r.Purpose), madeText(l, w, r), r.Seq})
	}
	for _, s := range l.starts {
		list = append(list, Event{s.Started, tested(w, s.Purpose), begunText(w, s), s.AfterRun})
	}
	for _, r := range l.Reworks {
		add(r.Done, r.AfterRun, "rework", Reworked(r, w))
	}
	in := l.Case.Intake()
	add(in.Received, l.Case.AfterRun, "came back", w.Desk(sequence.Fact("event.came back", in.Complaint, in.By)))
	for _, n := range l.Case.NoPhotos {
		add(n.At, l.Case.AfterRun, "no photo", w.Desk(sequence.Fact("event.by", n.Reason, n.By)))
	}
	for _, u := range l.Case.Unlocks {
		add(u.At, l.Case.AfterRun, "override", w.Desk(sequence.Fact("event.unlocked", u.Reason, u.By)))
	}
	slices.SortStableFunc(list, func(a, b Event) int { return int(a.after - b.after) })
	for _, d := range l.Case.Dispositions {
		add(d.At, 0, "disposition", disposedText(w, d))
	}
	return list
}

// InHand is the start of a stage of the case that lies in a jig now; nil for none.
func InHand(l *Life) *runs.Start {
	for i, s := range l.starts {
		if s.InHand && s.Purpose != sequence.Production {
			return &l.starts[i]
		}
	}
	return nil
}

func disposedText(w wording.Words, d returns.Disposition) string {
	text := joined(": ", Disposed(w, d), d.Reason)
	for _, a := range d.Answered {
		text += w.Desk(sequence.Fact("event.although", w.Desk(a.Say()), a.Answer))
	}
	return w.Desk(sequence.Fact("event.by", text, d.By))
}

// Disposed says what the matter was, and what became of the unit.
func Disposed(w wording.Words, d returns.Disposition) string {
	if d.Disposal == "" {
		return w.Desk(sequence.Fact("event.disposed", d.Code))
	}
	return w.Desk(sequence.Fact("event.disposed", d.Code)) + ", " + w.Desk(sequence.Fact("event.becomes", d.Disposal))
}

func happened(w wording.Words, what sequence.Code) string {
	return w.Desk(sequence.Fact("happened." + what))
}

func tested(w wording.Words, p sequence.Purpose) string {
	if p == sequence.Production {
		return happened(w, "tested")
	}
	return w.Desk(sequence.Fact("happened.stage", string(p)))
}

// begunText is of a run that has no result.
func begunText(w wording.Words, s runs.Start) string {
	what := sequence.Code("event.not finished")
	if s.InHand {
		what = "event.goes on"
	}
	return joined("; ", w.Desk(sequence.Fact(what, s.Jig.Serial)), DecidedAlone(w, s.Plant))
}

func madeText(l *Life, w wording.Words, r runs.Stored) string {
	text := w.Desk(sequence.Fact("event.ended", string(r.Outcome), r.Jig.Serial))
	if r.Purpose == sequence.Production {
		text += w.Desk(sequence.Fact("event.attempt", strconv.Itoa(r.Attempt)))
	}
	if r.Simulated != l.Simulated { // else the page says it for all
		text += w.Desk(sequence.Fact(map[bool]sequence.Code{true: "event.simulated", false: "event.real"}[r.Simulated]))
	}
	if len(r.Findings) > 0 {
		text += ": " + brief(w, r.Findings)
	}
	return joined("; ", text, DecidedAlone(w, r.Plant))
}

// brief names the worst finding by its place alone.
func brief(w wording.Words, findings []sequence.Finding) string {
	f := findings[0]
	text := w.Desk(sequence.Fact("event.at key", w.Term(f.What), f.Key))
	if f.Key == "" {
		text = w.Term(f.What) + ", " + w.Where(f)
	}
	if more := len(findings) - 1; more > 0 {
		text += w.Desk(sequence.Fact("event.more", strconv.Itoa(more)))
	}
	return text
}

// Reworked says what was done to a unit. What is of before there were codes stays as it was written.
func Reworked(r returns.Rework, w wording.Words) string {
	text, where := w.Desk(sequence.Fact("event.deed", r.What)), r.Where
	if r.Deed != "" && r.Place.Kind != returns.AtUnit {
		where = joined(" ", w.Desk(sequence.Fact("event.place", string(r.Place.Kind))), r.Place.Name)
	}
	if where != "" {
		text += w.Desk(sequence.Fact("event.where", where))
	}
	if r.Lot != "" {
		text += w.Desk(sequence.Fact("event.lot", r.Part(), r.Lot))
	}
	if r.Note != "" {
		text += " (" + r.Note + ")"
	}
	return w.Desk(sequence.Fact("event.by", text, r.By))
}
