// Package plant answers questions about many stations together: how each stands, whether one
// yields less than the others, what is due on their jigs, whether they read the same reference units
// alike, which units are in doubt, and where a unit was.
//
// What is asked of the jigs and units of all stations is answered by the questions there are, over the
// records of the plant; here it gets its station.
package plant

import "padjig/results/plant/view"

// jigOf is a jig as the plant's records name it.
func jigOf(serial string, simulated bool) view.Jig {
	return view.Jig{Serial: serial, Simulated: simulated}
}
