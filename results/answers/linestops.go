package answers

import (
	"cmp"
	"context"
	"slices"
	"time"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stops"
)

// StopsAsked asks where lines stopped themselves. A stop belongs to the run that met its
// rule; a time chooses the stops that held within it.
type StopsAsked struct{ Selection }

// LineStops is the answer: stops that hold first, then the newest.
type LineStops struct {
	StopsAsked
	Rows        []LineStop
	Conclusions []Sentence
}

// LineStop is a stop, and how long it held, or holds already.
type LineStop struct {
	stops.Stop
	Held time.Duration
}

// AskStops tells of stops. A line that never stopped is an answer, one without a run is none.
func AskStops(ctx context.Context, s *results.Store, a StopsAsked) (LineStops, error) {
	l := LineStops{StopsAsked: a}
	var err error
	if l.Rows, err = a.lineStops(ctx, s); err != nil {
		return l, err
	}
	if len(l.Rows) == 0 {
		if all, err := s.Lines.Yields(ctx, a.Filter); err != nil || all.Total.Runs == 0 {
			return l, cmp.Or(err, a.NoUnits())
		}
	}
	holding := 0
	for _, row := range l.Rows {
		if row.Lifted == nil {
			holding++
			l.Conclusions = append(l.Conclusions, row.Words())
		}
	}
	l.Conclusions = append(l.Conclusions, Say("linestops.words", len(l.Rows), holding))
	return l, nil
}

// Words say that a line, or a unit, is stopped.
func (s LineStop) Words() Sentence {
	if s.Unit != "" {
		return Warn("linestops.unit", int(s.Number), s.Unit, s.Jig, s.Count)
	}
	return Warn("linestops.holds", int(s.Number), s.Jig, s.Product, s.At, Word("stoprule."+string(s.Rule)))
}

func (s Selection) lineStops(ctx context.Context, store *results.Store) (list []LineStop, err error) {
	all, err := store.Stops.List(ctx, s.Filter.Simulated)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	f := s.Filter
	f.From, f.To = time.Time{}, time.Time{}
	var met []int64
	for _, one := range all {
		met = append(met, one.Met.Run)
	}
	chosen, err := store.Lines.Chosen(ctx, f, met)
	if err != nil {
		return nil, err
	}
	now := time.Now()
	for _, one := range all {
		row := LineStop{Stop: one, Held: max(0, now.Sub(one.At)).Round(time.Second)}
		until := now
		if one.Lifted != nil {
			row.Held, until = one.Lifted.Took, one.Lifted.At
		}
		before := !s.Filter.From.IsZero() && !until.After(s.Filter.From)
		after := !s.Filter.To.IsZero() && !one.At.Before(s.Filter.To)
		if slices.Contains(chosen, one.Met.Run) && !before && !after {
			if zone := s.Filter.Zone; zone != nil {
				row.At = row.At.In(zone)
			}
			list = append(list, row)
		}
	}
	return list, nil
}

// Trouble is what went wrong in a shift beside units that failed: what was decided against
// padjig's advice, tests that did not come to their end, and probes without sure contact.
type Trouble struct {
	Stopped    []LineStop // stops that held in the shift
	Overrides  []lines.Override
	Aborted    []lines.Ended // after something was found
	Unfinished []lines.Ended
	Probes     []lines.Probe
}

// trouble looks for it in the times of the selection, whatever shift a run was counted in.
func (s Selection) trouble(ctx context.Context, store *results.Store) (t Trouble, err error) {
	held := s
	held.Filter.Shifts = nil
	if t.Stopped, err = held.lineStops(ctx, store); err != nil {
		return t, err
	}
	if t.Overrides, err = store.Lines.Overrides(ctx, s.Filter); err != nil {
		return t, err
	}
	if t.Aborted, err = store.Lines.AbortedAfterFinding(ctx, s.Filter); err != nil {
		return t, err
	}
	if t.Unfinished, err = store.Lines.Unfinished(ctx, s.Filter); err != nil {
		return t, err
	}
	t.Probes, err = store.Lines.Reseats(ctx, s.Filter)
	return t, err
}
