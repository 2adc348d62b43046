package elsewhere

import (
	"cmp"
	"time"
)

// Past is what the returns desk and repair say of a unit. Within a station all of it goes by the
// order of records, and none of it by a clock: that is for runs of other stations alone.
type Past struct {
	Case     int64          // number of its newest returns case, 0 for none
	Station  string         // where that is; empty: here
	Open     bool           // that is open
	Disposal string         // what became of the unit when it was closed; empty: open, or not said
	Closed   time.Time      // when that was
	Back     map[bool]Point // by whether on simulated jigs: when it last went back to production
	Reworks  []Point
	Decided  Point // when an engineer last decided that it is tested once more
}

// With is what desks and repair of all stations say, at places in the row of all runs.
func (p Past) With(u *Unit, place func(Point) Point) Past {
	all := p
	all.Back, all.Reworks, all.Decided = map[bool]Point{}, nil, place(p.Decided)
	later := func(a, b Point) Point {
		if cmp.Compare(a.After, b.After) < 0 {
			return b
		}
		return a
	}
	for simulated, back := range p.Back {
		all.Back[simulated] = place(back)
	}
	for _, r := range p.Reworks {
		all.Reworks = append(all.Reworks, place(r))
	}
	for _, at := range u.Reworks {
		all.Reworks = append(all.Reworks, place(At(at)))
	}
	for _, at := range u.Decided {
		all.Decided = later(all.Decided, place(At(at)))
	}
	for _, c := range u.Cases {
		for simulated, on := range map[bool]bool{false: c.Real || !c.Sim, true: c.Sim || !c.Real} {
			if on && c.Back {
				all.Back[simulated] = later(all.Back[simulated], place(At(c.At)))
			}
		}
	}
	if c := u.Newest(); c != nil && !p.Open && (c.Open || p.Case == 0 || c.At.After(p.Closed)) {
		all.Case, all.Station, all.Open, all.Disposal, all.Closed = c.Number, c.Station, c.Open, c.Disposal, c.At
	}
	return all
}
