package answers

import (
	"context"

	"padjig/results"
	"padjig/results/lines"
)

// OverviewAsked asks where to look first.
type OverviewAsked struct{ Selection }

// Overview is every product with its yield, day by day, and what needs attention.
type Overview struct {
	OverviewAsked
	Products    []YieldRow // by product and revision
	Total       YieldRow
	Days        []YieldRow // the newest
	Stops       Stops
	Local       []Place // places that are one jig's own
	Conclusions []Sentence
	Attention   []Sentence
}

// mostDays is how many days an overview shows, the newest; mostAttention how
// many sentences ask for attention.
const mostDays, mostAttention = 92, 8

// AskOverview looks at everything.
func AskOverview(ctx context.Context, s *results.Store, a OverviewAsked) (Overview, error) {
	o := Overview{OverviewAsked: a}
	y, err := a.yields(ctx, s, lines.ByProduct, lines.ByRevision)
	if err != nil {
		return o, err
	}
	if y.Total.Units == 0 {
		return o, a.NoUnits()
	}
	o.Products, o.Total = y.Rows, y.Total
	if o.Days, err = a.Days(ctx, s); err != nil {
		return o, err
	}
	if o.Stops, err = a.stops(ctx, s, StopRule{}, 0, o.Total.First.Value); err != nil {
		return o, err
	}
	places, err := a.placesOnJigs(ctx, s, LeastHits)
	if err != nil {
		return o, err
	}
	for _, p := range places {
		if p.Local {
			o.Local = append(o.Local, p)
		}
	}
	o.Attention = o.attention()
	o.Conclusions = append(totalWords(o.Total), o.Attention...)
	return o, nil
}

// Days tells yields apart by the days of the plant, the newest ones.
func (s Selection) Days(ctx context.Context, store *results.Store) (out []YieldRow, err error) {
	plan, err := store.Floor.Shifts(ctx)
	if err != nil {
		return nil, err
	}
	y, err := store.Lines.Days(ctx, s.Filter, ZoneOf(plan))
	for _, row := range y.Rows[max(0, len(y.Rows)-mostDays):] {
		out = append(out, s.yieldRow(row))
	}
	return out, err
}

func (o Overview) attention() []Sentence {
	var out []Sentence
	for _, stop := range o.Stops.Met {
		out = append(out, stop.Words(o.Stops.Rule))
	}
	for _, p := range o.Local {
		out = append(out, p.Words())
	}
	if len(out) == 0 {
		return []Sentence{Say("overview.calm")}
	}
	return out[:min(len(out), mostAttention)]
}
