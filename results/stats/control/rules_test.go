package control

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

var ruleOfReference = map[string]Rule{
	"beyond_3s": Beyond3, "two_of_three_2s": TwoOfThree2, "four_of_five_1s": FourOfFive1, "eight_run": EightOneSide,
	"nine_run": NineOneSide, "trend6": SixTrend, "alternating14": FourteenZig, "within_1s_15": FifteenIn1, "beyond_1s_8_mixed": EightOut1,
}

// Source: twelve series with the flagged places computed by hand and program.
func TestRulesFlagWhereTheyShould(t *testing.T) {
	var series map[string]struct {
		Z     []float64        `json:"z"`
		Flags map[string][]int `json:"flags_1_based"`
	}
	reference.JSON(t, "arl/run_rule_vectors.json", &series)
	require.Len(t, series, 12)
	for name, s := range series {
		require.Len(t, s.Flags, len(AllRules()))
		for rule, want := range s.Flags {
			got := []int{}
			for i, flags := range (Rules{ruleOfReference[rule]}).Flags(s.Z) {
				if len(flags) > 0 {
					got = append(got, i+1)
				}
			}
			assert.Equal(t, want, got, "%s %s", name, rule)
		}
	}
}

// Source: window probabilities, computed.
func TestRuleWindowProbabilities(t *testing.T) {
	names := map[string]Rule{
		"N1/WE1": Beyond3, "WE2/N5": TwoOfThree2, "WE3/N6": FourOfFive1, "WE4": EightOneSide, "N2": NineOneSide, "N3": SixTrend,
		"N4": FourteenZig, "N7": FifteenIn1, "N8 any side": EightOut1,
	}
	for _, r := range reference.Table(t, "arl/run_rule_window_probabilities.csv") {
		if rule, ours := names[r["rule"]]; ours {
			reference.Agrees(t, 13, r.Num(t, "probability_one_window_in_control_normal"), rule.WindowProbability(), r["rule"])
			delete(names, r["rule"])
		}
	}
	assert.Empty(t, names)
}

// Source: run lengths by exact chains, agreeing with Champ and Woodall 1987
// and with e-Handbook 6.3.2 (371 and 91.75).
func TestRunLengthOfRuleSets(t *testing.T) {
	sets := map[string]Rules{
		"1": {Beyond3}, "1+2": {Beyond3, TwoOfThree2}, "1+3": {Beyond3, FourOfFive1}, "1+4": {Beyond3, EightOneSide},
		"1+2+3": {Beyond3, TwoOfThree2, FourOfFive1}, "1+2+4": {Beyond3, TwoOfThree2, EightOneSide},
		"1+3+4": {Beyond3, FourOfFive1, EightOneSide}, "1+2+3+4 (Western Electric)": ZoneRules,
		"1+N2(9 run)": {Beyond3, NineOneSide}, "1+N2(9)+2of3+4of5 (Nelson 1,2,5,6)": {Beyond3, NineOneSide, TwoOfThree2, FourOfFive1},
		"2 alone": {TwoOfThree2}, "3 alone": {FourOfFive1}, "4 alone (8 run)": {EightOneSide}, "N2 alone (9 run)": {NineOneSide},
		"N7 alone (15 within 1 sigma)": {FifteenIn1},
	}
	for _, r := range reference.Table(t, "arl/run_rules_arl.csv") {
		set, ok := sets[r["rules"]]
		require.True(t, ok, r["rules"])
		got := set.RunLength(r.Num(t, "shift_sigma"))
		assert.Zero(t, got.StandardError)
		reference.Agrees(t, 8.5, r.Num(t, "arl"), got.Mean, r)
	}
	reference.Printed(t, 2, 0, 91.75, ZoneRules.RunLength(0).Mean)
	reference.Printed(t, 0, 0.3, 371, OnlyLimits.RunLength(0).Mean, "the handbook rounds 370.4 up")
}

// Source: computed, distribution-free; 8 hollow from the closed form of runs.
func TestRunLengthOfOtherRules(t *testing.T) {
	var want struct {
		Trend  map[string]float64 `json:"trend_rule_in_control_arl"`
		Zigzag map[string]float64 `json:"alternating_rule_in_control_arl"`
		Hollow float64            `json:"n8_any_side_arl"`
		Within float64            `json:"run_within_1sigma_15"`
	}
	reference.JSON(t, "arl/nelson_other_rules.json", &want)
	reference.Agrees(t, 11, want.Trend["6 points (Nelson 3)"], Rules{SixTrend}.RunLength(0).Mean)
	reference.Agrees(t, 11, want.Trend["7 points"], stepSystem{length: 7, nodes: numeric.Legendre(stepNodes, 0, 1)}.solve())
	reference.Agrees(t, 11, want.Zigzag["14 points (Nelson 4)"], Rules{FourteenZig}.RunLength(1).Mean)
	reference.Agrees(t, 11, want.Hollow, Rules{EightOut1}.RunLength(0).Mean)
	reference.Agrees(t, 11, want.Within, Rules{FifteenIn1}.RunLength(0).Mean)
}

// Source: p and 1/p of a 3-sigma chart of means of n, computed; a shift of
// the mean in sigmas of one value is sqrt(n) times that in sigmas of the mean.
func TestRunLengthOfLimitsAlone(t *testing.T) {
	for _, r := range reference.Table(t, "arl/shewhart_3sigma_arl.csv") {
		got := OnlyLimits.RunLength(r.Num(t, "shift_sigma") * math.Sqrt(r.Num(t, "n"))).Mean
		reference.Agrees(t, 11, r.Num(t, "arl"), got, r)
		reference.Agrees(t, 11, r.Num(t, "p_signal"), 1/got, r)
	}
}

// The chains held against play: 20000 runs each, five standard errors.
func TestRunLengthSimulated(t *testing.T) {
	for _, c := range []struct {
		name  string
		set   Rules
		shift float64
	}{
		{"zones in order", ZoneRules, 0},
		{"zones shifted", ZoneRules, 0.6},
		{"nine and limits", DefaultRules, 0.5},
		{"hugging and hollow", Rules{FifteenIn1, EightOut1, Beyond3}, 0},
		{"two of three", Rules{TwoOfThree2}, 1},
		{"trend", Rules{SixTrend}, 0},
		{"zigzag", Rules{FourteenZig}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			exact := c.set.RunLength(c.shift)
			played := c.set.SimulateRunLength(c.shift, 20_000, 7)
			assert.Zero(t, exact.StandardError)
			assert.InDelta(t, exact.Mean, played.Mean, 5*played.StandardError)
		})
	}
}

func TestRunLengthOfMixedSetsIsSimulatedAndSaysSo(t *testing.T) {
	got := Rules{Beyond3, SixTrend}.RunLength(0)
	assert.Positive(t, got.StandardError)
	assert.Less(t, got.StandardError/got.Mean, 0.015)
	alone := Rules{SixTrend}.RunLength(0).Mean
	assert.Less(t, got.Mean, min(alone, 370.4))
	assert.Equal(t, got, Rules{Beyond3, SixTrend}.RunLength(0), "same seed, same number")
}

func TestFalseAlarmWithinPoints(t *testing.T) {
	p, ok := OnlyLimits.FalseAlarm(25)
	require.True(t, ok)
	reference.Agrees(t, 12, 1-math.Pow(1-0.00269979606326019, 25), p)
	p, ok = Rules{NineOneSide}.FalseAlarm(9)
	require.True(t, ok)
	reference.Agrees(t, 13, NineOneSide.WindowProbability(), p)
	_, ok = Rules{SixTrend}.FalseAlarm(9)
	assert.False(t, ok)
	reference.Agrees(t, 9, 1/91.75077313, ZoneRules.RunLength(0).FalseAlarmRate())
}

func TestMoreRulesAlarmNoLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shift := rapid.Float64Range(-2, 2).Draw(t, "shift")
		set := Rules{Beyond3}
		before := set.RunLength(shift).Mean
		for _, r := range []Rule{TwoOfThree2, NineOneSide, EightOut1} {
			set = append(set, r)
			now := set.RunLength(shift).Mean
			assert.LessOrEqual(t, now, before*(1+1e-12))
			before = now
		}
	})
}

func TestParseRules(t *testing.T) {
	for _, set := range []Rules{OnlyLimits, ZoneRules, DefaultRules, AllRules()} {
		got, err := ParseRules(set.String())
		require.NoError(t, err)
		assert.Equal(t, set, got)
	}
	all, err := ParseRules("all")
	require.NoError(t, err)
	assert.Len(t, all, 9)
	_, err = ParseRules("beyond-3,beyond-4,sixes")
	assert.ErrorContains(t, err, `no such run rule: "beyond-4", "sixes"; there are beyond-3,`)
	for _, r := range AllRules() {
		assert.NotEmpty(t, r.Words())
		assert.False(t, strings.Contains(r.String(), " "))
	}
}

// Source: two-sided run lengths printed to three figures (Lucas and Crosier;
// Hawkins 1993), beside integral equations solved in float64 to ten. Their
// solver subtracts from one, so that a length of 1e10 has about six digits
// there and one near 1e16 none; those are checked below from outside.
func TestCusumRunLength(t *testing.T) {
	for _, r := range reference.Table(t, "arl/cusum_arl.csv") {
		k, h, shift := r.Num(t, "k"), r.Num(t, "h"), r.Num(t, "shift_sigma")
		reference.Agrees(t, 8.5, r.Num(t, "arl_two_sided"), CusumRunLength(k, h, shift), r)
		reference.Agrees(t, 8.5, r.Num(t, "arl_upper"), CusumRunLengthUpper(k, h, shift), r)
		if lower := r.Num(t, "arl_lower"); lower < 1e13 {
			reference.Agrees(t, min(8.5, 16-math.Log10(lower)), lower, CusumRunLengthUpper(k, h, -shift), r)
		}
		figure, target, _ := strings.Cut(r["arl_published"], " ")
		want, err := strconv.ParseFloat(figure, 64)
		require.NoError(t, err)
		slack := 0.006
		if target != "" { // h was chosen to two decimals so as to come near it
			slack = 0.02
		}
		assert.InEpsilon(t, want, CusumRunLength(k, h, shift), slack, r)
	}
}

// Far off target the sum alarms only by one jump, so that the run length comes
// close to 1/P(jump) from below: it must lie between that of a chart that
// alarms from anywhere in the sum, and that from nothing.
func TestCusumRunLengthFarOff(t *testing.T) {
	for _, shift := range []float64{-4, -5, -6} {
		got := CusumRunLengthUpper(0.5, 4, shift)
		oneJump := 1 / numeric.UpperTail(4.5-shift)
		assert.Less(t, got, oneJump)
		assert.Greater(t, got, oneJump/5)
	}
}

// Source: Lucas and Saccucci 1990, printed, beside the integral equation.
func TestEWMARunLength(t *testing.T) {
	for _, r := range reference.Table(t, "arl/ewma_arl.csv") {
		e := EWMA{Lambda: r.Num(t, "lambda_"), L: r.Num(t, "L"), Sigma: 1}
		got := e.RunLength(r.Num(t, "shift_sigma"))
		reference.Agrees(t, 8.5, r.Num(t, "arl_zero_state"), got, r)
		if r["arl_published_lucas_saccucci"] != "" {
			want := r.Num(t, "arl_published_lucas_saccucci")
			assert.InDelta(t, want, got, max(0.051, 0.006*want), r)
		}
	}
	for _, r := range reference.Table(t, "arl/ewma_arl_time_varying_limits.csv") {
		e := EWMA{Lambda: r.Num(t, "lambda_"), L: r.Num(t, "L"), Sigma: 1}
		shift := r.Num(t, "shift_sigma")
		reference.Agrees(t, 8.5, r.Num(t, "arl_constant_limits"), e.RunLength(shift), r)
		e.Widening = true
		reference.Agrees(t, 8.5, r.Num(t, "arl_time_varying_limits"), e.RunLength(shift), r)
	}
}
