package interlab

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// LeastChecks is how many checks a station needs to be judged: with fewer its own scatter is
// known with less than two degrees of freedom.
const LeastChecks = 4

// Check is what a station read at a time, in any unit of time.
type Check struct{ T, Value float64 }

// Station is all that one read of one thing.
type Station struct {
	Checks []Check
	// U is the stated standard uncertainty of its readings. It is taken as one error that all its
	// checks have in common: repeating does not make it smaller.
	U float64
}

// Score is how a station reads beside the others. What cannot be said is not a number.
type Score struct {
	N     int
	Level float64 // its mean, at the mean time of all checks
	// Bias is Level less the median of the others, U its standard uncertainty.
	Bias     float64
	U        float64
	Interval stats.Interval
	P        float64 // of no bias
	En       float64 // Bias over its expanded uncertainty, k = 2: beyond 1 is a signal
	// Slope is how it moves in a unit of time, less the median of what the others move by: the
	// thing itself may.
	Slope  float64
	Slopes stats.Interval
	SlopeP float64
}

// Comparison is what stations read of one thing.
type Comparison struct {
	Common float64 // what the thing itself moves by in a unit of time: the slope within the stations
	Scores []Score // in the order of the stations
}

// Compare compares stations. Levels are at the mean time of all checks, with the slope of the
// thing itself taken off, so that who measured early and who measured late can be compared. The bias of a
// station is its level less the median of the others; its variance
//
//	u² + c mean(u²)/q
//
// with u² the stated uncertainty and the scatter of a station's checks, q the others, and c = π/2 for
// the median, which scatters that much wider than a mean (of one or two stations: 1). En divides the bias by
// twice the root of that (ISO/IEC 17043, ISO 13528; from memory). P is by Student's t with the degrees of
// freedom of the scatter alone, which errs on the side of saying nothing. The scatter is that of all stations
// together (ISO 5725's repeatability), of a station whose own is larger its own. A slope is judged in the same
// way by the scatter alone: what is stated as common to all checks moves nothing.
//
// One station that is far off would pull the median of few: the one farthest off in its uncertainties, if its
// p is below (1 - confidence)/tests, is taken out of what the others are held against, then the next.
// Two stations can only differ from each other.
//
// Errors: fewer than two stations, one without a check, not finite, a confidence outside 0..1.
func Compare(stations []Station, confidence float64) (Comparison, error) {
	if err := stats.CheckConfidence(confidence); err != nil {
		return Comparison{}, err
	}
	if len(stations) < 2 {
		return Comparison{}, &stats.TooFewError{Have: len(stations), Need: 2, What: "stations"}
	}
	fits, middle, err := fitted(stations)
	if err != nil {
		return Comparison{}, err
	}
	scatter := pooled(fits)
	bar := (1 - confidence) / float64(2*len(stations))
	slopes := make([]value, len(fits))
	for i, f := range fits {
		v, df := scatter.of(f)
		slopes[i] = value{at: f.slope, scatter: v / f.squares, df: df, judged: f.judged(), there: f.squares > 0}
	}
	moved, apart := against(slopes, bar)

	c := Comparison{Scores: make([]Score, len(stations))}
	common, squares := common(fits, apart)
	c.Common = common
	levels := make([]value, len(fits))
	for i, f := range fits {
		v, df := scatter.of(f)
		off := f.at - middle
		level := value{at: f.mean - common*off, stated: stations[i].U * stations[i].U, scatter: v / float64(f.n), df: df, judged: f.judged(), there: true}
		if squares > 0 {
			level.scatter += v * off * off / squares
		}
		levels[i] = level
	}
	biased, _ := against(levels, bar)
	for i, f := range fits {
		s := Score{N: f.n, Level: levels[i].at, Bias: biased[i].d, U: biased[i].u, P: biased[i].p, En: biased[i].d / (2 * biased[i].u),
			Slope: moved[i].d, SlopeP: moved[i].p}
		s.Interval, s.Slopes = biased[i].interval(confidence), moved[i].interval(confidence)
		c.Scores[i] = s
	}
	return c, nil
}

// value is what is known of one station: a level, or a slope.
type value struct {
	at, stated, scatter float64 // variances
	df                  float64 // of the scatter
	judged, there       bool
}

func (v value) variance() float64 { return v.stated + v.scatter }

// difference is a value less the median of the others.
type difference struct{ d, u, df, p float64 }

// size is in its own uncertainties.
func (d difference) size() float64 { return math.Abs(d.d) / d.u }

func (d difference) interval(confidence float64) stats.Interval {
	if math.IsNaN(d.p) {
		return stats.Interval{Low: math.NaN(), High: math.NaN(), Confidence: confidence}
	}
	return stats.Around(d.d, numeric.TQuantile(confidence, d.df)*d.u, confidence)
}

// against holds each value against the others, without those that are far off. Which those are it
// says too.
func against(values []value, bar float64) (all []difference, apart []bool) {
	apart = make([]bool, len(values))
	all = make([]difference, len(values))
	for {
		within, worst := 0, -1
		for i := range values {
			all[i] = less(values, apart, i)
			if apart[i] || !values[i].there {
				continue
			}
			within++
			if all[i].p < bar && (worst < 0 || all[i].size() > all[worst].size()) {
				worst = i
			}
		}
		if worst < 0 || within <= 2 {
			return all, apart
		}
		apart[worst] = true
	}
}

// less is one value less the median of the others that count.
func less(values []value, apart []bool, at int) difference {
	d := difference{d: math.NaN(), u: math.NaN(), p: math.NaN()}
	var others []float64
	sum := 0.0
	for i, v := range values {
		if i != at && !apart[i] && v.there {
			others, sum = append(others, v.at), sum+v.variance()
		}
	}
	own := values[at]
	if len(others) == 0 || !own.there {
		return d
	}
	q, c := float64(len(others)), 1.0
	if q > 2 {
		c = math.Pi / 2
	}
	d.d = own.at - median(others)
	if !own.judged {
		return d
	}
	d.u, d.df = math.Sqrt(own.variance()+c*sum/(q*q)), own.df
	switch {
	case d.u > 0:
		d.p = 2 * distuv.StudentsT{Sigma: 1, Nu: d.df}.Survival(math.Abs(d.d)/d.u)
	case d.d == 0:
		d.p = 1
	default:
		d.p = 0
	}
	return d
}

// fit is the line through the checks of a station.
type fit struct {
	n              int
	at, mean       float64 // mean time and value
	slope, squares float64 // squares of the times about their mean
	left, df       float64 // squares of the scatter about the line
}

func (f fit) judged() bool { return f.n >= LeastChecks && f.df > 0 }

func fitted(stations []Station) (fits []fit, middle float64, err error) {
	n := 0.0
	for _, s := range stations {
		f, err := fitOf(s)
		if err != nil {
			return nil, 0, err
		}
		fits = append(fits, f)
		middle, n = middle+f.at*float64(f.n), n+float64(f.n)
	}
	return fits, middle / n, nil
}

func fitOf(s Station) (fit, error) {
	t, v := make([]float64, len(s.Checks)), make([]float64, len(s.Checks))
	for i, c := range s.Checks {
		t[i], v[i] = c.T, c.Value
	}
	for _, list := range [][]float64{t, v, {s.U}} {
		if err := stats.Usable(list, 1); err != nil {
			return fit{}, err
		}
	}
	f := fit{n: len(t), at: numeric.Mean(t), mean: numeric.Mean(v)}
	together := 0.0
	for i := range t {
		f.squares += (t[i] - f.at) * (t[i] - f.at)
		together += (t[i] - f.at) * (v[i] - f.mean)
	}
	f.df = float64(f.n - 1)
	if f.squares > 0 {
		f.slope = together / f.squares
		f.df--
	}
	for i := range t {
		off := v[i] - f.mean - f.slope*(t[i]-f.at)
		f.left += off * off
	}
	f.df = max(0, f.df)
	return f, nil
}

// repeatability is the scatter within the stations.
type repeatability struct{ variance, df float64 }

func pooled(fits []fit) (r repeatability) {
	for _, f := range fits {
		r.variance, r.df = r.variance+f.left, r.df+f.df
	}
	if r.df > 0 {
		r.variance /= r.df
	}
	return r
}

// of is that of one station.
func (r repeatability) of(f fit) (variance, df float64) {
	if f.df > 0 && f.left/f.df > r.variance {
		return f.left / f.df, f.df
	}
	return r.variance, max(r.df, 1)
}

// common is the slope within the stations, those apart left out.
func common(fits []fit, apart []bool) (slope, squares float64) {
	for i, f := range fits {
		if !apart[i] {
			slope, squares = slope+f.slope*f.squares, squares+f.squares
		}
	}
	if squares > 0 {
		slope /= squares
	}
	return slope, squares
}

func median(values []float64) float64 {
	return stats.QuantileSorted(slices.Sorted(slices.Values(values)), 0.5)
}
