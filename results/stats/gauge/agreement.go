package gauge

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"padjig/results/stats"
	"padjig/results/stats/interval"
	"padjig/results/stats/numeric"
)

// Kappa is agreement beyond what chance gives: 1 is complete, 0 no better
// than chance.
type Kappa struct {
	N        int     // units
	Observed float64 // share agreed
	ByChance float64
	Value    float64
	SE       float64
	Interval stats.Interval
}

var errNoDisagreement = errors.New("only one verdict was ever given: agreement beyond chance has no meaning")

func kappaInterval(k Kappa, confidence float64) stats.Interval {
	half := numeric.TwoSided(confidence) * k.SE
	return stats.Interval{Low: max(-1, k.Value-half), High: min(1, k.Value+half), Confidence: confidence}
}

// FleissKappa compares several verdicts on each unit, as many on each, by
// whoever (Fleiss 1971), with Gwet's standard error (2008), which holds when
// there is agreement; Fleiss's own is for a kappa of 0. Errors: fewer than
// two units, fewer than two verdicts or unequally many, one verdict only.
func FleissKappa(verdicts [][]string, confidence float64) (Kappa, error) {
	if len(verdicts) < 2 {
		return Kappa{}, &stats.TooFewError{Have: len(verdicts), Need: 2, What: "units"}
	}
	if err := stats.CheckConfidence(confidence); err != nil {
		return Kappa{}, err
	}
	each := len(verdicts[0])
	if each < 2 {
		return Kappa{}, &stats.TooFewError{Have: each, Need: 2, What: "verdicts a unit"}
	}
	counts := make([]map[string]float64, len(verdicts))
	overall := map[string]float64{}
	for i, unit := range verdicts {
		if len(unit) != each {
			return Kappa{}, fmt.Errorf("unit %d has %d verdicts, unit 1 has %d: as many are needed on each", i+1, len(unit), each)
		}
		counts[i] = map[string]float64{}
		for _, v := range unit {
			counts[i][v]++
			overall[v] += 1 / float64(each*len(verdicts))
		}
	}
	return fleiss(counts, overall, float64(each), confidence)
}

func fleiss(counts []map[string]float64, overall map[string]float64, each, confidence float64) (Kappa, error) {
	k := Kappa{N: len(counts)}
	n := float64(k.N)
	for _, verdict := range sortedKeys(overall) {
		k.ByChance += overall[verdict] * overall[verdict]
	}
	if k.ByChance > 1-1e-12 {
		return Kappa{}, errNoDisagreement
	}
	agreed, chance := make([]float64, k.N), make([]float64, k.N)
	for i, unit := range counts {
		for _, v := range sortedKeys(unit) {
			agreed[i] += unit[v] * (unit[v] - 1) / (each * (each - 1))
			chance[i] += overall[v] * unit[v] / each
		}
	}
	k.Observed = numeric.Mean(agreed)
	k.Value = (k.Observed - k.ByChance) / (1 - k.ByChance)
	squared := 0.0
	for i := range agreed {
		own := (agreed[i]-k.ByChance)/(1-k.ByChance) - 2*(1-k.Value)*(chance[i]-k.ByChance)/(1-k.ByChance)
		squared += (own - k.Value) * (own - k.Value)
	}
	k.SE = math.Sqrt(squared / (n * (n - 1)))
	k.Interval = kappaInterval(k, confidence)
	return k, nil
}

// A Judged is one verdict on a unit whose state is known.
type Judged struct{ Bad, Passed bool }

// Effectiveness is how verdicts agree with what the units are.
type Effectiveness struct {
	Right, N         int
	Agreement        stats.Interval // Clopper-Pearson, for the share right
	FalseRejects, Go int            // good units failed, of verdicts on good units
	FalseAccepts, No int            // bad units passed, of verdicts on bad units
	FalseReject      stats.Interval // NaN without a verdict on a good unit
	FalseAccept      stats.Interval
}

// AgainstReference counts them, with exact intervals. Repeated verdicts on
// few units are worth less than their number. Errors: no verdicts, confidence
// outside 0..1.
func AgainstReference(verdicts []Judged, confidence float64) (Effectiveness, error) {
	var e Effectiveness
	for _, v := range verdicts {
		e.N++
		switch {
		case v.Bad && v.Passed:
			e.FalseAccepts++
		case !v.Bad && !v.Passed:
			e.FalseRejects++
		default:
			e.Right++
		}
		if v.Bad {
			e.No++
		} else {
			e.Go++
		}
	}
	var err error
	if e.Agreement, err = interval.ClopperPearson(e.Right, e.N, confidence); err != nil {
		return Effectiveness{}, err
	}
	e.FalseReject, e.FalseAccept = exactOrNaN(e.FalseRejects, e.Go, confidence), exactOrNaN(e.FalseAccepts, e.No, confidence)
	return e, nil
}

func exactOrNaN(x, n int, confidence float64) stats.Interval {
	i, err := interval.ClopperPearson(x, n, confidence)
	if err != nil {
		return stats.Interval{Low: math.NaN(), High: math.NaN(), Confidence: confidence}
	}
	return i
}

// sortedKeys lists what a map holds, in order.
func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
