package samepad_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence/samepad"
)

var (
	plants   = flag.Int("padplants", 2, "simulated plants of each sort")
	perPlant = flag.Int("padplantunits", 120, "units of each simulated plant")
)

// sort is a sort of plant: nothing of it is a constant of the package.
type plantSort struct {
	name   string
	keys   int
	make   func(r *rand.Rand, keys, number int) []float64
	bias   func(r *rand.Rand, key int) float64 // of a jig, as a logarithm
	wear   func(r *rand.Rand, key int) float64 // between the two tests
	checks int                                 // of each of two reference units, on each jig
	lots   bool                                // each station makes lots of its own
	harm   func(r *rand.Rand, read samepad.Pad)
}

func uniform(to float64) func(*rand.Rand, int) float64 {
	return func(r *rand.Rand, _ int) float64 { return to * (2*r.Float64() - 1) }
}

func skewed(scale float64) func(*rand.Rand, int) float64 {
	return func(r *rand.Rand, _ int) float64 { return scale * (r.ExpFloat64() - 1) }
}

func rough(scale float64) func(*rand.Rand, int) float64 { // a few keys far off, as Student's t has them
	return func(r *rand.Rand, _ int) float64 { return scale * heavy(r, 1, 0)[0] }
}

func none(*rand.Rand, int) float64 { return 0 }

// ranges are two ranges of a meter, of which one reads more.
func ranges(r *rand.Rand, key int) float64 {
	if key%3 == 0 {
		return 0.06
	}
	return 0.004 * r.NormFloat64()
}

var plantSorts = []plantSort{
	{name: "jigs alike, no wear", keys: 20, make: normal, bias: none, wear: none},
	{name: "jigs differ, reference units", keys: 20, make: normal, bias: uniform(0.12), wear: uniform(0.02), checks: 6},
	{name: "jigs differ, no reference units", keys: 20, make: normal, bias: uniform(0.12), wear: uniform(0.02)},
	{name: "skewed biases and wear", keys: 20, make: normal, bias: skewed(0.08), wear: skewed(0.02), checks: 6},
	{name: "ranges, heavy tails", keys: 20, make: heavy, bias: ranges, wear: rough(0.01), checks: 6},
	{name: "gradient, biases with tails", keys: 20, make: gradient, bias: rough(0.06), wear: skewed(0.01), checks: 6},
	{name: "neighbours, no reference units", keys: 20, make: neighbours, bias: skewed(0.06), wear: uniform(0.02)},
	{name: "own lots, no reference units", keys: 20, make: normal, bias: uniform(0.05), wear: uniform(0.02), lots: true},
	{name: "own lots, reference units", keys: 20, make: normal, bias: uniform(0.05), wear: uniform(0.02), lots: true, checks: 6},
	{name: "much wear", keys: 20, make: normal, bias: uniform(0.05), wear: skewed(0.1), checks: 6},
	{name: "many keys, much wear", keys: 104, make: normal, bias: uniform(0.05), wear: skewed(0.06), checks: 6},
	{name: "16 moulds, 80 %", keys: 20, make: moulds(16, math.Sqrt(0.8)), bias: uniform(0.05), wear: uniform(0.02), checks: 6},
	{name: "4 moulds, 80 %", keys: 20, make: moulds(4, math.Sqrt(0.8)), bias: uniform(0.05), wear: uniform(0.02), checks: 6},
	{name: "channels swapped here", keys: 20, make: normal, bias: uniform(0.02), wear: uniform(0.02), harm: func(_ *rand.Rand, read samepad.Pad) {
		for k := 0; k < len(read); k += 4 { // two columns of a jig exchanged
			read[k], read[k+1] = read[k+1], read[k]
		}
	}},
	{name: "two keys reworked", keys: 20, make: normal, bias: uniform(0.05), wear: uniform(0.02), checks: 6, harm: func(r *rand.Rand, read samepad.Pad) {
		for range 2 {
			read[r.IntN(len(read))].Ohm = 60 * math.Exp(r.NormFloat64())
		}
	}},
	{name: "half of the keys saturated", keys: 20, make: normal, bias: uniform(0.05), wear: uniform(0.02), checks: 6, harm: func(_ *rand.Rand, read samepad.Pad) {
		for k := 0; k < len(read); k += 2 {
			read[k] = samepad.Reading{}
		}
	}},
	{name: "six keys", keys: 6, make: normal, bias: uniform(0.05), wear: uniform(0.01), checks: 6},
	{name: "all units alike", keys: 20, make: func(r *rand.Rand, keys, _ int) []float64 { return make([]float64, keys) }, bias: uniform(0.05), wear: uniform(0.01), checks: 6},
}

const plantJigs = 4 // the last of them is the one here, at the returns desk

// simulated is a plant of one sort: what the jigs read, and the pads as they are.
type simulated struct {
	plantSort
	biases [][]float64
	made   [][]float64 // logarithms, wear not in them
	jigs   map[int64]samepad.Jig
	read   []samepad.Searched
}

func (s plantSort) plant(seed uint64, units int) *simulated {
	r := rand.New(rand.NewPCG(seed, 77))
	p := &simulated{plantSort: s, jigs: map[int64]samepad.Jig{}}
	for range plantJigs {
		p.biases = append(p.biases, each(s.keys, func(k int) float64 { return s.bias(r, k) }))
	}
	for unit := range 2 {
		made := s.make(r, s.keys, 0)
		for j := range int64(plantJigs) {
			jig := p.jigs[j]
			if jig.References == nil {
				jig.References = map[string][]samepad.Pad{}
			}
			for range s.checks {
				jig.References[fmt.Sprint(unit)] = append(jig.References[fmt.Sprint(unit)], p.press(r, made, j))
			}
			p.jigs[j] = jig
		}
	}
	lots := make([][]float64, plantJigs)
	for j := range lots {
		lots[j] = make([]float64, s.keys)
		if s.lots {
			lots[j] = each(s.keys, func(int) float64 { return 0.7 * r.NormFloat64() })
		}
	}
	for n := range units {
		j := int64(n % (plantJigs - 1))
		if n < units/2 { // the desk's jig tested some too
			j = int64(n % plantJigs)
		}
		made := s.make(r, s.keys, n)
		for k := range made {
			made[k] += lots[j][k]
		}
		one := samepad.Searched{Of: int64(n), Jig: j, Pad: p.press(r, made, j)}
		p.made, p.read = append(p.made, made), append(p.read, one)
		jig := p.jigs[j]
		if jig.Pads = append(jig.Pads, one.Pad); len(jig.Pads) > 300 {
			jig.Pads = jig.Pads[1:]
		}
		p.jigs[j] = jig
	}
	return p
}

// press reads a pad on a jig, with presses that scatter by a hundredth, one in fifty by four.
func (p *simulated) press(r *rand.Rand, made []float64, jig int64) samepad.Pad {
	read := press(r, made, 0.01)
	for k := range read {
		read[k].Ohm *= (1 + 0.5*float64(k%5)) * math.Exp(p.biases[jig][k]) // tracks, which all have in common
	}
	return read
}

// back is a pad at the returns desk, worn.
func (p *simulated) back(r *rand.Rand, made []float64) samepad.Pad {
	worn := each(p.keys, func(k int) float64 { return made[k] + p.wear(r, k)/between })
	read := p.press(r, worn, plantJigs-1)
	if p.harm != nil {
		p.harm(r, read)
	}
	return read
}

// found searches, and gives the number that is named, -1 for none.
func (p *simulated) found(pad samepad.Pad, without int64) int64 {
	w := samepad.NewSearch(pad, plantJigs-1, p.jigs, samepad.Years())
	for _, one := range p.read {
		if one.Of != without {
			w.Look(one.Of, one.Jig, one.Pad.Logs(), func() samepad.Pad { return one.Pad })
		}
	}
	named, _ := w.Named()
	if named == nil {
		return -1
	}
	return named.Of
}

// counted is what a sort of plant came to.
type counted struct{ searches, missed, wrong, strangers, accused int }

// How often the unit that came back is named, missed, and another one named, over plants of which no two are alike. Whether plants
// are independent does not depend on the model: each is drawn anew. Of each plant one unit is searched for that is there and one
// whose readings are not, so that every count is of independent plants.
func TestPlants(t *testing.T) {
	for n, s := range plantSorts {
		t.Run(s.name, func(t *testing.T) {
			t.Parallel()
			var c counted
			for i := range *plants {
				seed := uint64(1000*n + i)
				p := s.plant(seed, *perPlant)
				r := rand.New(rand.NewPCG(seed, 78))
				unit := int64(r.IntN(len(p.made)))
				c.searches++
				switch found := p.found(p.back(r, p.made[unit]), -1); found {
				case unit:
				case -1:
					c.missed++
				default:
					c.wrong++
				}
				c.strangers++ // its own readings are not among those searched
				other := int64(r.IntN(len(p.made)))
				if p.found(p.back(r, p.made[other]), other) >= 0 {
					c.accused++
				}
			}
			t.Logf("| %s | %d | %s | %s | %s |", s.name, s.keys, inHundred(c.missed, c.searches), inHundred(c.wrong, c.searches), inHundred(c.accused, c.strangers))
			low, _ := interval(c.wrong+c.accused, c.searches+c.strangers)
			assert.LessOrEqual(t, low, 1e5*samepad.Rarely*10, "wrong")
		})
	}
}

func inHundred(n, of int) string {
	low, high := interval(n, of)
	return fmt.Sprintf("%.1f (%.1f to %.1f)", 100*float64(n)/float64(of), low/1e3, high/1e3)
}
