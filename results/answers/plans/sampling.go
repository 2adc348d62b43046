// Package plans is the questions that need no record: how many units of a lot to test, and what
// testing again lets through.
package plans

import (
	"math"
	"slices"

	"padjig/results/answers"
	"padjig/results/stats/sampling"
	"padjig/sequence"
)

// The words of package sampling that these questions are told in.
type (
	TestErrors   = sampling.TestErrors
	RetestPolicy = sampling.RetestPolicy
	Risks        = sampling.Risks
	Plan         = sampling.Plan
)

// The usual two points of a sampling plan's curve.
var DefaultRisks = Risks{Good: 0.01, Producer: 0.05, Bad: 0.06, Consumer: 0.10}

// SamplingAsked asks how many units of a lot to test.
type SamplingAsked struct {
	Risks      Risks     // the two points of the curve; Good and Bad are looked at for a given plan too
	Plan       Plan      // given, or the zero plan: to be designed
	Lot        int       // units in a lot, reckoned by what it may hold; 0: endless, from a steady process
	Sequential bool      // also the test unit by unit
	Shares     []float64 // of bad units to show; none: a useful range
}

// Sampling is a single sampling plan with its operating characteristic.
type Sampling struct {
	SamplingAsked
	Producer, Consumer float64      // risks of the plan
	Good, Bad          sampling.Lot // that they are of, where the size of a lot is known
	WorstOutgoing      float64      // of a lot after inspection
	WorstAt            float64
	Curve              []SamplingPoint
	Drawn              []SamplingPoint // closer together, for a drawing
	Steps              []SequentialStep
	Line               sampling.Sequential
	Conclusions        []answers.Sentence
}

// SamplingPoint is what becomes of lots with a share of bad units.
type SamplingPoint struct {
	BadUnits                    int // of a lot of known size
	Bad, Accepted               float64
	Outgoing, Tested            float64 // with a lot: bad after inspection, tested a lot
	SequentialAccepted, Average float64 // of the sequential test
}

// SequentialStep is where the numbers of the sequential test change; below 0: none.
type SequentialStep struct{ Tested, Accept, Reject int }

// AskSampling designs a plan, or looks at a given one.
func AskSampling(a SamplingAsked) (Sampling, error) {
	s := Sampling{SamplingAsked: a}
	if a.Lot > 0 && sampling.CheckSize(a.Lot) != nil {
		return s, sequence.Wrong("lot size", "a lot of %d: write 2 to %d units; a larger one is as good as endless, so leave its size out",
			a.Lot, sampling.MostLot)
	}
	if a.Plan == (Plan{}) {
		designed, err := a.design()
		if err != nil {
			return s, err
		}
		s.Plan = designed
	}
	if err := s.Plan.Check(); err != nil {
		return s, err
	}
	s.Producer, s.Consumer = 1-s.Plan.Accepts(a.Risks.Good), s.Plan.Accepts(a.Risks.Bad)
	if a.Lot > 0 {
		if err := s.ofLots(); err != nil {
			return s, err
		}
	}
	if a.Sequential {
		line, err := sampling.NewSequential(a.Risks)
		if err != nil {
			return s, err
		}
		s.Line = line
		s.steps()
	}
	if s.Lot > 0 {
		s.lotCurve()
	} else {
		s.processCurve()
	}
	s.Conclusions = s.words()
	return s, nil
}

func (a SamplingAsked) design() (Plan, error) {
	if a.Lot > 0 {
		return a.Risks.DesignFor(a.Lot)
	}
	return a.Risks.Design()
}

// ofLots takes the risks of the two lots that they are about: of so few units a share of one
// per cent is a number of them, and what was drawn is not drawn again.
func (s *Sampling) ofLots() error {
	if s.Lot < s.Plan.N {
		return sequence.Wrong("small lot", "a lot of %d is smaller than the sample of %d: test all of it", s.Lot, s.Plan.N)
	}
	s.Good, s.Bad = s.Risks.Lots(s.Lot)
	s.Producer, s.Consumer = 1-s.Plan.Inspect(s.Good).Accepted, s.Plan.Inspect(s.Bad).Accepted
	limit, at := s.Plan.WorstOutgoing(s.Lot)
	s.WorstOutgoing, s.WorstAt = limit, at.Share()
	return nil
}

// points of a curve that is drawn.
const points = 120

func (s *Sampling) processCurve() {
	for _, share := range s.shares() {
		p := SamplingPoint{Bad: share, Accepted: s.Plan.Accepts(share)}
		if s.Sequential {
			p.SequentialAccepted, p.Average = s.Line.Exact(share)
		}
		s.Curve = append(s.Curve, p)
	}
	most := s.Plan.ShareAccepted(0.005)
	for i := range points + 1 {
		share := most * float64(i) / points
		s.Drawn = append(s.Drawn, SamplingPoint{Bad: share, Accepted: s.Plan.Accepts(share)})
	}
}

func (s *Sampling) lotCurve() {
	for _, bad := range s.counts() {
		l := sampling.Lot{Size: s.Lot, Bad: bad}
		p := s.ofLot(l)
		if s.Sequential {
			p.SequentialAccepted, p.Average = s.Line.ExactOf(l)
		}
		s.Curve = append(s.Curve, p)
	}
	most := s.Plan.MostAccepted(s.Lot, 0.005).Bad
	for bad := 0; bad <= most; bad += max(1, most/points) {
		s.Drawn = append(s.Drawn, s.ofLot(sampling.Lot{Size: s.Lot, Bad: bad}))
	}
}

func (s Sampling) ofLot(l sampling.Lot) SamplingPoint {
	of := s.Plan.Inspect(l)
	return SamplingPoint{BadUnits: l.Bad, Bad: l.Share(), Accepted: of.Accepted, Outgoing: of.Outgoing, Tested: of.Tested}
}

// usualChances of acceptance are those whose lots are shown where nobody says which.
var usualChances = []float64{0.99, 0.95, 0.9, 0.75, 0.5, 0.25, 0.1, 0.05, 0.01}

// counts of bad units in a lot worth showing, each once.
func (s Sampling) counts() (out []int) {
	for _, share := range s.Shares {
		out = append(out, int(math.Round(min(1, share)*float64(s.Lot))))
	}
	if out == nil {
		out = []int{s.Good.Bad, s.Bad.Bad}
		for _, chance := range usualChances {
			out = append(out, s.Plan.MostAccepted(s.Lot, chance).Bad)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// shares of bad units worth showing.
func (s Sampling) shares() []float64 {
	if len(s.Shares) > 0 {
		return s.Shares
	}
	shares := []float64{s.Risks.Good, s.Risks.Bad}
	for _, chance := range usualChances {
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

func (s Sampling) words() []answers.Sentence {
	out := []answers.Sentence{answers.Say("sampling.plan", s.Plan.N, s.Plan.Accept, answers.Percent{Value: s.Risks.Good, Digits: 2}, answers.Percent{Value: s.Producer, Digits: 2},
		answers.Percent{Value: s.Risks.Bad, Digits: 2}, answers.Percent{Value: s.Consumer, Digits: 2})}
	if s.Lot > 0 {
		out[0] = answers.Say("sampling.plan.lot", s.Plan.N, s.Lot, s.Plan.Accept, s.Good.Bad, answers.Percent{Value: s.Producer, Digits: 2}, s.Bad.Bad, answers.Percent{Value: s.Consumer, Digits: 2})
	}
	if s.Consumer > s.Risks.Consumer || s.Producer > s.Risks.Producer {
		out = append(out, answers.Warn("sampling.more", answers.Percent{Value: s.Risks.Producer, Digits: 2}, answers.Percent{Value: s.Risks.Consumer, Digits: 2}))
	}
	out = append(out, answers.Say("sampling.caution"))
	if s.Sequential {
		out = append(out, answers.Say("sampling.sequential", answers.Number{Value: s.Line.Slope, Digits: 4}, answers.Number{Value: s.Line.Below, Digits: 3},
			answers.Number{Value: s.Line.Above, Digits: 3}))
	}
	return out
}
