package control

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats/numeric"
)

// memory is what the zone rules remember of the points before: which of the
// last two lay beyond 2 sigma and of the last four beyond 1 sigma, for either
// side, as bits with the newest lowest, and the lengths of the runs that end
// at the last point. Parts that no rule of the set needs stay zero.
type memory struct {
	far, near [2]uint8
	side      int8 // points in a row above (positive) or below
	in, out   int8 // points in a row within, beyond 1 sigma
}

// zone is the part of the axis a point falls into: 0..3 sigma above, beyond,
// and the same below.
type zone struct {
	low, high float64
}

// zones cut the axis where the rules do.
func zones() []zone {
	edges := []float64{math.Inf(-1), -3, -2, -1, 0, 1, 2, 3, math.Inf(1)}
	z := make([]zone, len(edges)-1)
	for i := range z {
		z[i] = zone{edges[i], edges[i+1]}
	}
	return z
}

func (z zone) probability(shift float64) float64 {
	if z.low >= shift {
		return numeric.UpperTail(z.low-shift) - numeric.UpperTail(z.high-shift)
	}
	return distuv.UnitNormal.CDF(z.high-shift) - distuv.UnitNormal.CDF(z.low-shift)
}

// chain lists the memories that can be reached from an empty one, and where
// each zone leads from there.
func (s Rules) chain(shift float64) chain {
	var c chain
	index := map[memory]int{{}: 0}
	known := []memory{{}}
	for i := 0; i < len(known); i++ {
		row := map[int]float64{}
		alarm := 0.0
		for _, z := range zones() {
			next, signal := s.step(known[i], z)
			if signal {
				alarm += z.probability(shift)
				continue
			}
			if _, seen := index[next]; !seen {
				index[next] = len(known)
				known = append(known, next)
			}
			row[index[next]] += z.probability(shift)
		}
		c.to = append(c.to, denseLater(row))
		c.out = append(c.out, alarm)
	}
	for i, row := range c.to {
		c.to[i] = append(row, make([]float64, len(known)-len(row))...)
	}
	return c
}

// denseLater lays out a sparse row as far as it reaches.
func denseLater(row map[int]float64) []float64 {
	last := 0
	for j := range row {
		last = max(last, j)
	}
	dense := make([]float64, last+1)
	for j, p := range row {
		dense[j] = p
	}
	return dense
}

// step is the memory after a point in the zone, and whether it is an alarm.
func (s Rules) step(m memory, z zone) (memory, bool) {
	distance, side := z.low, 0
	if z.high <= 0 {
		distance, side = -z.high, 1
	}
	alarm := distance >= 3 && s.has(Beyond3)
	if s.has(TwoOfThree2) {
		alarm = remember(&m.far, side, distance >= 2, 2, 1) || alarm
	}
	if s.has(FourOfFive1) {
		alarm = remember(&m.near, side, distance >= 1, 4, 3) || alarm
	}
	return m, m.runs(s, side, distance >= 1) || alarm
}

// remember shifts the point into the bits of either side, keep points long,
// and reports whether it, being beyond, finds enough others there.
func remember(bits *[2]uint8, side int, beyond bool, keep, others int) bool {
	enough := beyond && ones(bits[side]) >= others
	for i := range bits {
		bits[i] = bits[i] << 1 & (1<<keep - 1)
	}
	if beyond {
		bits[side] |= 1
	}
	return enough
}

func ones(bits uint8) (n int) {
	for ; bits != 0; bits &= bits - 1 {
		n++
	}
	return n
}

// runs counts the runs on and reports one that is long enough.
func (m *memory) runs(s Rules, side int, beyond1 bool) bool {
	longest := int8(math.MaxInt8)
	if s.has(NineOneSide) {
		longest = 9
	}
	if s.has(EightOneSide) {
		longest = 8
	}
	if longest != math.MaxInt8 {
		m.side = onSide(m.side, side)
	}
	m.in = counted(m.in, s.has(FifteenIn1) && !beyond1)
	m.out = counted(m.out, s.has(EightOut1) && beyond1)
	return m.side == longest || m.side == -longest || m.in == 15 || m.out == 8
}

func onSide(run int8, side int) int8 {
	switch {
	case side == 0:
		return max(run, 0) + 1
	default:
		return min(run, 0) - 1
	}
}

func counted(run int8, goesOn bool) int8 {
	if goesOn {
		return run + 1
	}
	return 0
}
