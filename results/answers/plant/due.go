package plant

import (
	"context"

	"padjig/results"
	"padjig/results/answers/upkeep"
)

// Due is how the jigs of all stations stand, each with its station: those that need something
// done first, as [upkeep.Of] has it.
type Due struct {
	upkeep.Upkeep
	Stations []string // of each jig; empty where none is known
}

// AskDue tells of them.
func AskDue(ctx context.Context, s *results.Store, a upkeep.Asked) (Due, error) {
	all, err := upkeep.Of(ctx, s, a)
	if err != nil {
		return Due{}, err
	}
	places, err := s.Plant.Places(ctx)
	d := Due{Upkeep: all}
	for _, j := range all.Jigs {
		d.Stations = append(d.Stations, places[jigOf(j.Jig.Serial, j.Simulated)])
	}
	return d, err
}
