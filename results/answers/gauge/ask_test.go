package gauge

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/answerstest"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/compare"
	"padjig/results/stats/control"
	stat "padjig/results/stats/gauge"
	"padjig/results/store"
	"padjig/results/studies"
	"padjig/sequence"
)

func said(t *testing.T, list []answers.Sentence, code string) answers.Sentence {
	t.Helper()
	i := slices.Index(codes(list), code)
	require.GreaterOrEqual(t, i, 0, "%s in %v", code, codes(list))
	return list[i]
}

var crew = []string{"Ines", "Ann", "Tomas"}

const parts, repeats = 10, 2

// reading is what key 1 or 2, from 0, reads of a part: known, and of some spread.
func reading(part, appraiser, repeat, key int) float64 {
	if key == 0 {
		return float64(60 + 5*part + appraiser + (part+appraiser+repeat)%2)
	}
	return float64(50 + 3*part + (2*part+3*appraiser+repeat)%4)
}

// least is the share of which so many of n or more come up in one case of forty: summed by hand, halved
// until it is found.
func least(x, n int) float64 {
	low, high := 0.0, 1.0
	for range 60 {
		p, sum, term := (low+high)/2, 0.0, math.Pow((low+high)/2, float64(n))
		for k := n; k >= x; k-- {
			sum += term
			term *= float64(k) / float64(n-k+1) * (1 - p) / p
		}
		if sum < 0.025 {
			low = p
		} else {
			high = p
		}
	}
	return low
}

// study measures what is planned as far as taken, and stores each reading.
func study(t *testing.T, taken int, outcome func(studies.Planned) sequence.Outcome) (*results.Store, studies.Study) {
	t.Helper()
	s := answerstest.Store(t)
	plan, err := PlanStudy(parts, len(crew), repeats, 7)
	require.NoError(t, err)
	of := studies.Study{Across: studies.AcrossOperators, Appraisers: crew, Repeats: repeats, Plan: plan, Seed: 7, By: "Eve"}
	for p := range parts {
		of.Parts = append(of.Parts, answerstest.Serial(p))
	}
	of, err = s.Studies.PlanStudy(t.Context(), answerstest.Vents, of)
	require.NoError(t, err)
	for place, p := range plan[:taken] {
		run := answerstest.Run(answerstest.Vents, of.Parts[p.Part], answerstest.Begin.Add(time.Duration(place)*time.Minute),
			reading(p.Part, p.Appraiser, p.Repeat, 0), reading(p.Part, p.Appraiser, p.Repeat, 1), 0)
		run.Operator, run.Purpose = crew[p.Appraiser], sequence.GaugeStudy
		if outcome(p) == sequence.Fail {
			run = answerstest.Failed(run, "key high", 0)
		}
		id, err := s.Runs.Save(t.Context(), answerstest.Vents, run)
		require.NoError(t, err)
		require.NoError(t, s.Studies.AddReading(t.Context(), of.Number, place, id))
	}
	of, err = s.Studies.Study(t.Context(), of.Number)
	require.NoError(t, err)
	return s, of
}

func passes(studies.Planned) sequence.Outcome { return sequence.Pass }

// The analysis of a stored study against one of the readings in their table.
func TestGaugeOfAStoredStudy(t *testing.T) {
	odd := func(p studies.Planned) sequence.Outcome { // part 3 fails always, part 5 once
		if p.Part == 3 || p == (studies.Planned{Part: 5, Appraiser: 1, Repeat: 1}) {
			return sequence.Fail
		}
		return sequence.Pass
	}
	s, of := study(t, parts*len(crew)*repeats, odd)
	g, err := AskGauge(t.Context(), s, GaugeAsked{Study: of, Guard: 0.5,
		Known: map[string]bool{of.Parts[3]: true, of.Parts[5]: false, of.Parts[6]: true}})
	require.NoError(t, err)
	assert.Equal(t, [3]int{2, 2, 1}, [3]int{g.Repeats, len(g.Rows), len(g.Left)})
	assert.ErrorContains(t, g.Left[0], "key 3: 60 readings are no number")
	for key, k := range g.Rows {
		table := make([][][]float64, parts)
		for p := range table {
			for a := range crew {
				table[p] = append(table[p], []float64{reading(p, a, 0, key), reading(p, a, 1, key)})
			}
		}
		full, err := stat.NewCrossed(table)
		require.NoError(t, err)
		anova := full.Reduced()
		want, err := anova.Study(0.95)
		require.NoError(t, err)
		assert.Equal(t, [4]any{want.Component(stat.Gauge).SD(), want.Component(stat.PartToPart).SD(), want.Categories,
			anova.Interaction},
			[4]any{k.GaugeSD, k.PartSD, k.Categories, k.Interaction})
		width := 2 * (answerstest.Keys[key].Limits[1] - anova.Mean)
		assert.InDelta(t, 6*k.GaugeSD/width, k.OfTolerance, 1e-12)
		assert.Equal(t, answers.Chance(full.Cross.P), k.InteractionP)
		assert.Equal(t, table, k.Readings)
	}
	assert.Equal(t, "2", g.Shown.Key, "its gauge takes more of the tolerance")
	require.Greater(t, g.Rows[1].OfTolerance, g.Rows[0].OfTolerance)

	// By hand: nine of ten parts have one verdict every time; of three known parts 6 fails of a
	// bad one and 5 passes of a good one are right, 6 passes of a bad one are not.
	assert.Equal(t, 9, g.SameParts)
	require.Len(t, g.Agreement, 4)
	verdicts := make([][]string, parts)
	var inesAlone [][]string
	for p := range verdicts {
		for a := range crew {
			for r := range repeats {
				verdicts[p] = append(verdicts[p], string(odd(studies.Planned{Part: p, Appraiser: a, Repeat: r})))
			}
		}
		inesAlone = append(inesAlone, verdicts[p][:repeats])
	}
	for i, list := range [][][]string{verdicts, inesAlone} {
		kappa, err := stat.FleissKappa(list, 0.95)
		require.NoError(t, err)
		assert.InDelta(t, kappa.Value, g.Agreement[i].Kappa.Value, 1e-12)
		assert.InDelta(t, kappa.Observed, g.Agreement[i].Agreed, 1e-12)
		assert.Equal(t, []string{"", "Ines"}[i], g.Agreement[i].Who)
	}
	right := said(t, g.Conclusions, "gauge.right")
	assert.Equal(t, []any{11, 18}, right.Args[:2])
	assert.Equal(t, []answers.Sentence{answers.Warn("gauge.chosen")}, g.Before, "two are known to be bad")
	assert.Equal(t, g.Before[0], g.Conclusions[0])
	assert.Nil(t, g.Shown.Risks, "parts chosen for their faults are no production")
	assert.NotContains(t, codes(g.Conclusions), "gauge.risks")
	// One end by itself holds with half of what the interval leaves: 2.5 %, as docs/statistics.md has it.
	for code, want := range map[string]float64{"gauge.right": least(11, 18), "gauge.falserejects": 1 - least(5, 6), "gauge.falseaccepts": 1 - least(6, 12)} {
		assert.InDelta(t, want, said(t, g.Conclusions, code).Args[2].(answers.Percent).Value, 1e-9, code)
	}
	assert.Equal(t, []any{1, 6}, said(t, g.Conclusions, "gauge.falserejects").Args[:2])
	assert.Equal(t, []any{6, 12}, said(t, g.Conclusions, "gauge.falseaccepts").Args[:2])
	assert.Equal(t, answers.Warn("gauge.left", 1, g.Left[0].Error()), said(t, g.Conclusions, "gauge.left"))
	assert.Equal(t, []any{9, 10}, said(t, g.Conclusions, "gauge.agreed").Args[:2])
	assert.Contains(t, codes(g.Conclusions), "gauge.kappa")

	g, err = AskGauge(t.Context(), s, GaugeAsked{Study: of, Key: "1"})
	require.NoError(t, err)
	assert.Equal(t, []answers.Sentence{answers.Say("gauge.drawn")}, g.Before, "nothing is known of its parts")
	assert.Equal(t, "1", g.Shown.Key, "as asked")
	missing := new(lines.MissingKeysError)
	_, err = AskGauge(t.Context(), s, GaugeAsked{Study: of, Key: "99"})
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, lines.MissingKeysError{Missing: []string{"99"}, Known: []string{"1", "2", "3"}}, *missing)
	of.Hash = "none"
	_, err = AskGauge(t.Context(), s, GaugeAsked{Study: of})
	assert.ErrorIs(t, err, store.ErrNotFound)
}

func TestGaugeOfAnUnfinishedStudy(t *testing.T) {
	s, of := study(t, 20, passes)
	incomplete := new(IncompleteError)
	_, err := AskGauge(t.Context(), s, GaugeAsked{Study: of})
	require.ErrorAs(t, err, &incomplete)
	assert.Equal(t, IncompleteError{Taken: 20, Planned: 60}, *incomplete)
	_, err = PlanStudy(1, 1, 1, 7)
	assert.Error(t, err, "one part tells nothing")
}

// All passed: nothing is said of agreement beyond chance; no state of a part is known.
func TestGaugeOfOneVerdict(t *testing.T) {
	s, of := study(t, parts*len(crew)*repeats, passes)
	g, err := AskGauge(t.Context(), s, GaugeAsked{Study: of, Measure: lines.Closing, Known: map[string]bool{"another unit": true}})
	require.NoError(t, err)
	assert.Contains(t, codes(g.Conclusions), "gauge.nokappa")
	assert.Contains(t, codes(g.Conclusions), "gauge.noknown")
	assert.Error(t, g.Agreement[0].Why)
	assert.Equal(t, parts, g.SameParts)
	// Bounce is 10 us an ohm here, held against 10 ms.
	assert.InDelta(t, 0.01*(60+22.5+1+0.5), g.Rows[0].Mean, 1e-9)
	// Nothing was read of one measure: each key says why.
	_, err = AskGauge(t.Context(), s, GaugeAsked{Study: of, Measure: lines.Forward})
	assert.ErrorContains(t, err, "key 1: 60 readings are no number")
	assert.ErrorContains(t, err, "key 2: ")
}

// What is said of a gauge by its part of the tolerance (common practice: 10 % and 30 %).
func TestGaugeWordsByTolerance(t *testing.T) {
	a := published(t)
	g, err := a.ask()
	require.NoError(t, err)
	for share, want := range map[float64]string{0.0999: "gauge.good", 0.1: "gauge.fair", 0.3: "gauge.fair", 0.301: "gauge.unfit",
		math.NaN(): "gauge.notolerance"} {
		g.Shown.OfTolerance = share
		said := gauging{Gauge: g}.gaugeWords()[1]
		assert.Equal(t, want, said.Code, "%g", share)
		assert.Equal(t, want == "gauge.unfit", said.Tone == answers.Attention)
	}
	g.Shown.Interaction = true
	assert.Contains(t, codes(gauging{Gauge: g}.gaugeWords()), "gauge.kept")
	g.Shown.Interaction = false
	assert.Contains(t, codes(gauging{Gauge: g}.gaugeWords()), "gauge.pooled")
	g.Shown.Risks = &Misjudged{Accepted: 1e-4, Rejected: 2e-4, Bad: 1e-2}
	assert.Equal(t, answers.Say("gauge.retest", answers.Short(2e-4/0.99), answers.Short(1e-2), answers.Short(1e-2)),
		said(t, gauging{Gauge: g}.gaugeWords(), "gauge.retest"))
	g.Shown.Risks = &Misjudged{}
	assert.NotContains(t, codes(gauging{Gauge: g}.gaugeWords()), "gauge.retest", "no unit is bad")

	// No risks without limits, without a spread of the gauge, or of the parts.
	k := g.Shown
	m := gauging{Gauge: g}
	assert.Nil(t, m.misjudges(k, answers.SpecOf([2]float64{})))
	for _, set := range []func(*KeyGauge){func(k *KeyGauge) { k.GaugeSD = 0 }, func(k *KeyGauge) { k.PartSD = 0 }} {
		one := k
		set(&one)
		assert.Nil(t, m.misjudges(one, answers.SpecOf([2]float64{0, 27})))
	}
	assert.True(t, math.IsNaN(ofTolerance(stat.Component{}, 0)))
}

// Among keys without limits the worst is the one whose gauge takes most of what is seen;
// one with limits comes before all of them.
func TestKeyThatIsShown(t *testing.T) {
	of := func(key string, tolerance, study float64) KeyGauge {
		return KeyGauge{Key: key, OfTolerance: tolerance, Components: []GaugeComponent{{OfStudy: study}}}
	}
	nan := math.NaN()
	for want, rows := range map[string][]KeyGauge{
		"a": {of("a", nan, 0.9), of("b", nan, 0.5)},
		"b": {of("a", nan, 0.4), of("b", nan, 0.5)},
		"c": {of("a", nan, 0.9), of("c", 0.01, 0.1)},
		"d": {of("c", 0.01, 0.9), of("d", 0.02, 0.1)},
	} {
		g := gauging{Gauge: Gauge{Rows: rows}}
		require.NoError(t, g.show())
		assert.Equal(t, want, g.Shown.Key)
	}
}

// By hand: deviations 0.1 and 0.3 of 100 ohm, 0.2 and 0.4 of 200 ohm.
func TestLinearityOfStoredVerifications(t *testing.T) {
	verify := func(day int, low, high float64, kind sequence.CalibrationKind) results.Entry {
		at := answerstest.Begin.AddDate(0, 0, day)
		c := &sequence.Calibration{Kind: kind, Simulated: true, Operator: "Ines", Performed: at, Interval: 24 * time.Hour, Good: true,
			Jig:      sequence.JigName{Serial: answerstest.OtherJig},
			Readings: []sequence.CalibrationReading{answerstest.Reading("A", 100, 100+low), answerstest.Reading("B", 200, 200+high)}}
		if kind == sequence.KindVerify {
			c.Box, c.BoxSerial, c.Certificate, c.CertificateDue = "RB-1", "RB-1-0007", "DEMO-1", at.AddDate(1, 0, 0)
		}
		return results.Entry{At: at, Calibration: c}
	}
	s := answerstest.Store(t, verify(0, 0.1, 0.2, sequence.KindVerify), verify(1, 0.5, 0.5, sequence.KindZero),
		verify(2, 0.3, 0.4, sequence.KindVerify))
	l, err := AskLinearity(t.Context(), s, LinearityAsked{Jig: answerstest.OtherJig, Simulated: true})
	require.NoError(t, err)
	assert.Equal(t, [3]int{4, 2, 1}, [3]int{l.Readings, len(l.Biases), len(l.Lines)}, "an adjustment is no verification")
	for i, want := range []struct {
		resistor  string
		certified float64
		bias      float64
	}{{"A", 100, 0.2}, {"B", 200, 0.3}} {
		b := l.Biases[i]
		assert.Equal(t, [3]any{want.resistor, want.certified, 2}, [3]any{b.Resistor, b.Certified, b.N})
		assert.InDelta(t, want.bias, b.Bias.Value, 1e-9)
		assert.InDelta(t, want.bias/want.certified, b.OfValue, 1e-12)
		assert.InDelta(t, want.bias-12.7062*0.1, b.Bias.Low, 1e-4, "Student's t of one degree of freedom")
	}
	line := l.Lines[0]
	require.NoError(t, line.Why)
	assert.InDelta(t, 0.001, line.Slope.Value, 1e-12)
	assert.InDelta(t, 0.1, line.Intercept.Value, 1e-9)
	assert.Equal(t, [2]any{500.0, 4}, [2]any{line.Range, line.N})

	l, err = AskLinearity(t.Context(), s, LinearityAsked{Jig: answerstest.OtherJig, Simulated: true, Last: 1})
	require.NoError(t, err)
	assert.InDelta(t, 0.3, l.Biases[0].Bias.Value, 1e-9)
	assert.True(t, math.IsNaN(l.Biases[0].Bias.Low) && math.IsNaN(float64(l.Biases[0].P)), "one reading has no interval")
	few := new(stats.TooFewError)
	assert.ErrorAs(t, l.Lines[0].Why, &few)
	for _, jig := range []LinearityAsked{{Jig: "J-9", Simulated: true}, {Jig: answerstest.OtherJig}} {
		_, err = AskLinearity(t.Context(), s, jig)
		assert.ErrorIs(t, err, ErrNoVerification)
	}

	l, err = linearity(LinearityAsked{Confidence: 0.95}, []verified{{500, "A", 100, 100.1}, {500, "A", 100, 100.2},
		{500, "A", 100, 100.3}, {50, "C", 10, 10.1}})
	require.NoError(t, err)
	assert.Equal(t, [2]float64{50, 500}, [2]float64{l.Lines[0].Range, l.Lines[1].Range}, "in order of the ranges")
	assert.EqualError(t, l.Lines[1].Why, "one resistor only")
	assert.True(t, math.IsNaN(l.Lines[1].Slope.Value))
}

// checks stores good checks of a reference unit, one a day, key 1 as it is given and key 2
// as good as never read; the last one of all was no good.
func checks(t *testing.T, ohms []float64) *results.Store {
	t.Helper()
	s := answerstest.Store(t)
	for i, ohm := range append(slices.Clone(ohms), 500) {
		second := 0.0
		if i == 0 {
			second = 70
		}
		run := answerstest.Run(answerstest.Vents, "REF-1", answerstest.Begin.AddDate(0, 0, i), ohm, second, 80)
		id, err := s.Runs.Save(t.Context(), answerstest.Vents, run)
		require.NoError(t, err)
		check := care.ReferenceCheck{Run: id, Unit: "REF-1"}
		if i == len(ohms) {
			check.Why = []sequence.Said{{Code: sequence.AtKey, Args: []string{"1", "R1", "C1"}}}
		}
		require.NoError(t, s.Care.SaveReferenceCheck(t.Context(), check))
	}
	return s
}

func TestStabilityOfStoredChecks(t *testing.T) {
	var ohms, days []float64
	for i := range 12 {
		ohms, days = append(ohms, 60+2*float64(i)+[]float64{0.5, -0.5, 0}[i%3]), append(days, float64(i))
	}
	s := checks(t, ohms)
	asked := StabilityAsked{Jig: answerstest.OtherJig, Unit: "REF-1", Simulated: true}
	st, err := AskStability(t.Context(), s, asked)
	require.NoError(t, err)
	assert.Equal(t, [2]int{12, 3}, [2]int{st.Checks, len(st.Rows)}, "one was no good")
	assert.True(t, st.From.Equal(answerstest.Begin) && st.To.Equal(answerstest.Begin.AddDate(0, 0, 11)))
	line, err := stat.FitLine(days, ohms, 0.95)
	require.NoError(t, err)
	base, err := control.NewIndividuals(ohms)
	require.NoError(t, err)
	k := st.Rows[0]
	assert.InDelta(t, line.Slope, k.PerDay.Value, 1e-9)
	assert.InDelta(t, line.SlopeInterval.Low, k.PerDay.Low, 1e-9)
	assert.InDelta(t, base.Mean, k.Mean, 1e-9)
	assert.InDelta(t, base.Sigma, k.SD, 1e-9)
	outside := 0
	for _, v := range ohms {
		if base.Limits().Out(v) {
			outside++
		}
	}
	require.Positive(t, outside)
	assert.Equal(t, [3]any{12, outside, true}, [3]any{k.N, k.Outside, k.Limited})
	few := new(stats.TooFewError)
	assert.ErrorAs(t, st.Rows[1].Why, &few)
	assert.ErrorIs(t, st.Rows[2].Why, stats.ErrNoSpread)
	assert.Equal(t, [2]any{1, false}, [2]any{st.Rows[1].N, st.Rows[1].Limited})
	holm := compare.Holm([]float64{line.SlopeP, math.NaN(), math.NaN()})
	assert.InDelta(t, holm[0], float64(k.P), 1e-15)
	assert.Equal(t, []answers.Sentence{answers.Warn("stability.words", 1, 3)}, st.Conclusions)

	for name, other := range map[string]StabilityAsked{
		"another jig":  {Jig: "J-9", Unit: "REF-1", Simulated: true},
		"another unit": {Jig: answerstest.OtherJig, Unit: "REF-2", Simulated: true},
		"real checks":  {Jig: answerstest.OtherJig, Unit: "REF-1"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := AskStability(t.Context(), s, other)
			assert.ErrorIs(t, err, ErrNoChecks)
		})
	}
	_, err = AskStability(t.Context(), checks(t, ohms[:7]), asked)
	require.ErrorAs(t, err, &few)
	assert.Equal(t, stats.TooFewError{Have: 7, Need: 8, What: "good checks"}, *few)
	assert.ErrorContains(t, err, "to see whether REF-1 wanders on jig "+answerstest.OtherJig)

	calm, err := AskStability(t.Context(), checks(t, []float64{60, 61, 60, 61, 60, 61, 60, 61}), asked)
	require.NoError(t, err, "eight are enough")
	assert.Equal(t, []answers.Sentence{answers.Say("stability.words", 0, 3)}, calm.Conclusions)
}

// Two readings have limits and no trend: a line needs three.
func TestStabilityWithoutATrend(t *testing.T) {
	at := func(i int) time.Time { return answerstest.Begin.AddDate(0, 0, i) }
	k, p := stabilityOf("7", []float64{60, math.NaN(), 62}, []time.Time{at(0), at(1), at(2)}, 0.95)
	assert.ErrorContains(t, k.Why, "no trend: ")
	assert.Equal(t, [3]any{2, true, 61.0}, [3]any{k.N, k.Limited, k.Mean})
	assert.True(t, math.IsNaN(p) && math.IsNaN(k.PerDay.Value))
}
