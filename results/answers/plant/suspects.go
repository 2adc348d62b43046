package plant

import (
	"cmp"
	"context"
	"slices"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/care"
	"padjig/results/store"
)

// SuspectsAsked asks which units were tested on jigs, real or simulated, that were found out of tolerance.
type SuspectsAsked struct {
	Simulated bool
	Cleared   bool // also those that passed since on a jig that was good
}

// Suspects are the units in doubt at all stations: those that were shipped first, of these the one
// nearest to its limit.
type Suspects struct {
	SuspectsAsked
	Rows        []Suspect
	Jigs        int // that failed a verification
	Conclusions []answers.Sentence
}

// Suspect is a unit in doubt because of a jig.
type Suspect struct {
	care.Suspect
	Station, Jig string
	Window       int  // of the jig
	Open         bool // the jig was not good again yet
}

// AskSuspects looks for them on every jig that ever failed a verification.
func AskSuspects(ctx context.Context, s *results.Store, a SuspectsAsked) (Suspects, error) {
	out := Suspects{SuspectsAsked: a}
	places, err := s.Plant.Places(ctx)
	if err != nil {
		return out, err
	}
	jigs, err := s.Plant.FailedJigs(ctx, a.Simulated)
	if err != nil {
		return out, err
	}
	out.Jigs = len(jigs)
	cleared := 0
	for _, jig := range jigs {
		windows, err := s.Care.Suspects(ctx, jig, a.Simulated)
		if err != nil {
			return out, err
		}
		for _, w := range windows {
			if len(w.Failed) == 0 {
				continue // it is good as far as is known
			}
			for _, u := range w.Units {
				if u.Cleared != nil {
					cleared++
					if !a.Cleared {
						continue
					}
				}
				out.Rows = append(out.Rows, Suspect{u, places[jigOf(jig, a.Simulated)], jig, w.Number, w.Open()})
			}
		}
	}
	slices.SortStableFunc(out.Rows, func(a, b Suspect) int {
		return cmp.Or(flag(a.Cleared != nil)-flag(b.Cleared != nil), flag(b.Left())-flag(a.Left()), flag(a.Key == "")-flag(b.Key == ""),
			cmp.Compare(a.OfLimit(), b.OfLimit()))
	})
	out.Conclusions = out.words(cleared)
	months, err := s.Plant.RetiredOf(ctx, store.Each(out.Rows, func(u Suspect) int64 { return u.LastRun() }))
	out.Conclusions = append(out.Conclusions, answers.Retired(months)...) // how near to its limit such a unit was is not known
	return out, err
}

func (s Suspects) words(cleared int) []answers.Sentence {
	if s.Jigs == 0 {
		return []answers.Sentence{answers.Say("plant.suspects.nojig")}
	}
	var to answers.Names
	doubt, left := 0, 0
	for _, u := range s.Rows {
		if u.Cleared != nil {
			continue
		}
		doubt++
		if u.Left() {
			left++
			if name := u.Shipment.Consignee; name != "" && !slices.Contains(to, name) {
				to = append(to, name)
			}
		}
	}
	if doubt == 0 {
		return []answers.Sentence{answers.Say("plant.suspects.none", s.Jigs, cleared)}
	}
	slices.Sort(to)
	out := []answers.Sentence{answers.Warn("plant.suspects", doubt, s.Jigs, cleared)}
	switch {
	case left > 0 && len(to) > 0:
		out = append(out, answers.Warn("plant.suspects.shipped", left, to))
	case left > 0:
		out = append(out, answers.Warn("plant.suspects.somewhere", left))
	}
	return out
}
