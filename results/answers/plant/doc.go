// Package plant answers questions about many stations together: how each stands, whether one
// yields less than the others, what is due on their jigs, whether they read the same reference units
// alike, which units are in doubt, and where a unit was.
//
// What is asked of the jigs and units of all stations is answered by the questions there are, over the
// records of the plant; here it gets its station.
package plant

import (
	"context"
	"strconv"

	"padjig/results"
	"padjig/results/plant/view"
)

// names are the names of the stations, by the number that groups have.
func names(ctx context.Context, s *results.Store) (map[string]string, error) {
	list, err := s.Plant.Stations(ctx)
	out := map[string]string{}
	for _, one := range list {
		out[strconv.Itoa(one.Member)] = one.Name
	}
	return out, err
}

// jigOf is a jig as the plant's records name it.
func jigOf(serial string, simulated bool) view.Jig {
	return view.Jig{Serial: serial, Simulated: simulated}
}
