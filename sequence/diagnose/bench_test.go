package diagnose

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
	"padjig/results/answers/ratio"
	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/padtest"
)

// board is an 8 x 16 pad of 128 keys with three faults: the largest that is common.
func board(b *testing.B) *subject {
	s := subjectOf(padtest.Matrix(b, 8, 16))
	s.more("C9", 2, 700)
	s.high("6.4", 900)
	s.openFrom("R3", 5)
	return s
}

// BenchmarkSingles scores every single cause of a 128-key board against all its readings,
// and does for one of them in turn what that stands for: the circuit with the fault in it solved
// anew for each of the 128 presses. Both are told for one cause, in processor time.
func BenchmarkSingles(b *testing.B) {
	s := board(b)
	of := suspectsOf(&s.Unit, model.New(&s.Unit))
	causes := of.singles()
	var pairs ratio.Pairs
	for n := 0; b.Loop(); n++ {
		pairs.Take(func() time.Duration {
			return ratio.Processors(func() {
				for _, f := range causes {
					of.scored(f)
				}
			}) / time.Duration(len(causes))
		}, func() time.Duration {
			const step = 101 // so that causes of every kind have their turn
			return ratio.Processors(func() { solvedAnew(b, s, &causes[n*step%len(causes)]) })
		})
	}
	b.ReportMetric(float64(len(causes)), "causes")
	pairs.Report(b, "scored", "anew")
}

// solvedAnew solves the circuit with one cause in it for every press.
func solvedAnew(b *testing.B, s *subject, cause *model.Fault) {
	contact := make([]quantity.Ohm, len(s.Keys))
	for i := range contact {
		contact[i] = quantity.Open
	}
	bench := circuit.Meter{Vref: 5, Switch: 5, Buffer: 5, Input: 10e9, Wiring: s.Product.Wiring()}
	pad := s.Product.Circuit()
	damage(pad, cause)
	for k := range s.Keys {
		contact[k] = 60
		_, err := bench.KeyOhm(pad, contact, k, 100, func(int) circuit.Drive { return circuit.Guard })
		require.NoError(b, err)
		contact[k] = quantity.Open
	}
}

// damage puts a fault into a circuit.
func damage(k *circuit.Keypad, f *model.Fault) {
	switch f.Effect {
	case model.OpenLine:
		k.Break(f.Line, f.After)
	case model.Adds:
		k.AddSeries(f.Line, f.After, ohm(f.Ohm))
	case model.Bridges:
		k.Bridges = append(k.Bridges, circuit.Bridge{
			From: circuit.Place{Line: f.Line}, To: circuit.Place{Line: f.Mate}, R: ohm(f.Ohm),
		})
	}
}

// BenchmarkPairs finds the best explanation of a 128-key board with three faults: every
// pair of causes that explain anything, and the sets grown from them.
func BenchmarkPairs(b *testing.B) {
	s := board(b)
	m := model.New(&s.Unit)
	var found *search
	for b.Loop() {
		found = newSearch(m, suspectsOf(&s.Unit, m).candidates())
		found.run()
	}
	n := len(found.cands)
	b.ReportMetric(float64(n), "plausible")
	b.ReportMetric(float64(n*(n-1)/2), "pairs")
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(time.Millisecond), "ms/all")
}

// BenchmarkDiagnose is all of it, as padjig test does it after a fail.
func BenchmarkDiagnose(b *testing.B) {
	s := board(b)
	for b.Loop() {
		s.diagnose()
	}
}
