package commission

import (
	"math"
	"strconv"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/judge"
)

const (
	// sure is how many standard uncertainties a value may be off what the jig states: a jig
	// that is as good as it says stays inside in all but 6 of 100,000 readings (two-sided
	// normal, computed), as at a verification.
	sure = 4
	// reach is how many times its reference resistor the largest resistance is that a range is
	// verified with.
	reach = 10
)

// Checks judges what a jig read of itself: its check resistors against their values, the ends
// of the converter's scale, what the inputs take, and how noisy it is.
func Checks(jig fixture.Capabilities, checks []fixture.Resistance, own fixture.Own) Result {
	if len(checks) == 0 {
		return Skipped(SelfTest, "no check resistors")
	}
	var figures []Figure
	for i, got := range checks {
		off := float64(got.Value - jig.Checks[i].Ohm)
		f := most("check", i+1, off, float64(judge.CheckBand(jig, i, got)), "ohm")
		f.Good = f.Good && !got.AtLeast
		figures = append(figures, f)
	}
	doubts := map[fixture.Doubt]bool{}
	for _, d := range own.Doubts(jig) {
		doubts[d] = true
	}
	vref := float64(jig.Vref)
	doubted := func(of string, value, limit float64, unit string, d fixture.Doubt) {
		f := most(of, 0, value, limit, unit)
		f.Good = !doubts[d]
		figures = append(figures, f)
	}
	bounds := own.Bounds(jig)
	for _, end := range []struct {
		of  string
		off float64
	}{{"ground", own.Ground.Value}, {"vref", own.Vref.Value - 1}} {
		figures = append(figures, most(end.of, 0, end.off*vref, bounds.Scale*vref, "V"))
	}
	if own.Input.Fed > 0 {
		doubted("input", float64(own.Input.Value), float64(bounds.Input), "A", fixture.DoubtInputs)
	}
	doubted("noise", own.Noise.Deviation*vref, bounds.Noise*vref, "V", fixture.DoubtNoise)
	return Judged(SelfTest, figures)
}

// Through is the current between a channel and all others, with its standard uncertainty.
type Through struct {
	Channel    int // from 0
	Current, U quantity.Ampere
}

// Leaks judges currents that flow where nothing connects: each must be what the inputs are
// stated to take, within what the jig states of its bias, noise and references.
func Leaks(all []Through) Result {
	var figures []Figure
	for _, t := range all {
		figures = append(figures, most("leak", t.Channel+1, float64(t.Current), sure*float64(t.U), "A"))
	}
	return Judged(Leakage, figures)
}

// Swing is how far the line of a channel was moved while nothing drove it elsewhere, from one
// end to the other, and how much of it was at the frequencies of mains.
type Swing struct {
	Channel           int     // from 0
	Whole, At50, At60 float64 // parts of Vref; the latter two as peak to peak
}

// SwingLimit is the largest swing, from one end to the other as a part of Vref, with which the
// largest resistance that the jig is verified with can still be read over whole periods: the
// deviation of a sine may be a quarter of the current's part, beyond which a converter that
// stops at its ends makes a current of it that does not flow ([fixture.Done.Swamped]).
func SwingLimit() float64 { return 2 * math.Sqrt2 / (4 * (1 + reach)) }

// Hum judges swings.
func Hum(jig fixture.Capabilities, all []Swing) Result {
	var figures []Figure
	vref := float64(jig.Vref)
	for _, s := range all {
		figures = append(figures, most(swingOf(s), s.Channel+1, s.Whole*vref, SwingLimit()*vref, "V"))
	}
	return Judged(Mains, figures)
}

// mostly is the part of a swing from which on it is said to be of a frequency.
const mostly = 0.5

func swingOf(s Swing) string {
	switch {
	case s.At50 >= s.At60 && s.At50 > mostly*s.Whole:
		return "swing at 50 Hz"
	case s.At60 > mostly*s.Whole:
		return "swing at 60 Hz"
	}
	return "swing"
}

// Holds is what a line holds, with its standard uncertainty. Fast is set where it settled
// before it could be seen: then it holds no more than Farad.
type Holds struct {
	Channel  int // from 0
	Farad, U quantity.Farad
	Fast     bool
}

// HoldsLimit is what a line may hold with a step: with an empty nest what the jig states of a
// channel with its cable, with a keypad what still settles within the waits of every range.
func HoldsLimit(step Step, jig fixture.Capabilities) quantity.Farad {
	if step == Capacitance {
		return quantity.Farad(jig.LineFarad)
	}
	return SlowFrom(jig)
}

// Lines judges what lines hold.
func Lines(step Step, jig fixture.Capabilities, all []Holds) Result {
	limit := HoldsLimit(step, jig)
	var figures []Figure
	for _, h := range all {
		of := "holds"
		if h.Fast {
			of = "holds at most"
		}
		f := most(of, h.Channel+1, float64(h.Farad), float64(limit), "F")
		f.Good = float64(h.Farad)-sure*float64(h.U) <= float64(limit)
		if h.Fast && !f.Good { // not known, rather than bad
			return Skipped(step, "too fast to see", h.Farad.String(), limit.String())
		}
		figures = append(figures, f)
	}
	return Judged(step, figures)
}

// SlowFrom is what a line may hold at most so that on every range, after the wait that a stage
// makes there, no more of a step is left than the uncertainty (k = 2) that the jig states of
// reading its reference resistor: C = t / (R ln(1/U)).
func SlowFrom(jig fixture.Capabilities) quantity.Farad {
	limit := math.Inf(1)
	for i, ref := range jig.Ranges {
		r := fixture.NewRoutine(jig)
		r.Stage(fixture.Stage{Range: i, Feed: []int{0}, Patient: ref.Ohm >= fixture.PatientFrom})
		expected := jig.Expect(ref.Ohm, i, glance)
		left := 2 * float64(expected.U/expected.Value)
		limit = min(limit, r.Takes().Seconds()/(float64(ref.Ohm)*math.Log(1/min(left, 0.5))))
	}
	return quantity.Farad(limit)
}

// glance is the samples of a usual reading.
const glance = 32

// Stroke is when a contact under an actuator closed after it was sent down, and opened after
// it was sent up.
type Stroke struct {
	Actuator            int // from 0
	Down, Up            time.Duration
	Closed, OpenedAgain bool
}

// Strokes judges travel against what the jig states.
func Strokes(jig fixture.Capabilities, all []Stroke) Result {
	var figures []Figure
	for _, s := range all {
		down := most("down", s.Actuator+1, s.Down.Seconds(), jig.TravelDown.Seconds(), "s")
		up := most("up", s.Actuator+1, s.Up.Seconds(), jig.TravelUp.Seconds(), "s")
		down.Good, up.Good = down.Good && s.Closed, up.Good && s.OpenedAgain
		figures = append(figures, down, up)
	}
	return Judged(Travel, figures)
}

// Stopped is what was seen of an input that stops motion.
type Stopped struct {
	Seen    bool // the jig said so when it was opened, or pressed
	Refused bool // it refused a routine meanwhile
	Dead    bool // the actuators' supply was dead meanwhile; only of a jig that senses it
	Counted int  // openings that it counted meanwhile
	Freed   bool // it answered again when all was closed
}

// Stops judges an input that stops motion.
func Stops(step Step, jig fixture.Capabilities, s Stopped) Result {
	yes := func(of string, is bool) Figure {
		if is {
			return least(of, 0, 1, 1, "")
		}
		return least(of, 0, 0, 1, "")
	}
	figures := []Figure{yes("seen", s.Seen), yes("refused", s.Refused)}
	if jig.Rail {
		figures = append(figures, yes("rail dead", s.Dead))
	}
	if step == Guard {
		figures = append(figures, least("counted", 0, float64(s.Counted), 1, ""))
	}
	return Judged(step, append(figures, yes("freed", s.Freed)))
}

// Calibrated is what a zero or a verification says of the jig, each reading against its limit.
func Calibrated(step Step, c sequence.Calibration) Result {
	of := "zero"
	if step == Verify {
		of = "deviation"
	}
	var figures []Figure
	for _, r := range c.Readings {
		f := most(of, r.Channel, float64(r.Deviation.Value), float64(r.Limit), "ohm")
		f.Good = r.Good
		figures = append(figures, f)
	}
	r := Judged(step, figures)
	if !c.Good {
		r.Outcome, r.Why = Fail, sequence.Fact("calibration", c.Reason)
	}
	return r
}

// Laden reports whether loops show that something lies in a nest that has to be empty: the
// channels, from 1, whose two probes are joined.
func Laden(jig fixture.Capabilities, loops []fixture.Resistance) (channels []string) {
	for i, l := range loops {
		if judge.Seated(jig, l) {
			channels = append(channels, strconv.Itoa(i+1))
		}
	}
	return channels
}
