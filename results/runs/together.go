package runs

import (
	"cmp"

	"padjig/results/runs/elsewhere"
	"padjig/sequence"
)

// With is the history of a unit here and at other stations together, counted by the one rule over all of its runs in a row.
// Numbers of runs in it are places in that row. It says what may be refused besides: who decides asks h
// first, so that nothing of another station lifts what this one refuses.
func (h History) With(u *elsewhere.Unit) History {
	if u == nil {
		return h
	}
	own := make([]elsewhere.Own, len(h.runs))
	for i, run := range h.runs {
		own[i] = elsewhere.Own{ID: run.id, Seq: run.seq, At: run.saved}
	}
	line := u.Line(own)
	place := func(p elsewhere.Point) elsewhere.Point {
		return elsewhere.Point{After: elsewhere.Behind(line, p), At: p.At}
	}
	all := History{Serial: h.Serial, InHand: h.InHand, Past: h.Past.with(u, place)}
	for i, at := range line {
		run := past{}
		if at.Own >= 0 {
			run = h.runs[at.Own]
		} else {
			o := u.Runs[at.Other]
			run = past{
				product: o.Product, label: o.Label, simulated: o.Simulated, outcome: o.Outcome, attempt: o.Attempt,
				findings: o.Findings, ended: o.Ended, id: o.ID, saved: o.At, station: o.Station,
			}
		}
		run.seq = int64(i) + 1
		all.runs = append(all.runs, run)
	}
	for _, s := range h.starts {
		s.AfterRun = place(elsewhere.Point{After: s.AfterRun, At: s.Started}).After
		all.starts = append(all.starts, s)
	}
	for _, o := range u.Starts {
		all.starts = append(all.starts, Start{
			Product: o.Product, Simulated: o.Simulated, Actuation: o.Actuation, Purpose: sequence.Production, Attempt: o.Attempt,
			Started: o.At, AfterRun: place(elsewhere.At(o.At)).After, closed: o.Closed, station: o.Station,
		})
	}
	all.sum()
	return all
}

// with is what desks and repair of all stations say, at places in the row of all runs.
func (p Past) with(u *elsewhere.Unit, place func(elsewhere.Point) elsewhere.Point) Past {
	all := p
	all.Back, all.Reworks, all.Decided = map[bool]elsewhere.Point{}, nil, place(p.Decided)
	later := func(a, b elsewhere.Point) elsewhere.Point {
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
		all.Reworks = append(all.Reworks, place(elsewhere.At(at)))
	}
	for _, at := range u.Decided {
		all.Decided = later(all.Decided, place(elsewhere.At(at)))
	}
	for _, c := range u.Cases {
		for simulated, on := range map[bool]bool{false: c.Real || !c.Sim, true: c.Sim || !c.Real} {
			if on && c.Back {
				all.Back[simulated] = later(all.Back[simulated], place(elsewhere.At(c.At)))
			}
		}
	}
	if c := u.Newest(); c != nil && !p.Open && (c.Open || p.Case == 0 || c.At.After(p.Closed)) {
		all.Case, all.Station, all.Open, all.Disposal, all.Closed = c.Number, c.Station, c.Open, c.Disposal, c.At
	}
	return all
}
