package answers

import (
	"slices"

	"padjig/results/stats/sampling"
	"padjig/sequence"
)

// The usual two points of a sampling plan's curve.
var DefaultRisks = Risks{Good: 0.01, Producer: 0.05, Bad: 0.06, Consumer: 0.10}

// SamplingAsked asks how many units of a lot to test.
type SamplingAsked struct {
	Risks      Risks     // the two points of the curve; Good and Bad are looked at for a given plan too
	Plan       Plan      // given, or the zero plan: to be designed
	Lot        int       // units in a lot, 0: not known
	Sequential bool      // also the test unit by unit
	Shares     []float64 // of bad units to show; none: a useful range
}

// Sampling is a single sampling plan with its operating characteristic.
type Sampling struct {
	SamplingAsked
	Producer, Consumer float64 // risks of the plan
	WorstOutgoing      float64 // of a lot after inspection
	WorstAt            float64
	Curve              []SamplingPoint
	Drawn              []SamplingPoint // closer together, for a drawing
	Steps              []SequentialStep
	Line               sampling.Sequential
	Conclusions        []Sentence
}

// SamplingPoint is what becomes of lots with a share of bad units.
type SamplingPoint struct {
	Bad, Accepted               float64
	Outgoing, Tested            float64 // with a lot: bad after inspection, tested a lot
	SequentialAccepted, Average float64 // of the sequential test
}

// SequentialStep is where the numbers of the sequential test change; below 0: none.
type SequentialStep struct{ Tested, Accept, Reject int }

// AskSampling designs a plan, or looks at a given one.
func AskSampling(a SamplingAsked) (Sampling, error) {
	s := Sampling{SamplingAsked: a}
	if a.Plan == (Plan{}) {
		designed, err := a.Risks.Design()
		if err != nil {
			return s, err
		}
		s.Plan = designed
	}
	if err := s.Plan.Check(); err != nil {
		return s, err
	}
	if a.Lot > 0 && a.Lot < s.Plan.N {
		return s, sequence.Wrong("small lot", "a lot of %d is smaller than the sample of %d: test all of it", a.Lot, s.Plan.N)
	}
	s.Producer, s.Consumer = 1-s.Plan.Accepts(a.Risks.Good), s.Plan.Accepts(a.Risks.Bad)
	if a.Lot > 0 {
		s.WorstOutgoing, s.WorstAt = s.Plan.WorstOutgoing(a.Lot)
	}
	if a.Sequential {
		line, err := sampling.NewSequential(a.Risks)
		if err != nil {
			return s, err
		}
		s.Line = line
		s.steps()
	}
	for _, share := range s.shares() {
		s.Curve = append(s.Curve, s.point(share))
	}
	const points = 120
	most := s.Plan.ShareAccepted(0.005)
	for i := range points + 1 {
		share := most * float64(i) / points
		s.Drawn = append(s.Drawn, SamplingPoint{Bad: share, Accepted: s.Plan.Accepts(share)})
	}
	s.Conclusions = s.words()
	return s, nil
}

func (s Sampling) point(share float64) SamplingPoint {
	p := SamplingPoint{Bad: share, Accepted: s.Plan.Accepts(share)}
	if s.Lot > 0 {
		p.Outgoing, p.Tested = s.Plan.Outgoing(share, s.Lot)
	}
	if s.Sequential {
		p.SequentialAccepted, p.Average = s.Line.Exact(share)
	}
	return p
}

// shares of bad units worth showing.
func (s Sampling) shares() []float64 {
	if len(s.Shares) > 0 {
		return s.Shares
	}
	shares := []float64{s.Risks.Good, s.Risks.Bad}
	for _, chance := range []float64{0.99, 0.95, 0.9, 0.75, 0.5, 0.25, 0.1, 0.05, 0.01} {
		shares = append(shares, s.Plan.ShareAccepted(chance))
	}
	slices.Sort(shares)
	return shares
}

func (s *Sampling) steps() {
	last := SequentialStep{0, -2, -2}
	for n := 1; n <= s.Plan.N; n++ {
		accept, reject := s.Line.At(n)
		if step := (SequentialStep{n, accept, reject}); accept != last.Accept || reject != last.Reject {
			s.Steps, last = append(s.Steps, step), step
		}
	}
}

func (s Sampling) words() []Sentence {
	out := []Sentence{Say("sampling.plan", s.Plan.N, s.Plan.Accept, Percent{s.Risks.Good, 2}, Percent{s.Producer, 2},
		Percent{s.Risks.Bad, 2}, Percent{s.Consumer, 2})}
	if s.Consumer > s.Risks.Consumer || s.Producer > s.Risks.Producer {
		out = append(out, Warn("sampling.more", Percent{s.Risks.Producer, 2}, Percent{s.Risks.Consumer, 2}))
	}
	out = append(out, Say("sampling.caution"))
	if s.Sequential {
		out = append(out, Say("sampling.sequential", Number{s.Line.Slope, 4}, Number{s.Line.Below, 3},
			Number{s.Line.Above, 3}))
	}
	return out
}
