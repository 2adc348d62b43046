package answers

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"padjig/results"
	"padjig/results/floor"
	"padjig/results/lines"
)

// LotsAsked asks what came of each lot of a material.
type LotsAsked struct {
	Selection
	Material string // one of [results.Materials]; empty: the first
	Key      string // whose readings are told by lot; empty: the first
	Newest   int    // lots; 0: 24
}

// Lots is the answer, in the order in which the lots came.
type Lots struct {
	LotsAsked
	Rows        []YieldRow
	All         int // lots there are
	Differ      *Homogeneity
	Mixed       lines.Mixture
	Readings    []Distribution // of the key, one a lot
	NoReadings  error          // why there are none
	Changes     []lines.Event
	Conclusions []Sentence
}

// AskLots tells lots apart.
func AskLots(ctx context.Context, s *results.Store, a LotsAsked) (Lots, error) {
	a.Material, a.Newest = cmp.Or(a.Material, floor.Materials[0]), cmp.Or(a.Newest, 24)
	if !slices.Contains(floor.Materials, a.Material) {
		return Lots{}, fmt.Errorf("%q is no material: write %s", a.Material, Listed(floor.Materials))
	}
	l := Lots{LotsAsked: a}
	y, err := a.yields(ctx, s, lines.Dimension(a.Material))
	if err != nil {
		return l, err
	}
	if y.Total.Units == 0 {
		return l, a.NoUnits()
	}
	slices.SortStableFunc(y.Rows, func(a, b YieldRow) int { return int(a.FirstRun - b.FirstRun) })
	l.All, l.Mixed, l.Differ = len(y.Rows), y.Mixed, y.Differ
	l.Rows = y.Rows[max(0, len(y.Rows)-a.Newest):]
	if err := l.readings(ctx, s); err != nil {
		return l, err
	}
	if err := l.changes(ctx, s); err != nil {
		return l, err
	}
	l.Conclusions = append(y.differWords(a.Alpha()), Say("lots.words"))
	if len(l.Rows) < l.All {
		l.Conclusions = append(l.Conclusions, Warn("yield.newest", len(l.Rows), l.All))
	}
	return l, nil
}

func (l *Lots) readings(ctx context.Context, s *results.Store) error {
	if l.Key == "" {
		pad, err := s.Lines.Pad(ctx, l.Filter)
		if err != nil {
			return err
		}
		l.Key = pad[0].Label
	}
	histograms, limits, err := s.Lines.GroupHistograms(ctx, l.Filter, lines.Dimension(l.Material), l.Key)
	if err != nil {
		l.NoReadings = err
		return nil
	}
	for _, row := range l.Rows {
		if lot := row.Groups[0]; lot != "" && histograms[lot] != nil {
			l.Readings = append(l.Readings, l.distribution(lot, *histograms[lot], limits))
		}
	}
	return nil
}

// changes lists changeovers, newest first.
func (l *Lots) changes(ctx context.Context, s *results.Store) error {
	clock, err := s.Floor.Clock(ctx)
	if err != nil {
		return err
	}
	list, err := s.Lines.Events(ctx, l.Filter, lines.LotChanged)
	for _, h := range list {
		h.At = h.At.In(clock.Zone())
		l.Changes = append(l.Changes, h)
	}
	slices.Reverse(l.Changes)
	return err
}
