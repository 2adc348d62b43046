package stats

// An Interval holds a parameter with a stated confidence. One that is open on
// a side has an infinity there.
type Interval struct {
	Low, High  float64
	Confidence float64
}

// Contains reports whether x lies in the interval, ends included.
func (i Interval) Contains(x float64) bool { return i.Low <= x && x <= i.High }

// Around is center plus and minus half.
func Around(center, half, confidence float64) Interval {
	return Interval{Low: center - half, High: center + half, Confidence: confidence}
}
