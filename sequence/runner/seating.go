package runner

import (
	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/prove"
)

// loopsPerRoutine keeps the readings of one exchange within a frame.
const loopsPerRoutine = 20

// seating shows that each tail pin touches its channel.
func (m routines) seating(shown prove.Shown, note func([]sequence.Seat)) []exchange {
	channels := min(len(m.set.Product.Tail)+judge.Beyond, m.set.Jig.Channels)
	var loops []fixture.Resistance
	var out []exchange
	for first := 0; first < channels; first += loopsPerRoutine {
		routine := m.routine()
		count := min(loopsPerRoutine, channels-first)
		for c := range count {
			routine.Loop(first+c, m.set.Loop, samplesGlance)
		}
		out = append(out, exchange{routine, func(d fixture.Done) error {
			for s := range count {
				loops = append(loops, d.Resistance(fixture.Slot(s)))
			}
			if len(loops) < channels {
				return nil
			}
			seats, why := judge.Seats(m.set.Jig, m.set.Product, loops)
			note(seats)
			for _, s := range seats {
				if s.Good && s.Line != "" {
					shown.Note(prove.Seating, s.Pin)
				}
			}
			if why.Code != "" {
				return ended{sequence.Reseat, why}
			}
			return nil
		}})
	}
	return out
}
