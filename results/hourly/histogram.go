package hourly

import (
	"encoding/binary"
	"errors"
	"math"
	"math/big"
	"math/bits"
	"reflect"
	"slices"

	"padjig/results/runs"
)

// Histogram sums up closed resistances of one key. It holds whole numbers only, so
// that histograms can be put together in any order and give the same to the last digit.
// Readings beyond the range, and those above 30 kohm, are counted but left out of
// the sums.
type Histogram struct {
	N           int64 // readings in the sums
	Beyond      int64 // readings left out
	Sum         int64 // milliohm
	Squares     Wide  // milliohm squared
	Least, Most int64 // milliohm, both 0 without a reading

	First int     // number of the first of Bins
	Bins  []int64 // how many readings in each bin, see [BinEdges]
}

// readingLimit in milliohm keeps the sums of a cell far from the largest whole number.
const readingLimit = 30_000_000

// Wide is a whole number of 128 bits.
type Wide struct{ high, low uint64 }

func (a Wide) plus(b Wide) Wide {
	low, carry := bits.Add64(a.low, b.low, 0)
	high, _ := bits.Add64(a.high, b.high, carry)
	return Wide{high, low}
}

func (a Wide) big() *big.Int {
	b := new(big.Int).Lsh(new(big.Int).SetUint64(a.high), 64)
	return b.Or(b, new(big.Int).SetUint64(a.low))
}

// Int64 gives the number where it is small enough, else the largest there is.
func (a Wide) Int64() int64 {
	if a.high != 0 || a.low > math.MaxInt64 {
		return math.MaxInt64
	}
	return int64(a.low)
}

func square(v int64) Wide {
	if v < 0 {
		v = -v
	}
	high, low := bits.Mul64(uint64(v), uint64(v))
	return Wide{high, low}
}

// Moments gives the mean in ohm and the sum of squared deviations from it in
// ohm squared, without loss before the last rounding. Both are 0 without a reading.
func (p *Histogram) Moments() (mean, m2 float64) {
	if p.N == 0 {
		return 0, 0
	}
	n, sum := big.NewInt(p.N), big.NewInt(p.Sum)
	spread := new(big.Int).Mul(n, p.Squares.big())
	spread.Sub(spread, new(big.Int).Mul(sum, sum))
	mean, _ = new(big.Rat).SetFrac(sum, new(big.Int).Mul(n, big.NewInt(runs.Milli))).Float64()
	m2, _ = new(big.Rat).SetFrac(spread, new(big.Int).Mul(n, big.NewInt(runs.Milli*runs.Milli))).Float64()
	return mean, m2
}

// Merge puts another histogram into p.
func (p *Histogram) Merge(q *Histogram) {
	switch {
	case q.N > 0 && p.N == 0:
		p.Least, p.Most = q.Least, q.Most
	case q.N > 0:
		p.Least, p.Most = min(p.Least, q.Least), max(p.Most, q.Most)
	}
	p.N, p.Beyond, p.Sum, p.Squares = p.N+q.N, p.Beyond+q.Beyond, p.Sum+q.Sum, p.Squares.plus(q.Squares)
	if len(q.Bins) == 0 {
		return
	}
	p.reach(q.First, q.First+len(q.Bins)-1)
	for i, n := range q.Bins {
		p.Bins[q.First+i-p.First] += n
	}
}

// reach makes room for the bins from first to last.
func (p *Histogram) reach(first, last int) {
	if len(p.Bins) == 0 {
		p.First, p.Bins = first, make([]int64, last-first+1)
		return
	}
	if before := p.First - first; before > 0 {
		p.First, p.Bins = first, append(make([]int64, before, before+len(p.Bins)), p.Bins...)
	}
	if behind := last - p.First + 1 - len(p.Bins); behind > 0 {
		p.Bins = append(p.Bins, make([]int64, behind)...)
	}
}

// count adds to one bin.
func (p *Histogram) count(bin int, n int64) {
	p.reach(bin, bin)
	p.Bins[bin-p.First] += n
}

// addReading takes a stored reading; nil is not measured.
func (p *Histogram) addReading(r *runs.Ohms) {
	switch {
	case r == nil:
	case r.AtLeast || r.MilliOhm == nil || *r.MilliOhm > readingLimit || *r.MilliOhm < -readingLimit:
		p.Beyond++
	default:
		p.add(*r.MilliOhm)
	}
}

func (p *Histogram) add(v int64) {
	p.count(binOf(v), 1)
	if p.N == 0 {
		p.Least, p.Most = v, v
	}
	p.N, p.Sum, p.Squares = p.N+1, p.Sum+v, p.Squares.plus(square(v))
	p.Least, p.Most = min(p.Least, v), max(p.Most, v)
}

// Bins are as wide as a 32nd to a 64th of their value: below 64 milliohm each
// whole milliohm is one, above that each doubling has 32.
const binsPerDoubling = 32

func binOf(milliohm int64) int {
	v := uint64(max(milliohm, 0))
	shift := max(bits.Len64(v)-6, 0)
	return shift*binsPerDoubling + int(v>>shift)
}

// BinEdges gives the bounds of a bin of a [Histogram] in ohm: from inclusive, to exclusive.
func BinEdges(bin int) (from, to float64) {
	return float64(binStart(bin)) / runs.Milli, float64(binStart(bin+1)) / runs.Milli
}

func binStart(bin int) int64 {
	shift := max(bin/binsPerDoubling-1, 0)
	return int64(bin-shift*binsPerDoubling) << shift
}

// Histograms are those of the keys of one revision, in the order in which the keys came.
type Histograms struct {
	keys []int64 // key numbers
	list []*Histogram
}

// Add takes a stored reading of a key, by its number; nil is not measured.
func (s *Histograms) Add(key int64, r *runs.Ohms) { s.of(key).addReading(r) }

func (s *Histograms) of(key int64) *Histogram {
	for i, k := range s.keys {
		if k == key {
			return s.list[i]
		}
	}
	s.keys, s.list = append(s.keys, key), append(s.list, new(Histogram))
	return s.list[len(s.list)-1]
}

// Merge adds histograms as they are stored.
func (s *Histograms) Merge(packed []byte) error {
	return EachHistogram(packed, func(key int64, r *Unpacker) bool {
		r.Into(s.of(key))
		return true
	})
}

// Equal reports whether both sum up the same readings of every key; the keys may have come in another order.
func (s *Histograms) Equal(t *Histograms) bool {
	if len(s.keys) != len(t.keys) {
		return false
	}
	for i, key := range s.keys {
		at := slices.Index(t.keys, key)
		if at < 0 || !reflect.DeepEqual(s.list[i], t.list[at]) {
			return false
		}
	}
	return true
}

// Packed histograms are whole numbers of variable length, as encoding/binary writes
// them: 1 for the form, then for each key its number, N, Beyond, Sum, both
// halves of Squares, Least, Most, the count of bins in use, and for each of those
// the distance to the bin before it and the count in it. Sum, Least and Most are
// signed.
const packedForm = 1

var errPacked = errors.New("packed readings are damaged")

// Pack writes them down as they are stored, see [Unpack].
func (s *Histograms) Pack() []byte {
	b := make([]byte, 0, 100*len(s.keys)+1)
	b = append(b, packedForm)
	for i, p := range s.list {
		b = binary.AppendUvarint(b, uint64(s.keys[i]))
		b = binary.AppendUvarint(b, uint64(p.N))
		b = binary.AppendUvarint(b, uint64(p.Beyond))
		b = binary.AppendVarint(b, p.Sum)
		b = binary.AppendUvarint(b, p.Squares.high)
		b = binary.AppendUvarint(b, p.Squares.low)
		b = binary.AppendVarint(b, p.Least)
		b = binary.AppendVarint(b, p.Most)
		b = p.packBins(b)
	}
	return b
}

func (p *Histogram) packBins(b []byte) []byte {
	used := 0
	for _, n := range p.Bins {
		if n != 0 {
			used++
		}
	}
	b = binary.AppendUvarint(b, uint64(used))
	last := 0
	for i, n := range p.Bins {
		if n != 0 {
			b = binary.AppendUvarint(b, uint64(p.First+i-last))
			b = binary.AppendUvarint(b, uint64(n))
			last = p.First + i
		}
	}
	return b
}

// Unpack reads what is stored of a cell; nil is none.
func Unpack(b []byte) (*Histograms, error) {
	s := new(Histograms)
	err := EachHistogram(b, func(key int64, r *Unpacker) bool {
		p := new(Histogram)
		r.Into(p)
		s.keys, s.list = append(s.keys, key), append(s.list, p)
		return true
	})
	return s, err
}

// EachHistogram gives every key with the reader at the start of its histogram; take
// either reads the histogram and returns true, or returns false to have it skipped.
func EachHistogram(b []byte, take func(key int64, r *Unpacker) bool) error {
	if len(b) == 0 {
		return nil
	}
	r := &Unpacker{rest: b[1:], bad: b[0] != packedForm}
	for len(r.rest) > 0 && !r.bad {
		if !take(int64(r.unsigned()), r) {
			r.skip()
		}
	}
	if r.bad {
		return errPacked
	}
	return nil
}

// Unpacker reads whole numbers; after damage it gives zeros.
type Unpacker struct {
	rest []byte
	bad  bool
}

func (r *Unpacker) unsigned() uint64 {
	if len(r.rest) > 0 && r.rest[0] < 0x80 { // most are this short
		v := uint64(r.rest[0])
		r.rest = r.rest[1:]
		return v
	}
	v, n := binary.Uvarint(r.rest)
	if n <= 0 {
		r.bad, r.rest = true, nil
		return 0
	}
	r.rest = r.rest[n:]
	return v
}

func (r *Unpacker) signed() int64 {
	v := r.unsigned()
	return int64(v>>1) ^ -int64(v&1)
}

// Into adds the next histogram to p.
func (r *Unpacker) Into(p *Histogram) {
	q := Histogram{
		N: int64(r.unsigned()), Beyond: int64(r.unsigned()), Sum: r.signed(),
		Squares: Wide{r.unsigned(), r.unsigned()}, Least: r.signed(), Most: r.signed(),
	}
	p.Merge(&q)
	bin := 0
	for range r.count() {
		bin += int(min(r.unsigned(), maxBins))
		n := r.unsigned()
		if bin >= maxBins {
			r.bad = true
			return
		}
		p.count(bin, int64(n))
	}
}

// maxBins is more than readingLimit has.
const maxBins = 1024

func (r *Unpacker) count() uint64 {
	n := r.unsigned()
	if n > maxBins {
		r.bad = true
		return 0
	}
	return n
}

func (r *Unpacker) skip() {
	for range 7 {
		r.unsigned()
	}
	for range 2 * r.count() {
		r.unsigned()
	}
}
