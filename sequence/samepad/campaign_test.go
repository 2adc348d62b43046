package samepad_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"padjig/sequence/samepad"
)

var campaign = flag.Int("padunits", 150, "units of each sort of pad")

// maker makes a pad as it was made: a logarithm for each key, whose standard deviation is
// about one. None of them is what samepad assumes, but the first.
type maker struct {
	name   string
	window int // units before
	make   func(r *rand.Rand, keys, number int) []float64
}

func normal(r *rand.Rand, keys, _ int) []float64 {
	return each(keys, func(int) float64 { return r.NormFloat64() })
}

func each(keys int, one func(key int) float64) []float64 {
	pad := make([]float64, keys)
	for k := range pad {
		pad[k] = one(k)
	}
	return pad
}

// heavy is Student's t of three degrees of freedom, scaled to a standard deviation of one.
func heavy(r *rand.Rand, keys, _ int) []float64 {
	return each(keys, func(int) float64 {
		chi := 0.0
		for range 3 {
			z := r.NormFloat64()
			chi += z * z
		}
		return r.NormFloat64() / math.Sqrt(chi)
	})
}

// gradient is thicker print towards an edge that is another on each pad.
func gradient(r *rand.Rand, keys, _ int) []float64 {
	dx, dy, wide := r.NormFloat64(), r.NormFloat64(), int(math.Ceil(math.Sqrt(float64(keys))))
	across := func(n int) float64 { return 2*float64(n)/float64(wide) - 1 }
	return each(keys, func(k int) float64 { return 0.9*(dx*across(k%wide)+dy*across(k/wide)) + 0.5*r.NormFloat64() })
}

// neighbours has keys that follow each other go together, by a factor of 0.8.
func neighbours(r *rand.Rand, keys, _ int) []float64 {
	last := r.NormFloat64()
	return each(keys, func(int) float64 { last = 0.8*last + 0.6*r.NormFloat64(); return last })
}

// change is a new lot of domes ten units back.
func change(r *rand.Rand, keys, number int) []float64 {
	lot := rand.New(rand.NewPCG(uint64(number/10), 98))
	return each(keys, func(int) float64 { return lot.NormFloat64() + 0.5*r.NormFloat64() })
}

// moulds come from so many cavities, of which each gives its pads most of what they are.
func moulds(cavities int, most float64) func(*rand.Rand, int, int) []float64 {
	return func(r *rand.Rand, keys, _ int) []float64 {
		cavity := rand.New(rand.NewPCG(uint64(r.IntN(cavities)), 99))
		return each(keys, func(int) float64 { return most*cavity.NormFloat64() + math.Sqrt(1-most*most)*r.NormFloat64() })
	}
}

var makers = []maker{
	{"independent", 20, normal}, {"independent, 6 before", 6, normal}, {"heavy tails", 20, heavy},
	{"heavy tails, 6 before", 6, heavy}, {"gradient", 20, gradient}, {"neighbours", 20, neighbours},
	{"neighbours, 6 before", 6, neighbours}, {"lot change", 20, change}, {"4 moulds, 80 %", 20, moulds(4, math.Sqrt(0.8))},
	{"16 moulds, 50 %", 20, moulds(16, math.Sqrt(0.5))}, {"16 moulds, 80 %", 20, moulds(16, math.Sqrt(0.8))},
}

// between is what contacts of a lot differ by, as a standard deviation; press and lots of
// the same size are common practice, no source.
const between = 0.08

// press reads a pad: every press scatters, with tails heavier than a normal's, and all keys
// of a run move together with temperature.
func press(r *rand.Rand, pad []float64, scatter float64) samepad.Pad {
	together := 0.05 * r.NormFloat64()
	read := make(samepad.Pad, len(pad))
	for k, made := range pad {
		slip := scatter * r.NormFloat64()
		if r.Float64() < 0.02 {
			slip *= 4
		}
		ohm := 60 * math.Exp(between*made+slip+together)
		read[k] = samepad.Reading{Ohm: ohm * (1 + 0.0003*r.NormFloat64()), U: 0.0003 * ohm}
	}
	return read
}

// wrong is what a campaign counts.
type wrong struct{ units, missed, accused, doubted, silent int }

const perWindow = 50

func (m maker) try(keys int, scatter float64, units int, seed uint64) (w wrong) {
	r := rand.New(rand.NewPCG(seed, uint64(keys)))
	for w.units < units {
		var made [][]float64
		var before []samepad.Pad
		for n := range m.window {
			made = append(made, m.make(r, keys, n))
			before = append(before, press(r, made[n], scatter))
		}
		lot := samepad.LotOf(before, samepad.Presses())
		for range perWindow {
			w.unit(r, m, lot, made, before, scatter)
		}
	}
	return w
}

// unit has a pad of its own, and then one of the window's.
func (w *wrong) unit(r *rand.Rand, m maker, lot samepad.Lot, made [][]float64, before []samepad.Pad, scatter float64) {
	w.units++
	bound := samepad.Threshold(m.window)
	which := r.IntN(m.window)
	same := lot.Compare(press(r, made[which], scatter), before[which], samepad.Presses())
	if same.Log < samepad.Doubtful() {
		w.doubted++
	}
	if !lot.Tells() || same.Most < bound {
		w.silent++
	}
	if !lot.Tells() {
		w.missed++
		return
	}
	if same.Log < bound {
		w.missed++
	}
	other := press(r, m.make(r, len(made[0]), m.window-1), scatter)
	for _, b := range before {
		if lot.Compare(other, b, samepad.Presses()).Log >= bound {
			w.accused++
			return
		}
	}
}

// interval is the exact one of 95 % (Clopper and Pearson), per 100,000.
func interval(n, of int) (low, high float64) {
	high = 1
	if n > 0 {
		low = distuv.Beta{Alpha: float64(n), Beta: float64(of - n + 1)}.Quantile(0.025)
	}
	if n < of {
		high = distuv.Beta{Alpha: float64(n + 1), Beta: float64(of - n)}.Quantile(0.975)
	}
	return 1e5 * low, 1e5 * high
}

func rate(n, of int) string {
	low, high := interval(n, of)
	return fmt.Sprintf("%.0f (%.0f to %.0f)", 1e5*float64(n)/float64(of), low, high)
}

// promised is what docs/samepad.md promises of each sort of pad, per 100,000; of moulds it
// says that they fail.
func promised(m maker, keys int, scatter float64) (accused, missed float64) {
	accused, missed = 100, 100_000
	switch {
	case m.name == "16 moulds, 80 %", m.name == "16 moulds, 50 %":
		accused = 10_000
	case m.name == "independent" && keys >= 20 && scatter <= 0.1*between:
		missed = 1000
	case m.name == "independent" && keys >= 48 && scatter <= 0.25*between:
		missed = 500
	}
	return accused, missed
}

// How often one pad is missed, and another one accused.
func TestCampaign(t *testing.T) {
	for n, m := range makers {
		for _, keys := range []int{6, 12, 20, 48, 104} {
			for _, ratio := range []float64{0, 0.1, 0.25, 0.5} {
				if n > 0 && (keys == 12 || keys == 48 || ratio == 0.5) {
					continue
				}
				t.Run(fmt.Sprintf("%s/%d keys/%v", m.name, keys, ratio), func(t *testing.T) {
					t.Parallel()
					w := m.try(keys, ratio*between, *campaign, uint64(n+1))
					accused, missed := promised(m, keys, ratio*between)
					low, _ := interval(w.accused, w.units)
					assert.LessOrEqual(t, low, accused, "accused")
					low, _ = interval(w.missed, w.units)
					assert.LessOrEqual(t, low, missed, "missed")
					t.Logf("| %s | %d | %v | %s | %s | %s | %.0f %% |", m.name, keys, ratio, rate(w.missed, w.units),
						rate(w.accused, w.units), rate(w.doubted, w.units), 100*float64(w.silent)/float64(w.units))
				})
			}
		}
	}
}
