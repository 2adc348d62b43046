package jigs

import (
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/calibrate"
)

// measuringView is what a jig measures with, as far as it is on record: how far each range
// reads from what is certified, how uncertain one reading is, and what its self-test found.
type measuringView struct {
	At     time.Time    `json:"at,omitzero"` // of the verification; zero: there was none
	Ranges []rangeView  `json:"ranges"`
	Noise  readRow      `json:"noise"` // of the range where it takes most of the limit
	Self   selfTestView `json:"self_test"`
}

// rangeView is a range by the last verification.
type rangeView struct {
	Name      string  `json:"name"`
	Deviation readRow `json:"deviation"`
	Noise     readRow `json:"noise"`
}

type selfTestView struct {
	Runs    int    `json:"runs"`
	Stopped int    `json:"stopped"`
	Say     string `json:"says"`
}

// Long and Over make the bar of it: how many of the runs looked at it stopped.
func (s selfTestView) Long() int { return bar(float64(s.Stopped) / float64(max(s.Runs, 1))) }

// Over reports whether it stopped any: a jig that cannot read itself measures nobody.
func (s selfTestView) Over() bool { return s.Stopped > 0 }

func measuringOf(w page.Words, last *care.StoredCalibration, self care.SelfTests) measuringView {
	out := measuringView{Ranges: []rangeView{}, Self: selfTestOf(w, self)}
	if last == nil {
		return out
	}
	out.At = last.Performed
	for _, r := range calibrate.Ranges(last.Calibration) {
		view := rangeView{Name: r.Reference.String(), Noise: noiseOf(w, last.Calibration, r)}
		view.Deviation = readRow{Name: view.Name, Value: percent(w, r.Deviation), Limit: percent(w, r.Limit), Part: abs(r.Deviation / r.Limit), Good: r.Good}
		out.Ranges = append(out.Ranges, view)
		if view.Noise.Part >= out.Noise.Part {
			out.Noise = view.Noise
		}
	}
	return out
}

// noiseOf is the largest uncertainty of a reading in a range, as a part of what the limit
// lets it deviate. Noise and resolution are in it, the certificate is not.
func noiseOf(w page.Words, c sequence.Calibration, of calibrate.RangeCheck) readRow {
	out := readRow{Name: of.Reference.String()}
	for _, r := range c.Readings {
		if part := 2 * float64(r.Measured.U/r.Limit); r.Reference == of.Reference && part >= out.Part {
			out.Part, out.Good = part, part <= 1
			out.Value, out.Limit = percent(w, 2*float64(r.Measured.U/r.Certified.Value)), percent(w, float64(r.Limit/r.Certified.Value))
		}
	}
	return out
}

func selfTestOf(w page.Words, s care.SelfTests) selfTestView {
	out := selfTestView{Runs: s.Runs, Stopped: s.Stopped, Say: w.Say("jig.self.none")}
	switch {
	case s.Stopped > 0 && s.Why.Code == sequence.JigMisreads && len(s.Why.Args) == 4:
		out.Say = w.Say("jig.self.read", s.Stopped, s.Runs, w.Moment(s.Last), s.Why.Args[1], s.Why.Args[2])
	case s.Stopped > 0:
		out.Say = w.Say("jig.self.bad", s.Stopped, s.Runs, w.Moment(s.Last))
	case s.Runs > 0:
		out.Say = w.Say("jig.self.good", s.Runs)
	}
	return out
}

func percent(w page.Words, x float64) string { return w.Num(3, 100*x) + " %" }
