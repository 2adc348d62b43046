package runs

import (
	"math"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/store"
	"padjig/sequence"
)

// stored gives the run back in the units of the program.
func (r *Record) stored(seq int64) Stored {
	run := sequence.Run{
		Serial:    r.Serial,
		Product:   r.Product,
		Revision:  r.Revision,
		Hash:      r.Hash,
		Jig:       r.Jig,
		Simulated: r.Simulated,
		Actuation: sequence.Actuation(r.Actuation),
		Operator:  r.Operator,
		Attempt:   r.Attempt,
		Started:   time.UnixMicro(r.Started).UTC(),
		Duration:  sequence.Seconds(store.FromMicro(r.Duration)),
		Outcome:   sequence.Outcome(r.Verdict),
		Reason:    r.Reason,
		Steps:     store.Each(r.Steps, stepRow.step),
		Seats:     store.Each(r.Seats, seatRow.seat),
		Keys:      store.Each(r.Keys, KeyRow.result),
		Pairs:     store.Each(r.Pairs, pairRow.pair),
		Findings:  store.Each(r.Findings, FindingRow.finding),
		Purpose:   sequence.Purpose(r.Purpose),
		Case:      r.Case,
		Exercised: store.Each(r.Exercised, exerciseRow.exercise),
		Why:       r.Why,

		Proofs:     r.Proofs,
		Insulation: store.Each(r.Insulation, insulationRow.insulation),
	}
	run.Recall()
	return Stored{ID: r.ID, Seq: seq, Saved: time.UnixMicro(r.Saved).UTC(), Turn: r.turn, Plant: r.plant, Run: run}
}

func (r stepRow) step() sequence.StepDone {
	return sequence.StepDone{Name: r.Name, Done: r.Done, Took: sequence.Seconds(store.FromMicro(r.Took))}
}

func (r seatRow) seat() sequence.Seat {
	return sequence.Seat{Pin: r.Pin, Line: r.Line, Loop: r.Loop.resistance(), Good: r.Good}
}

func (r KeyRow) result() sequence.KeyResult {
	return sequence.KeyResult{
		Key:     r.Key,
		Lines:   r.Lines,
		Verdict: verdict(r.Passed),
		Closed:  read(r.Closed, Ohms.resistance),
		Forward: read(r.Forward, volts.voltage),
		Reverse: read(r.Reverse, Ohms.resistance),
		Make:    read(r.Make, bounce.reading),
		Break:   read(r.Break, bounce.reading),
		Two:     read(r.Two, twoRow.currents),
	}
}

func (r twoRow) currents() fixture.TwoCurrents {
	return fixture.TwoCurrents{Small: r.Small.reading(), Large: r.Large.reading(), Conduction: r.Conduction}
}

func (a atCurrent) reading() fixture.AtCurrent {
	return fixture.AtCurrent{
		Current:    quantity.Ampere(unscale(&a.PicoAmpere, pico)),
		Resistance: Ohms{MilliOhm: &a.MilliOhm, U: a.U}.resistance(),
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
		Forward:  read(r.Forward, Ohms.resistance),
		Backward: read(r.Backward, Ohms.resistance),
		Trend:    sequence.Trend(r.Trend),
	}
}

func (r insulationRow) insulation() sequence.Insulation {
	return sequence.Insulation{Step: r.Step, Feed: r.Feed, Ground: r.Ground, Ohm: r.Ohms.resistance()}
}

func (r exerciseRow) exercise() sequence.KeyExercise {
	return sequence.KeyExercise{
		Key: r.Key, Presses: r.Presses, Misses: r.Misses, High: r.High, Sticks: r.Sticks, First: r.First,
		Least: read(r.Least, Ohms.resistance), Most: read(r.Most, Ohms.resistance),
		Make: sequence.Milliseconds(store.FromMicro(r.Make)), Break: sequence.Milliseconds(store.FromMicro(r.Break)),
		Held: r.Held.reading(), Flexed: r.Flexed.reading(),
	}
}

func (h hold) reading() fixture.Hold {
	return fixture.Hold{
		Watched: store.FromMicro(h.Watched), Openings: h.Opened, Longest: store.FromMicro(h.Longest), AtLeast: h.More,
	}
}

func (r FindingRow) finding() sequence.Finding {
	f := sequence.Finding{
		What: r.What, Place: r.Location, Key: r.Key,
		Value: r.Value, U: r.U, Limit: r.Limit, Unit: r.Unit,
		Lines: append([]string(nil), r.Lines...),
		Pins:  append([]int(nil), r.Pins...),
		At:    r.Site, How: r.How,
	}
	if r.ValueOpen {
		f.Value = new(sequence.Number(math.Inf(1)))
	}
	return f
}
