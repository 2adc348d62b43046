package results

import (
	"math"
	"time"

	"padjig/fixture"
	"padjig/sequence"
)

// stored gives the run back in the units of the program.
func (r *record) stored(seq int64) Stored {
	run := sequence.Run{
		Serial:    r.Serial,
		Product:   r.Product,
		Revision:  r.Revision,
		Hash:      r.Hash,
		Jig:       sequence.JigName(r.Jig),
		Simulated: r.Simulated,
		Actuation: sequence.Actuation(r.Actuation),
		Operator:  r.Operator,
		Attempt:   r.Attempt,
		Started:   time.UnixMicro(r.Started).UTC(),
		Duration:  fromMicro(r.Duration),
		Outcome:   sequence.Outcome(r.counts),
		Reason:    r.Reason,
		Steps:     each(r.Steps, stepRow.step),
		Seats:     each(r.Seats, seatRow.seat),
		Keys:      each(r.Keys, keyRow.result),
		Pairs:     each(r.Pairs, pairRow.pair),
		Findings:  each(r.Findings, findingRow.finding),
		Purpose:   sequence.Purpose(r.Purpose),
		Case:      r.Case,
		Exercised: each(r.Exercised, exerciseRow.exercise),
		Why:       r.Why.said(),
	}
	run.Recall()
	return Stored{ID: r.ID, Seq: seq, Saved: time.UnixMicro(r.Saved).UTC(), Turn: r.turn, Run: run}
}

func each[A, B any](list []A, to func(A) B) []B {
	var all []B
	for _, a := range list {
		all = append(all, to(a))
	}
	return all
}

func (r stepRow) step() sequence.StepDone {
	return sequence.StepDone{Name: r.Name, Done: r.Done, Took: fromMicro(r.Took)}
}

func (r seatRow) seat() sequence.Seat {
	return sequence.Seat{Pin: r.Pin, Line: r.Line, Loop: r.Loop.resistance(), Good: r.Good}
}

func (r keyRow) result() sequence.KeyResult {
	return sequence.KeyResult{
		Key:     r.Key,
		Lines:   r.Lines,
		Verdict: verdict(r.Passed),
		Closed:  read(r.Closed, ohms.resistance),
		Forward: read(r.Forward, volts.voltage),
		Reverse: read(r.Reverse, ohms.resistance),
		Make:    read(r.Make, bounce.reading),
		Break:   read(r.Break, bounce.reading),
	}
}

func verdict(passed *bool) sequence.Verdict {
	switch {
	case passed == nil:
		return sequence.KeyUntested
	case *passed:
		return sequence.KeyPass
	}
	return sequence.KeyFail
}

func read[A, B any](a *A, to func(A) B) *B {
	if a == nil {
		return nil
	}
	return new(to(*a))
}

func (r pairRow) pair() sequence.Pair {
	return sequence.Pair{
		Lines: r.Lines, While: r.While, Ohm: r.Ohms.resistance(),
		Forward:  read(r.Forward, ohms.resistance),
		Backward: read(r.Backward, ohms.resistance),
		Trend:    sequence.Trend(r.Trend),
	}
}

func (r exerciseRow) exercise() sequence.KeyExercise {
	return sequence.KeyExercise{
		Key: r.Key, Presses: r.Presses, Misses: r.Misses, High: r.High, Sticks: r.Sticks, First: r.First,
		Least: read(r.Least, ohms.resistance), Most: read(r.Most, ohms.resistance),
		Make: fromMicro(r.Make), Break: fromMicro(r.Break), Held: r.Held.reading(), Flexed: r.Flexed.reading(),
	}
}

func (h hold) reading() fixture.Hold {
	return fixture.Hold{
		Watched: fromMicro(h.Watched), Openings: h.Opened, Longest: fromMicro(h.Longest), AtLeast: h.More,
	}
}

func (r findingRow) finding() sequence.Finding {
	f := sequence.Finding{
		What: r.What, Place: r.Location, Key: r.Key,
		Value: r.Value, U: r.U, Limit: r.Limit, Unit: r.Unit,
		Lines: append([]string(nil), r.Lines...),
		Pins:  append([]int(nil), r.Pins...),
		At:    r.Site.said(), How: each(r.How, fact.said),
	}
	if r.ValueOpen {
		f.Value = new(math.Inf(1))
	}
	return f
}
