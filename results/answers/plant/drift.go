package plant

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/plant/view"
	"padjig/results/stats"
	"padjig/results/stats/compare"
	"padjig/results/stats/interlab"
	"padjig/results/stats/numeric"
)

// Month is what drifts are told over.
const Month = 30 * 24 * time.Hour

// DriftAsked asks whether the jigs of the stations read the same reference units alike.
type DriftAsked struct {
	Unit       string // serial number of one; empty: all
	From       time.Time
	Simulated  bool
	Confidence float64 // 0: [answers.Confidence]
}

func (a DriftAsked) level() float64 { return cmp.Or(a.Confidence, answers.Confidence) }

// Drift is the answer.
type Drift struct {
	DriftAsked
	Rows        []Reader // unit by unit, what reads farthest from the others first
	Units       []Worn   // those that were compared
	Alone       []string // reference units that one jig alone has read
	Conclusions []answers.Sentence
}

// Worn is a reference unit, and how it changed itself.
type Worn struct {
	Unit    string
	Jigs    int
	Changes float64 // relative, in a month, as all jigs read it
}

// Reader is a jig that reads a reference unit. All is relative: 0.01 is 1 % more.
type Reader struct {
	Unit, Station, Jig string
	Checks             int
	Last               time.Time
	Bias               answers.Estimate // against the median of the others
	En                 float64          // bias over its expanded uncertainty, k = 2
	BiasP              answers.Chance   // adjusted for all that was looked at
	Moves              answers.Estimate // in a month, against the median of the others
	MovesP             answers.Chance   // likewise
	Biased, Moving     bool
	Few                bool // checks: nothing is judged
}

// AskDrift compares what jigs read of each reference unit. A check stands for one value: how much more the
// keys read than they do with all jigs, the median over the keys, so that one contact decides nothing. Keys
// that not every jig has read are left out.
func AskDrift(ctx context.Context, s *results.Store, a DriftAsked) (Drift, error) {
	d := Drift{DriftAsked: a}
	list, err := s.Plant.References(ctx, a.Unit, a.Simulated, a.From)
	if err != nil {
		return d, err
	}
	units := map[string][]view.Reading{}
	for _, r := range list {
		units[r.Unit] = append(units[r.Unit], r)
	}
	for _, unit := range slices.Sorted(maps.Keys(units)) {
		if err := d.unit(unit, units[unit]); err != nil {
			return d, err
		}
	}
	d.adjust()
	slices.SortStableFunc(d.Rows, func(a, b Reader) int {
		return cmp.Or(strings.Compare(a.Unit, b.Unit), cmp.Compare(size(b.Bias.Value), size(a.Bias.Value)))
	})
	d.Conclusions = d.words()
	months, err := s.Plant.RetiredWithin(ctx, a.From, time.Time{})
	d.Conclusions = append(d.Conclusions, answers.Retired(months)...) // checks of those months are not compared
	return d, err
}

func size(x float64) float64 {
	if math.IsNaN(x) {
		return -1
	}
	return math.Abs(x)
}

// jigReadings are what one jig read of a unit.
type jigReadings struct {
	station, jig string
	keys         map[string][]float64         // logarithms
	runs         map[int64]map[string]float64 // likewise, by run
	at           map[int64]time.Time          // of the runs
	stated       []float64                    // relative standard uncertainties
}

func (d *Drift) unit(unit string, list []view.Reading) error {
	var jigs []*jigReadings
	at := map[string]*jigReadings{}
	for _, r := range list {
		j := at[r.Jig]
		if j == nil {
			j = &jigReadings{jig: r.Jig, keys: map[string][]float64{}, runs: map[int64]map[string]float64{}, at: map[int64]time.Time{}}
			at[r.Jig], jigs = j, append(jigs, j)
		}
		j.add(r)
	}
	if len(jigs) < 2 {
		d.Alone = append(d.Alone, unit)
		return nil
	}
	typical := typicalOf(jigs)
	if len(typical) == 0 { // they have no key in common
		d.Alone = append(d.Alone, unit)
		return nil
	}
	stations := make([]interlab.Station, len(jigs))
	for i, j := range jigs {
		stations[i] = j.asCompared(typical)
	}
	c, err := interlab.Compare(stations, d.level())
	if err != nil {
		return err
	}
	d.Units = append(d.Units, Worn{unit, len(jigs), c.Common})
	for i, j := range jigs {
		score := c.Scores[i]
		one := Reader{Unit: unit, Station: j.station, Jig: j.jig, Checks: score.N, Bias: answers.EstimateOf(score.Bias, score.Interval), En: score.En,
			BiasP: answers.Chance(score.P), Moves: answers.EstimateOf(score.Slope, score.Slopes), MovesP: answers.Chance(score.SlopeP),
			Few: math.IsNaN(score.P)}
		for _, t := range j.at {
			if t.After(one.Last) {
				one.Last = t
			}
		}
		d.Rows = append(d.Rows, one)
	}
	return nil
}

func (j *jigReadings) add(r view.Reading) {
	j.station = r.Station // where it was last
	j.keys[r.Key] = append(j.keys[r.Key], math.Log(r.Ohm))
	if j.runs[r.Run] == nil {
		j.runs[r.Run] = map[string]float64{}
	}
	j.runs[r.Run][r.Key], j.at[r.Run] = math.Log(r.Ohm), r.At
	j.stated = append(j.stated, r.U/r.Ohm)
}

// typicalOf is what each key reads: the median over the jigs of their means. Keys that not all
// have read are left out.
func typicalOf(jigs []*jigReadings) map[string]float64 {
	typical := map[string]float64{}
	for key := range jigs[0].keys {
		var means []float64
		for _, j := range jigs {
			if read := j.keys[key]; len(read) > 0 {
				means = append(means, numeric.Mean(read))
			}
		}
		if len(means) == len(jigs) {
			typical[key] = median(means)
		}
	}
	return typical
}

func median(values []float64) float64 {
	return stats.QuantileSorted(slices.Sorted(slices.Values(values)), 0.5)
}

// asCompared is the jig as it is compared.
func (j *jigReadings) asCompared(typical map[string]float64) interlab.Station {
	s := interlab.Station{U: numeric.Mean(j.stated)}
	for _, run := range slices.Sorted(maps.Keys(j.runs)) {
		var more []float64
		for key, read := range j.runs[run] {
			if known, is := typical[key]; is {
				more = append(more, read-known)
			}
		}
		if len(more) > 0 {
			s.Checks = append(s.Checks, interlab.Check{T: float64(j.at[run].UnixMicro()) / float64(Month.Microseconds()), Value: median(more)})
		}
	}
	return s
}

// adjust corrects for looking at every jig with every unit, and for two questions each.
func (d *Drift) adjust() {
	var p []float64
	for _, r := range d.Rows {
		p = append(p, float64(r.BiasP), float64(r.MovesP))
	}
	holm := compare.Holm(p)
	for i := range d.Rows {
		r := &d.Rows[i]
		r.BiasP, r.MovesP = answers.Chance(holm[2*i]), answers.Chance(holm[2*i+1])
		r.Biased, r.Moving = holm[2*i] < 1-d.level(), holm[2*i+1] < 1-d.level()
		r.Bias, r.Moves = relative(r.Bias), relative(r.Moves)
	}
}

// relative turns differences of logarithms into parts.
func relative(e answers.Estimate) answers.Estimate {
	return answers.Estimate{Value: math.Expm1(e.Value), Low: math.Expm1(e.Low), High: math.Expm1(e.High)}
}

func (d Drift) words() (out []answers.Sentence) {
	if len(d.Rows) == 0 {
		return []answers.Sentence{answers.Say("plant.drift.nothing")}
	}
	percent := func(x float64, digits int) answers.Number { return answers.Number{Value: 100 * x, Digits: digits} }
	var few answers.Names
	widest := 0.0
	for _, r := range d.Rows {
		name := r.Station + " " + r.Jig
		if r.Few {
			few = append(few, name+" ("+r.Unit+")")
			continue
		}
		widest = max(widest, (r.Bias.High-r.Bias.Low)/2)
		if r.Biased {
			out = append(out, answers.Warn("plant.drift.reads", name, percent(r.Bias.Value, 2), percent(r.Bias.Low, 2), percent(r.Bias.High, 2),
				r.Unit, answers.Number{Value: r.En, Digits: 1}, r.BiasP))
		}
		if r.Moving {
			out = append(out, answers.Warn("plant.drift.moves", name, percent(r.Moves.Value, 2), percent(r.Moves.Low, 2), percent(r.Moves.High, 2),
				r.Unit, r.MovesP))
		}
	}
	if len(out) == 0 && widest > 0 {
		out = append(out, answers.Say("plant.drift.alike", len(d.Rows), percent(widest, 1)))
	}
	for _, u := range d.Units {
		if u.Jigs == 2 {
			out = append(out, answers.Say("plant.drift.two", u.Unit))
		}
	}
	out = append(out, answers.Say("plant.drift.tests", len(d.Rows)))
	if len(few) > 0 {
		out = append(out, answers.Say("plant.drift.few", interlab.LeastChecks, few))
	}
	if len(d.Alone) > 0 {
		out = append(out, answers.Say("plant.drift.alone", answers.Names(d.Alone)))
	}
	return out
}
