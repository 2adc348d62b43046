package gauge

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results/stats"
	"padjig/results/stats/capability"
	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

type gaugeReference struct {
	Design struct {
		Mean float64 `json:"grand_mean"`
	}
	Full    map[string]anovaLine `json:"anova_interaction"`
	Reduced map[string]anovaLine `json:"anova_pooled"`
	Raw     map[string]float64   `json:"components_full_model_raw"`
	SE      map[string]float64   `json:"components_full_model_asymptotic_se"`
	Pooled  map[string]float64   `json:"components_pooled_raw"`
	FullOut map[string]any       `json:"full_model_negatives_set_to_zero"`
	PoolOut map[string]any       `json:"pooled_model"`
	Ranges  map[string]float64   `json:"average_and_range"`
}

type anovaLine struct {
	DF           int
	SS, MS, F, P float64
	FInteraction float64 `json:"F_vs_interaction"`
}

var nameInReference = map[string]string{
	Gauge: "total_gauge", Repeatability: "repeatability", Reproducibility: "reproducibility", Operators: "operator",
	OperatorPart: "operator_x_part", PartToPart: "part_to_part", TotalVariation: "total_variation",
}

func readStudy(t *testing.T, file string) [][][]float64 {
	parts, operators := map[string]int{}, map[string]int{}
	var y [][][]float64
	for _, r := range reference.Table(t, "gauge/"+file) {
		p, known := parts[r["part"]]
		if !known {
			p = len(y)
			parts[r["part"]] = p
			y = append(y, nil)
		}
		o, known := operators[r["operator"]]
		if !known {
			o = len(operators)
			operators[r["operator"]] = o
		}
		for len(y[p]) <= o {
			y[p] = append(y[p], nil)
		}
		y[p][o] = append(y[p][o], r.Num(t, "y"))
	}
	return y
}

func readGauge(t *testing.T) map[string]gaugeReference {
	var r map[string]gaugeReference
	reference.JSON(t, "gauge/expected.json", &r)
	return r
}

// Source: Montgomery, Design and Analysis of Experiments, example 13.1 (data
// and results seen), and a widely published automotive example (data from
// memory); exact arithmetic, R aov and statsmodels agree.
func TestCrossedStudies(t *testing.T) {
	for file, want := range map[string]string{"montgomery_20x3x2.csv": "montgomery_20x3x2", "aiag_10x3x3.csv": "aiag_10x3x3"} {
		t.Run(want, func(t *testing.T) {
			ref := readGauge(t)[want]
			full, err := NewCrossed(readStudy(t, file))
			require.NoError(t, err)
			reference.Agrees(t, 12, ref.Design.Mean, full.Mean)
			holdLine(t, ref.Full["part"], full.Part)
			holdLine(t, ref.Full["operator"], full.Operator)
			holdLine(t, ref.Full["interaction"], full.Cross)
			holdLine(t, ref.Full["error"], full.Error)
			holdLine(t, ref.Full["total"], full.All)
			reference.Agrees(t, 12, full.All.SS, full.Part.SS+full.Operator.SS+full.Cross.SS+full.Error.SS, "the lines add up")

			pooled := full.Reduced()
			assert.False(t, pooled.Interaction, "P of the interaction is above 0.25")
			holdLine(t, ref.Reduced["part"], pooled.Part)
			holdLine(t, ref.Reduced["operator"], pooled.Operator)
			holdLine(t, ref.Reduced["error"], pooled.Error)

			holdStudy(t, full, ref.Raw, ref.FullOut)
			holdStudy(t, pooled, ref.Pooled, ref.PoolOut)
			study, err := full.Study(0.95)
			require.NoError(t, err)
			for name, key := range map[string]string{PartToPart: "part", Operators: "operator", OperatorPart: "interaction", Repeatability: "repeatability"} {
				reference.Agrees(t, 11, ref.SE[key], study.Component(name).SE, name)
			}
		})
	}
}

func holdLine(t *testing.T, want anovaLine, got Source) {
	t.Helper()
	assert.Equal(t, want.DF, got.DF)
	reference.Agrees(t, 12, want.SS, got.SS)
	if want.MS != 0 {
		reference.Agrees(t, 12, want.MS, got.MS())
	}
	if f := max(want.F, want.FInteraction); f != 0 {
		reference.Agrees(t, 11, f, got.F)
		reference.Agrees(t, 10, want.P, got.P)
	}
}

func holdStudy(t *testing.T, anova Crossed, raw map[string]float64, out map[string]any) {
	t.Helper()
	study, err := anova.Study(0.95)
	require.NoError(t, err)
	for key, name := range map[string]string{"repeatability": Repeatability, "operator": Operators, "part": PartToPart, "interaction": OperatorPart} {
		if want, ok := raw[key]; ok {
			reference.Agrees(t, 11, want, study.Component(name).Raw, name)
		}
	}
	for name, key := range nameInReference {
		want := out[key].(map[string]any)
		got := study.Component(name)
		reference.Agrees(t, 11, want["variance"].(float64), got.Variance, name)
		reference.Agrees(t, 11, want["pct_contribution"].(float64), got.Contribution, name)
		reference.Agrees(t, 11, want["stddev"].(float64), got.SD(), name)
		reference.Agrees(t, 11, want["study_variation_6sd"].(float64), 6*got.SD(), name)
		reference.Agrees(t, 11, want["pct_study_variation"].(float64), got.StudyVariation, name)
		if tolerance, ok := want["pct_tolerance_6sd"]; ok {
			reference.Agrees(t, 11, tolerance.(float64), got.Tolerance(8), name)
		}
	}
	reference.Agrees(t, 11, out["ndc_unrounded"].(float64), study.Ratio)
	reference.Agrees(t, 11, out["ndc_unrounded_1.41"].(float64), study.Ratio*1.41/math.Sqrt2)
	assert.EqualValues(t, out["ndc"], study.Categories)
}

// Source: same book, printed values (seen): SS and MS to 3 decimals, F to 2,
// components to 4, interval of the error to 7.
func TestCrossedStudyPublished(t *testing.T) {
	full, err := NewCrossed(readStudy(t, "montgomery_20x3x2.csv"))
	require.NoError(t, err)
	reference.Printed(t, 3, 0, 1185.425, full.Part.SS)
	reference.Printed(t, 3, 0, 2.617, full.Operator.SS)
	reference.Printed(t, 3, 0, 1274.592, full.All.SS)
	reference.Printed(t, 2, 0, 87.65, full.Part.F)
	reference.Printed(t, 2, 0, 1.84, full.Operator.F)
	reference.Printed(t, 2, 0, 0.72, full.Cross.F)
	reference.Printed(t, 3, 0, 0.173, full.Operator.P)
	reference.Printed(t, 3, 0, 0.861, full.Cross.P)
	reference.Printed(t, 2, 0, 70.64, full.Pooled().Part.F)
	reference.Printed(t, 2, 0, 1.48, full.Pooled().Operator.F)
	study, err := full.Study(0.95)
	require.NoError(t, err)
	reference.Printed(t, 4, 0, -0.1399, study.Component(OperatorPart).Raw)
	reference.Printed(t, 4, 0, 10.2798, study.Component(PartToPart).Raw)
	reference.Printed(t, 7, 0, 0.7143057, study.Component(Repeatability).Interval.Low)
	reference.Printed(t, 7, 0, 1.4697982, study.Component(Repeatability).Interval.High)
	reference.Printed(t, 7, 0, 3.3738173, study.Component(PartToPart).SE)
	total := 0.0
	for _, name := range []string{PartToPart, Operators, OperatorPart, Repeatability} {
		total += study.Component(name).Raw
	}
	reference.Printed(t, 6, 0, 11.146491, total)
}

// The intervals' promise: 10 parts, 3 jigs, 2 repeats, variances 9, 1, 0.5 and
// 2; 1500 studies. The modified large-sample intervals are approximate; they
// are known to cover between 94 and 98 of 100.
func TestComponentIntervalsCover(t *testing.T) {
	source := rand.New(rand.NewPCG(51, 0))
	truth := map[string]float64{
		PartToPart: 9, Operators: 1, OperatorPart: 0.5, Repeatability: 2, Reproducibility: 1.5, Gauge: 3.5, TotalVariation: 12.5,
	}
	covered := map[string]int{}
	const studies = 1500
	for range studies {
		anova, err := NewCrossed(madeUpStudy(source, 10, 3, 2))
		require.NoError(t, err)
		study, err := anova.Study(0.95)
		require.NoError(t, err)
		for _, c := range study.Components {
			if c.Interval.Contains(truth[c.Name]) {
				covered[c.Name]++
			}
		}
	}
	for name := range truth {
		assert.InDelta(t, 0.96, float64(covered[name])/studies, 0.033, name)
	}
}

func madeUpStudy(source *rand.Rand, parts, operators, repeats int) [][][]float64 {
	y := make([][][]float64, parts)
	level := make([]float64, operators)
	for o := range level {
		level[o] = source.NormFloat64()
	}
	for p := range y {
		part := 3 * source.NormFloat64()
		y[p] = make([][]float64, operators)
		for o := range level {
			cell := part + level[o] + math.Sqrt(0.5)*source.NormFloat64()
			for range repeats {
				y[p][o] = append(y[p][o], 40+cell+math.Sqrt2*source.NormFloat64())
			}
		}
	}
	return y
}

func TestStudyDoesNotMindOrderOrScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		source := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		y := madeUpStudy(source, 4, 3, 2)
		a, err := NewCrossed(y)
		require.NoError(t, err)
		for p := range y {
			slices.Reverse(y[p])
			for o := range y[p] {
				slices.Reverse(y[p][o])
				for r := range y[p][o] {
					y[p][o][r] = y[p][o][r]*8 + 5
				}
			}
		}
		slices.Reverse(y)
		b, err := NewCrossed(y)
		require.NoError(t, err)
		assert.InEpsilon(t, a.Part.SS*64, b.Part.SS, 1e-9)
		assert.InEpsilon(t, a.Cross.SS*64, b.Cross.SS, 1e-9)
		study, err := b.Study(0.9)
		require.NoError(t, err)
		for _, c := range study.Components {
			assert.True(t, c.Interval.Low <= c.Variance+1e-9 && c.Variance <= c.Interval.High+1e-9, "%s %+v", c.Name, c)
		}
	})
}

func TestStudiesThatHaveNoAnswer(t *testing.T) {
	_, err := NewCrossed(nil)
	assert.ErrorIs(t, err, stats.ErrEmpty)
	_, err = NewCrossed([][][]float64{{{1}}})
	assert.EqualError(t, err, "1 part where at least 2 are needed\n1 operator where at least 2 are needed\n1 repeat where at least 2 are needed")
	_, err = NewCrossed([][][]float64{{{1, 2}, {1, 2}}, {{1, 2}, {1}}})
	assert.ErrorContains(t, err, "part 2 has 1 readings by operator 2 where there should be 2")
	_, err = NewCrossed([][][]float64{{{1, 2}, {1, 2}}, {{1, 2}}})
	assert.ErrorContains(t, err, "not balanced")
	_, err = NewCrossed([][][]float64{{{1, 1}, {1, 1}}, {{1, 1}, {1, 1}}})
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = PlanStudy(1, 3, 1, 7)
	assert.ErrorContains(t, err, "1 part where")
}

func TestPlanHasEveryReadingOnceAndIsMixed(t *testing.T) {
	plan, err := PlanStudy(10, 3, 2, 7)
	require.NoError(t, err)
	again, err := PlanStudy(10, 3, 2, 7)
	require.NoError(t, err)
	other, err := PlanStudy(10, 3, 2, 8)
	require.NoError(t, err)
	assert.Equal(t, plan, again)
	assert.NotEqual(t, plan, other)
	seen := map[PlannedReading]bool{}
	inOrder := 0
	for i, r := range plan {
		seen[r] = true
		assert.Equal(t, i/30, r.Repeat, "a repeat is over before the next begins")
		if i > 0 && plan[i-1].Part <= r.Part {
			inOrder++
		}
	}
	assert.Len(t, seen, 60)
	assert.Less(t, inOrder, 50)
}

// Source: e-Handbook 2.6.1, silicon wafers (levels computed; seen and
// remembered figures agree): repeatability over days, days, and runs.
func TestNestedLevelsOfACheckStandard(t *testing.T) {
	var want struct {
		Mpc struct {
			Computed map[string]map[string]any
			One      map[string]string `json:"computed_wafer140_probe2362"`
		} `json:"gauge_mpc61"`
	}
	reference.JSON(t, "handbook/expected.json", &want)
	rows := reference.Table(t, "handbook/mpc61_resistivity.csv")
	seen := map[string]float64{"138": 0.0223, "139": 0.0027, "140": 0.0289, "141": 0.0133, "142": 0.0205}
	require.Len(t, want.Mpc.Computed, 5)
	for probe, levels := range want.Mpc.Computed {
		squares, df := 0.0, 0.0 // of the readings in quick succession
		days, runs := map[string][]float64{}, map[string][]float64{}
		for _, r := range rows {
			if r["probe"] == probe {
				squares, df = squares+5*math.Pow(r.Num(t, "stddev_ohm_cm"), 2), df+5
				days[r["wafer"]+" "+r["run"]] = append(days[r["wafer"]+" "+r["run"]], r.Num(t, "average_ohm_cm"))
			}
		}
		var groups [][]float64
		for _, key := range sortedKeys(days) {
			groups = append(groups, days[key])
			runs[key[:3]] = append(runs[key[:3]], numeric.Mean(days[key]))
		}
		s1 := stats.Sigma{Value: math.Sqrt(squares / df), DF: df}
		s2, err := capability.WithinSubgroups(groups)
		require.NoError(t, err)
		groups = nil
		for _, wafer := range sortedKeys(runs) {
			groups = append(groups, runs[wafer])
			if probe == "2362" { // printed from deviations rounded to 4 decimals
				assert.InDelta(t, seen[wafer], math.Sqrt(numeric.Variance(runs[wafer])), 1e-4)
			}
		}
		s3, err := capability.WithinSubgroups(groups)
		require.NoError(t, err)
		for level, got := range map[string]stats.Sigma{"1": s1, "2": s2, "3": s3} {
			reference.Agrees(t, 9, reference.Row{"s": levels["s"+level].(string)}.Num(t, "s"), got.Value, probe, level)
			assert.EqualValues(t, levels["df"+level], got.DF, probe, level)
		}
	}
}

// Source: the same section's check standard (25 rows).
func TestCheckStandardStability(t *testing.T) {
	rows := reference.Table(t, "handbook/mpc62_checkstd.csv")
	s, err := stats.Summarize(reference.Column(t, rows, "check_std_ohm_cm"))
	require.NoError(t, err)
	reference.Agrees(t, 6, 97.06984, s.Mean)
	reference.Agrees(t, 5.5, 0.0267981, s.SD)
}
