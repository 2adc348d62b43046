package wording

import "padjig/sequence"

// Desk says a fact of the returns desk: what went away between two stages, and what
// speaks against how a case is to be closed.
func (w Words) Desk(s sequence.Said) string {
	said := sequence.Said{Code: s.Code}
	for _, arg := range s.Args {
		said.Args = append(said.Args, Recorded(w, arg))
	}
	return w.said("desk.", said)
}

// Brief says a finding without its place: what it is, and what was read.
func (w Words) Brief(f sequence.Finding) string {
	if reading := f.Reading(); reading != "" {
		return w.Term(f.What) + ", " + reading
	}
	return w.Term(f.What)
}
