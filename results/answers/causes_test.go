package answers

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"padjig/results/lines"
	"padjig/results/stats/reference"
	"padjig/results/stops"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Jigs alike, and every place as likely on each: chance alone blames any of them in fewer than
// one table of twenty, be findings rare or frequent, jigs few or many, busy alike or not.
func TestClaimOfPlacesOnJigs(t *testing.T) {
	source := rand.New(rand.NewPCG(41, 0))
	for _, c := range []struct {
		jigs   []int // units on each
		places int
		rate   float64
	}{
		{[]int{300, 300, 300, 300}, 40, 0.002}, {[]int{300, 300, 300, 300}, 40, 0.01}, {[]int{120, 120}, 20, 0.03},
		{[]int{1000, 100, 100}, 60, 0.003}, {[]int{200, 200, 200, 200, 200, 200, 200, 200, 200, 200}, 60, 0.001},
	} {
		blamed, cases := 0, reference.Cases(500)
		for range cases {
			places, _ := Selection{}.onJigs(byChance(source, c.jigs, c.places, c.rate), LeastHits)
			for _, p := range places {
				if p.Local {
					blamed++
					break
				}
			}
		}
		reference.AtMost(t, 0.05, blamed, cases, c)
	}
}

func byChance(source *rand.Rand, jigs []int, places int, rate float64) (out []lines.PlaceOnJig) {
	units := 0
	for _, n := range jigs {
		units += n
	}
	for place := range places {
		hits, all := make([]int, len(jigs)), 0
		for jig, n := range jigs {
			for range n {
				if source.Float64() < rate {
					hits[jig]++
					all++
				}
			}
		}
		for jig, n := range jigs {
			out = append(out, lines.PlaceOnJig{Name: fmt.Sprint("place ", place), Jig: fmt.Sprint("J-", jig), Hits: hits[jig], Units: n,
				OtherHits: all - hits[jig], OtherUnits: units - n})
		}
	}
	return out
}

// How often a line in order stops itself in a shift, by the rules of the line themselves: units
// pass, fail alike and are reseated by chance, after as many as the rules look back on. Of one
// window the chance would be a hundred times less.
func TestClaimOfFalseStops(t *testing.T) {
	source := rand.New(rand.NewPCG(43, 0))
	stopped := func(rules product.Stops, yield, reseats float64) (n, cases int) {
		cases = reference.Cases(250)
		before := max(rules.Of, rules.SameFinding, rules.Unseated) - 1
		for range cases {
			var list []stops.Run
			for unit := range before + ShiftUnits {
				run := stops.Run{Seq: int64(len(list) + 1), Unit: fmt.Sprint(unit), Outcome: sequence.Reseat}
				if source.Float64() < reseats {
					list = append(list, run)
				}
				run.Seq, run.Outcome, run.First, run.Attempt = int64(len(list)+1), sequence.Pass, true, 1
				if source.Float64() >= yield {
					run.Outcome, run.Faults = sequence.Fail, []stops.Fault{{Finding: "key open", Key: "7"}}
				}
				list = append(list, run)
			}
			if stops.OfLine(rules, list) != nil {
				n++
			}
		}
		return n, cases
	}
	usual := product.UsualStops()
	for _, yield := range []float64{0.95, GoodYield} {
		said := RuleOf(usual).InShift(yield, ShiftUnits)
		n, cases := stopped(product.Stops{SameFinding: usual.SameFinding}, yield, 0)
		reference.Exactly(t, said.SameRun, n, cases, "fails alike", yield)
		n, cases = stopped(product.Stops{Yield: usual.Yield, Of: usual.Of}, yield, 0)
		reference.Exactly(t, said.Yield, n, cases, "yield", yield)
		n, cases = stopped(product.Stops{Yield: usual.Yield, Of: usual.Of, SameFinding: usual.SameFinding}, yield, 0)
		reference.AtMost(t, said.Any, n, cases, "both", yield)
	}
	for row := range 4 {
		n, cases := stopped(product.Stops{Unseated: row + 2}, 1, GoodReseats)
		reference.Exactly(t, falseReseats(row+2), n, cases, "reseated in a row", row+2)
	}
}
