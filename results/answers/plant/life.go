package plant

import (
	"context"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/plant/view"
)

// Life is what happened to a unit, station by station.
type Life struct {
	Serial      string
	Events      []view.Event // oldest first
	Stations    []string     // in the order in which it came to them
	Conclusions []answers.Sentence
}

// AskLife tells it; of a unit that no station knows there is no event.
func AskLife(ctx context.Context, s *results.Store, serial string) (Life, error) {
	events, err := s.Plant.Life(ctx, serial)
	l := Life{Serial: serial, Events: events}
	runs := 0
	seen := map[string]bool{}
	for _, e := range events {
		if e.Kind == "tested" {
			runs++
		}
		if !seen[e.Station] {
			l.Stations = append(l.Stations, e.Station)
		}
		seen[e.Station] = true
	}
	if len(events) > 0 {
		l.Conclusions = []answers.Sentence{answers.Say("plant.life", serial, runs, len(l.Stations), answers.Names(l.Stations))}
	}
	if err != nil {
		return l, err
	}
	var numbers []int64
	for _, e := range events {
		if e.Run != 0 {
			numbers = append(numbers, e.Run)
		}
	}
	months, err := s.Plant.RetiredOf(ctx, numbers)
	l.Conclusions = append(l.Conclusions, answers.Retired(months)...)
	return l, err
}
