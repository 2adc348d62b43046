// Package ratio says how many times as long one thing takes as another, on a machine that does other things too.
//
// What a machine does besides changes from one second to the next, so a time says little, and two times taken apart from
// each other hardly more. [Pairs] are taken in turn, each of the two right after the other, and their ratio is that of the
// middle pair. How far it can be trusted is said with it: the interval in which the middle of all such pairs lies, 19 times
// in 20, whatever law they follow ([stats.QuantileBounds]). It is wide where pairs scatter, and infinite for fewer than six.
//
// A benchmark reports them as metrics under names of its own ([Pairs.Report]); [Read] finds them again in what it printed.
package ratio

import (
	"math"
	"slices"
	"time"

	"padjig/results/stats"
)

// Pairs are times of two things, taken in turn. The zero value has none.
type Pairs struct{ ours, theirs []time.Duration }

// Add adds a pair that was timed elsewhere.
func (p *Pairs) Add(ours, theirs time.Duration) {
	p.ours, p.theirs = append(p.ours, ours), append(p.theirs, theirs)
}

// Time does both and adds how long each took.
func (p *Pairs) Time(ours, theirs func()) {
	p.Take(func() time.Duration { return took(ours) }, func() time.Duration { return took(theirs) })
}

func took(do func()) time.Duration {
	began := time.Now()
	do()
	return time.Since(began)
}

// Take does both and adds how long each says that it took. Each is first every second time, so that what the first leaves behind
// for the second - warm caches, a disk with something still to write - is for both alike.
func (p *Pairs) Take(ours, theirs func() time.Duration) {
	if len(p.ours)%2 == 0 {
		own := ours()
		p.Add(own, theirs())
		return
	}
	other := theirs()
	p.Add(ours(), other)
}

// A Summary is what pairs say. Times are medians, of each thing alone.
type Summary struct {
	Pairs        int
	Ratio        float64 // of ours to theirs, in the middle pair
	Low, High    float64 // where the middle of all such pairs lies, with a risk of 2.5 % on each side; 0 and +Inf for fewer than six
	Ours, Theirs time.Duration
}

// Summary summarizes the pairs; all is zero for none.
func (p *Pairs) Summary() Summary {
	if len(p.ours) == 0 {
		return Summary{}
	}
	ratios := make([]float64, len(p.ours))
	for i := range ratios {
		ratios[i] = float64(p.ours[i]) / float64(p.theirs[i])
	}
	slices.Sort(ratios)
	bounds := stats.QuantileBounds(ratios, 0.5, 0.025)
	return Summary{Pairs: len(ratios), Ratio: stats.QuantileSorted(ratios, 0.5), Low: max(bounds.Low, 0), High: bounds.High,
		Ours: median(p.ours), Theirs: median(p.theirs)}
}

func median(times []time.Duration) time.Duration {
	return slices.Sorted(slices.Values(times))[len(times)/2]
}

// widest is how many times its lower end the upper end of an interval may be for the ratio in it to be worth saying.
const widest = 1.5

// Scatters reports whether the pairs differ so much among each other, or are so few, that their ratio says nothing.
func (s Summary) Scatters() bool { return !(s.High <= widest*s.Low) }

// The metrics of a ratio have its name, ours/theirs, and these behind it; those of a time have the name of what took it.
const (
	low, high, pairs = "-low", "-high", "-pairs"
	nanoseconds      = "-ns"
)

// Report reports the pairs as metrics of a benchmark that calls the two things by these names. It takes the benchmark's own
// time of an iteration away, which would be of both.
func (p *Pairs) Report(b interface{ ReportMetric(n float64, unit string) }, ours, theirs string) {
	s, of := p.Summary(), ours+"/"+theirs
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(s.Pairs), of+pairs)
	b.ReportMetric(s.Ratio, of)
	if !math.IsInf(s.High, 1) {
		b.ReportMetric(s.Low, of+low)
		b.ReportMetric(s.High, of+high)
	}
	b.ReportMetric(float64(s.Ours), ours+nanoseconds)
	b.ReportMetric(float64(s.Theirs), theirs+nanoseconds)
}

// Read finds what [Pairs.Report] reported under two names among the metrics of a benchmark; false where it did not.
func Read(metrics map[string]float64, ours, theirs string) (Summary, bool) {
	of := ours + "/" + theirs
	s := Summary{
		Pairs: int(metrics[of+pairs]), Ratio: metrics[of], Low: metrics[of+low], High: math.Inf(1),
		Ours: time.Duration(metrics[ours+nanoseconds]), Theirs: time.Duration(metrics[theirs+nanoseconds]),
	}
	if top, is := metrics[of+high]; is {
		s.High = top
	}
	return s, s.Pairs > 0
}
