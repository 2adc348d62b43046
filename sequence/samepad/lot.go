package samepad

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Reading is what was read of a key: a resistance with its standard uncertainty.
// Not above zero means that there is none to compare.
type Reading struct{ Ohm, U float64 }

func (r Reading) there() bool { return r.Ohm > 0 && !math.IsInf(r.Ohm, 0) && !math.IsNaN(r.Ohm) }

// Pad is what one run read of a keypad, key by key, in the order of the product.
type Pad []Reading

// LeastPads and LeastKeys are how many other pads of the lot, and how many keys that
// were read twice, it takes to say anything.
const (
	LeastPads = 6
	LeastKeys = 4
)

// Lot is by how much pads differ from each other.
type Lot struct {
	Pads    int
	Between []float64 // by key: standard deviation of a pad's logarithm, its presses in it
	Typical float64   // over the keys, as their root mean square
	// Independent is how many independent keys would make the differences between
	// pads scatter as they do; fewer where keys go together, or pads come in groups.
	Independent float64
	// Twins are groups of pads that read alike. One may be a pad under several
	// numbers; more of them are pads that come from a few moulds or places of a sheet.
	Twins int
	keys  int // that Independent is of
}

// Tells reports whether pads of the lot can be told apart at all.
func (l Lot) Tells() bool { return l.Independent > 0 && l.Twins < 2 }

// pull is how many pads the scatter over all keys is worth beside that of one key;
// near is how many places two pads may lie apart to be held against each other: what
// changes with the lot is no difference between its pads.
const (
	pull = 10
	near = 6
)

// LotOf learns from pads, each read once, in the order of their tests. Some of them may
// be one pad under several numbers, which is then learned from once.
func LotOf(pads []Pad, s Scatter) Lot {
	l := learn(pads)
	if l.Independent <= 0 {
		return l
	}
	if copies := l.copies(pads); len(copies) > 1 {
		once := slices.Clone(pads)
		for _, i := range slices.Backward(copies[1:]) {
			once = slices.Delete(once, i, i+1)
		}
		if l = learn(once); l.Independent <= 0 {
			return l
		}
	}
	l.Pads, l.Twins = len(pads), l.twins(pads, s)
	return l
}

func learn(pads []Pad) Lot {
	l := Lot{Pads: len(pads)}
	if len(pads) < LeastPads {
		return l
	}
	var pairs [][]float64
	for i, a := range pads {
		for _, b := range pads[max(0, i-near):i] {
			if d, n := differences(a, b); n >= LeastKeys {
				pairs = append(pairs, d)
			}
		}
	}
	if len(pairs) >= LeastPads*(LeastPads-1)/2 {
		l.learn(pairs)
	}
	return l
}

// apart is by how many times pads must differ more from all others than among themselves,
// as mean squares, to be one pad for certain.
const apart = 4

// copies finds the one group of pads that lie together and apart from all else, and from
// which nothing else is as near to anything: one pad under several numbers. Where pads come
// in groups there are several, and it finds none.
func (l *Lot) copies(pads []Pad) []int {
	n := len(pads)
	square := make([][]float64, n)
	for i := range square {
		square[i] = make([]float64, n)
	}
	first, nearest := 0, math.Inf(1)
	for i := range pads {
		for j := range i {
			d, shared := differences(pads[i], pads[j])
			m := math.Inf(1)
			if shared >= LeastKeys {
				m = l.square(d)
			}
			square[i][j], square[j][i] = m, m
			if m < nearest {
				first, nearest = j, m
			}
		}
	}
	group := together(square[first])
	inside, outside := 0.0, math.Inf(1)
	for i := range pads {
		for j := range i {
			if slices.Contains(group, i) && slices.Contains(group, j) {
				inside = max(inside, square[i][j])
			} else {
				outside = min(outside, square[i][j])
			}
		}
	}
	if len(group) == n || outside < apart*inside {
		return nil
	}
	return group
}

// together are those nearer than the first gap, in order of their places.
func together(square []float64) []int {
	order := make([]int, len(square))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(square[a], square[b]) }) // it itself first
	n := 2
	for n < len(order) && square[order[n]] < apart*square[order[n-1]] {
		n++
	}
	group := order[:n]
	slices.Sort(group)
	return group
}

func (l *Lot) learn(pairs [][]float64) {
	variances := make([]float64, len(pairs[0]))
	sum, n := 0.0, 0
	for k := range variances {
		variances[k] = variance(pairs, k)
		if !math.IsNaN(variances[k]) {
			sum, n = sum+variances[k], n+1
		}
	}
	if n < LeastKeys || sum <= 0 {
		return
	}
	mean, weight := sum/float64(n), float64(l.Pads)
	l.Typical = math.Sqrt(mean)
	l.Between = make([]float64, len(variances))
	for k, v := range variances {
		if math.IsNaN(v) {
			v = mean
		}
		l.Between[k] = math.Sqrt((weight*v + pull*mean) / (weight + pull))
	}
	l.keys, l.Independent = n, l.independent(pairs, n)
}

// mayBe is the mean square of differences beyond which two pads are not looked at any
// closer: presses of one that scatter half as much as the lot make a quarter.
const mayBe = 0.5

// twins counts the groups of pads that read alike: each pad is put to the first that it is like.
func (l *Lot) twins(pads []Pad, s Scatter) (groups int) {
	bound, grouped := Threshold(len(pads)), map[int]bool{} // by the first of a group: it has another
	for i, a := range pads {
		for first, b := range pads[:i] {
			d, _ := differences(a, b)
			if l.square(d) > mayBe || l.Compare(a, b, s).Log < bound {
				continue
			}
			if _, follows := grouped[first]; !follows {
				grouped[first] = true
				groups++
			}
			grouped[i] = false
			break
		}
	}
	return groups
}

// variance is that of one pad at a key, by the median of the differences: half of
// what two pads differ by.
func variance(pairs [][]float64, key int) float64 {
	var size []float64
	for _, d := range pairs {
		if !math.IsNaN(d[key]) {
			size = append(size, math.Abs(d[key]))
		}
	}
	if len(size) < LeastPads {
		return math.NaN()
	}
	const quartile = 0.674489750196082 // of the standard normal distribution
	sd := median(size) / quartile
	return sd * sd / 2
}

// Beyond so many standard deviations a difference counts as so many: one key that is
// far off shall not hide how the others go together.
const clip = 3

// independent compares how the mean square differences of pairs scatter with how those
// of independent keys would: a chi-square over its degrees of freedom. It goes by the lower
// tenth, where two pads are taken for one, and where pads that come in groups lie.
func (l *Lot) independent(pairs [][]float64, keys int) float64 {
	var squares []float64
	for _, d := range pairs {
		squares = append(squares, l.square(d))
	}
	nu := min(float64(keys-1), freedomOf(quantile(squares, 0.1)/median(squares)))
	n := float64(l.Pads)
	return nu * min(1-2/n, n/12) // few pads show few of the ways in which keys go together: by trial
}

func (l *Lot) square(d []float64) float64 {
	sum, n := 0.0, 0.0
	for k, v := range d {
		if !math.IsNaN(v) && l.Between[k] > 0 {
			sum += min(v*v/(2*l.Between[k]*l.Between[k]), clip*clip)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// freedomOf is the degrees of freedom of a chi-square whose tenth is so far below its median.
func freedomOf(ratio float64) float64 {
	if !(ratio > 0) {
		return 0
	}
	low, high := math.Log(0.05), math.Log(1e4)
	for range 40 {
		mid := (low + high) / 2
		chi := distuv.ChiSquared{K: math.Exp(mid)}
		if chi.Quantile(0.1)/chi.Quantile(0.5) < ratio {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Exp(low)
}

// differences are the logarithms of two pads' keys subtracted, less what all keys
// have in common; NaN where a key was not read twice. n says how many were.
func differences(a, b Pad) (d []float64, n int) {
	d = make([]float64, max(len(a), len(b)))
	var there []float64
	for k := range d {
		d[k] = math.NaN()
		if k < len(a) && k < len(b) && a[k].there() && b[k].there() {
			d[k] = math.Log(a[k].Ohm / b[k].Ohm)
			there = append(there, d[k])
		}
	}
	if len(there) == 0 {
		return d, 0
	}
	common := median(there)
	for k := range d {
		d[k] -= common
	}
	return d, len(there)
}

func median(v []float64) float64 { return quantile(v, 0.5) }

// quantile interpolates; it sorts what it is given.
func quantile(v []float64, p float64) float64 {
	slices.Sort(v)
	at := p * float64(len(v)-1)
	below := int(at)
	if below+1 >= len(v) {
		return v[len(v)-1]
	}
	return v[below] + (at-float64(below))*(v[below+1]-v[below])
}
