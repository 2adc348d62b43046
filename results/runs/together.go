package runs

import (
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
	all := History{Serial: h.Serial, InHand: h.InHand, Past: h.Past.With(u, place)}
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
